"""From a table to a matrix: the columns of the additive model, in blocks that are shrunk together."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from valuation.basis import Basis, Line, Rising, make_line, make_rising, make_smooth
from valuation.missing import NODE_WEIGHTS, Joint, learn_joint
from valuation.reading import Array, Roles, Table

BASE = "base"
CHUNK = 4096  # rows of the matrix that exist at once while a large history is fitted
Rows = NDArray[np.bool_]
Index = NDArray[np.intp]


@dataclass(frozen=True)
class Block:
    """Columns that share one variance. `rising`: they carry ramps whose slopes may not be negative."""

    kind: str
    name: str
    start: int
    width: int
    rising: bool = False

    @property
    def columns(self) -> slice:
        return slice(self.start, self.start + self.width)


@dataclass(frozen=True)
class NumberTerm:
    """One numeric input. It counts only where `words[column] == value` is `holds`, when `only` is given."""

    name: str
    start: int
    basis: Basis
    only: tuple[str, str, bool] | None = None

    @property
    def columns(self) -> slice:
        return slice(self.start, self.start + sum(self.basis.widths))

    def applies(self, table: Table) -> Rows:
        if self.only is None:
            return np.ones(table.size, dtype=bool)
        column, value, holds = self.only
        rows: Rows = (table.words[column] == value) == holds
        return rows


@dataclass(frozen=True)
class LevelTerm:
    """One category, a column for each value seen."""

    name: str
    start: int
    keys: tuple[str, ...]

    def codes(self, table: Table) -> Index:
        """Number of the value in `keys`; -1 where it is missing or was never seen."""
        return pd.Index(self.keys, dtype=object).get_indexer(pd.Index(table.words[self.name], dtype=object))


@dataclass(frozen=True)
class GapTerm:
    """1 where the number is missing: books lose some facts more often of cheap vehicles than of dear ones."""

    name: str
    start: int


@dataclass(frozen=True)
class Cloud:
    """The columns of one term at each value a missing number may have had: shape (nodes, rows, width)."""

    columns: slice
    rows: Index
    values: Array


@dataclass(frozen=True)
class Expanded:
    """The matrix of some rows, and what is not known about them."""

    matrix: Array
    clouds: tuple[Cloud, ...]
    absent: tuple[tuple[int, Rows], ...]

    def doubt(self, weights: Array, *, variances: Array) -> Array:
        """Variance of log price, per row, from missing numbers and from categories without an effect."""
        total = np.zeros(len(self.matrix))
        for cloud in self.clouds:
            effect = cloud.values @ weights[cloud.columns]
            middle = NODE_WEIGHTS @ effect
            total[cloud.rows] += NODE_WEIGHTS @ (effect - middle) ** 2
        for block, rows in self.absent:
            total += np.where(rows, variances[block], 0.0)
        return total


@dataclass(frozen=True)
class Design:
    """The columns of the model: learnt from the inputs of the history, never from its prices."""

    roles: Roles
    blocks: tuple[Block, ...]
    numbers: tuple[NumberTerm, ...]
    levels: tuple[LevelTerm, ...]
    gaps: tuple[GapTerm, ...]
    parts: tuple[str, ...]
    joint: Joint
    notes: tuple[str, ...]

    @property
    def width(self) -> int:
        return len(self.parts)

    def expand(self, table: Table) -> Expanded:
        """The matrix, shape (rows, width), and the doubts about it."""
        matrix = np.zeros((table.size, self.width))
        matrix[:, 0] = 1.0
        clouds = self._fill_numbers(table, matrix=matrix)
        absent = self._fill_levels(table, matrix=matrix)
        for gap in self.gaps:
            matrix[:, gap.start] = np.isnan(table.numbers[gap.name])
        return Expanded(matrix, tuple(clouds), tuple(absent))

    def _fill_numbers(self, table: Table, *, matrix: Array) -> list[Cloud]:
        guesses = self.joint.guesses(table)
        clouds = []
        for term in self.numbers:
            x = table.numbers[term.name]
            applies = term.applies(table)
            guess = guesses.get(term.name)
            filled = x
            if guess is not None:
                filled = x.copy()
                filled[guess.rows] = guess.mean
            matrix[:, term.columns] = np.where(applies[:, None], term.basis.columns(filled), 0.0)
            if guess is not None:
                used = applies[guess.rows]
                cloud = Cloud(term.columns, guess.rows[used], term.basis.columns(guess.cloud()[:, used]))
                matrix[cloud.rows, term.columns] = np.tensordot(NODE_WEIGHTS, cloud.values, axes=1)
                clouds.append(cloud)
        return clouds

    def moved(self, rows: Expanded, *, table: Table) -> Expanded:
        """The same vehicles with other values of the rising inputs: only those columns are laid out again."""
        matrix = rows.matrix.copy()
        for term in self.numbers:
            x = table.numbers[term.name]
            if term.name in self.roles.rising:
                here = np.flatnonzero(term.applies(table) & ~np.isnan(x))
                matrix[here, term.columns] = term.basis.columns(x[here])
        return Expanded(matrix, rows.clouds, rows.absent)

    def _fill_levels(self, table: Table, *, matrix: Array) -> list[tuple[int, Rows]]:
        absent = []
        for term in self.levels:
            codes = term.codes(table)
            seen = np.flatnonzero(codes >= 0)
            matrix[seen, term.start + codes[seen]] = 1.0
            if len(seen) < table.size:
                absent.append((self.block_of(term.name), codes < 0))
        return absent

    def block_of(self, name: str) -> int:
        """Number of the block of one category."""
        return next(number for number, block in enumerate(self.blocks) if (block.kind, block.name) == ("level", name))

    def pieces(self, table: Table) -> Iterator[tuple[slice, Expanded]]:
        """The expanded rows in slices of `CHUNK`."""
        for start in range(0, table.size, CHUNK):
            rows = slice(start, start + CHUNK)
            yield rows, self.expand(table.take(rows))


class _Builder:
    """Lays blocks side by side."""

    def __init__(self, table: Table, *, roles: Roles, bends: bool) -> None:
        self.table, self.roles, self.bends = table, roles, bends
        self.blocks: list[Block] = [Block(BASE, BASE, 0, 1)]
        self.parts: list[str] = [BASE]
        self.numbers: list[NumberTerm] = []
        self.levels: list[LevelTerm] = []
        self.gaps: list[GapTerm] = []
        self.notes: list[str] = []

    def block(self, kind: str, *, name: str, parts: list[str], rising: bool = False) -> int:
        start = len(self.parts)
        self.blocks.append(Block(kind, name, start, len(parts), rising))
        self.parts.extend(parts)
        return start

    def useful(self, name: str) -> Array | None:
        """The known values of a column, or nothing (and a note) where they cannot tell anything."""
        values = self.table.numbers[name]
        known: Array = values[~np.isnan(values)]
        if not len(known):
            self.notes.append(f"{name} is missing in every sale: it is not used")
            return None
        if known.min() == known.max():
            self.notes.append(f"{name} is the same in every sale that states it: it is not used")
            return None
        return known

    def add_level(self, name: str) -> None:
        keys = tuple(sorted({str(word) for word in self.table.words[name]} - {""}))
        if not keys:
            self.notes.append(f"{name} is missing in every sale: it is not used")
            return
        self.levels.append(LevelTerm(name, self.block("level", name=name, parts=[name] * len(keys)), keys))

    def add_number(self, name: str, *, kind: str, basis: Basis, only: tuple[str, str, bool] | None = None) -> None:
        rising = isinstance(basis, Rising)
        starts = [
            self.block(f"{kind}-{place}", name=name, parts=[name] * width, rising=rising)
            for place, width in zip(("line", "bend"), basis.widths, strict=False)
        ]
        self.numbers.append(NumberTerm(name, starts[0], basis, only))

    def add_rising(self, name: str) -> None:
        known = self.useful(name)
        if known is None:
            return
        exceptions = [(column, value) for freed, column, value in self.roles.freed if freed == name]
        only = (exceptions[0][0], exceptions[0][1].strip().casefold()) if exceptions else None
        self.add_number(
            name, kind="rising", basis=make_rising(known, bends=self.bends), only=(*only, False) if only else None
        )
        if only:
            self.add_number(name, kind="freed", basis=make_line(known), only=(*only, True))

    def add_flags(self) -> None:
        """All flags share one variance: how much a modification matters is learnt from all kinds."""
        gone = [name for name in self.roles.flags if np.isnan(self.table.numbers[name]).all()]
        self.notes.extend(f"{name} is missing in every sale: it is not used" for name in gone)
        kept = [name for name in self.roles.flags if name not in gone]
        if not kept:
            return
        start = self.block("flags", name="flags", parts=kept)
        for place, name in enumerate(kept):
            values = self.table.numbers[name]
            ends = (min(0.0, float(np.nanmin(values))), max(1.0, float(np.nanmax(values))))
            self.numbers.append(NumberTerm(name, start + place, Line(0.0, 1.0, *ends)))

    def add_gaps(self) -> None:
        names = [name for name in self.roles.numbers if name not in self.roles.flags and self.partly_missing(name)]
        if names:
            start = self.block("gaps", name="gaps", parts=names)
            self.gaps = [GapTerm(name, start + place) for place, name in enumerate(names)]

    def partly_missing(self, name: str) -> bool:
        gaps = np.isnan(self.table.numbers[name])
        return bool(gaps.any() and not gaps.all())


def make_design(table: Table, *, roles: Roles, bends: bool) -> Design:
    """Lay out the columns for a history.

    Parameters
    ----------
    table : the inputs of the sales, shape (n_sales,)
    bends : whether numeric inputs may bend; without, each is one straight line
    """
    builder = _Builder(table, roles=roles, bends=bends)
    for name in roles.words:
        builder.add_level(name)
    ends = ((name, name == roles.date) for name in (*roles.smooth, *((roles.date,) if roles.date else ())))
    for name, endless in ends:
        known = builder.useful(name)
        if known is not None:
            builder.add_number(name, kind="smooth", basis=make_smooth(known, endless=endless, bends=bends))
    for name in roles.rising:
        builder.add_rising(name)
    builder.add_flags()
    builder.add_gaps()
    used = {term.name for term in builder.numbers}
    joint = learn_joint(
        table,
        correlated=tuple(n for n in roles.numbers if n in used and n not in (*roles.rising, *roles.flags)),
        rising=tuple(name for name in roles.rising if name in used),
        alone=tuple(name for name in roles.flags if name in used),
    )
    return Design(
        roles,
        tuple(builder.blocks),
        tuple(builder.numbers),
        tuple(builder.levels),
        tuple(builder.gaps),
        tuple(builder.parts),
        joint,
        tuple(builder.notes),
    )
