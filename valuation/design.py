"""From a table to a matrix: the columns of the additive model, in blocks that are shrunk together."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from valuation.basis import Basis, Line, Rising, Smooth, make_line, make_rising, make_smooth
from valuation.elsewhere import ANYWHERE, APART, KIND
from valuation.missing import NODE_WEIGHTS, Guess, Joint, learn_joint
from valuation.reading import Array, Roles, Table
from valuation.together import Together, make_together

BASE = "base"
TOGETHER = "together"
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

    @property
    def columns(self) -> slice:
        return slice(self.start, self.start + len(self.keys))

    def codes(self, table: Table) -> Index:
        """Number of the value in `keys`; -1 where it is missing or was never seen."""
        numbers = self._numbers
        return np.array([numbers.get(word, -1) for word in table.words[self.name]], dtype=np.intp)

    @cached_property
    def _numbers(self) -> dict[str, int]:
        return {key: number for number, key in enumerate(self.keys)}


@dataclass(frozen=True)
class GapTerm:
    """1 where the number is missing: books lose some facts more often of cheap vehicles than of dear ones."""

    name: str
    start: int


@dataclass(frozen=True)
class TogetherTerm:
    """Numbers, in units of their spread, and categories, a coordinate for each value, that act in combination."""

    start: int
    numbers: tuple[str, ...]
    mean: Array
    sd: Array
    low: Array
    high: Array
    levels: tuple[LevelTerm, ...]
    basis: Together

    @property
    def columns(self) -> slice:
        return slice(self.start, self.start + self.basis.width)

    def points(self, table: Table, *, filled: dict[str, Array]) -> Array:
        """Coordinates of each vehicle; a missing number counts with its expected value, a category without as none."""
        raw = np.column_stack([filled[name] for name in self.numbers] or [np.empty((table.size, 0))])
        held = (np.clip(raw, self.low, self.high) - self.mean) / self.sd
        return np.column_stack([held, *(one_hot(term.codes(table), width=len(term.keys)) for term in self.levels)])


@dataclass(frozen=True)
class Cloud:
    """The columns of one term at each value a missing number may have had: shape (nodes, rows, width)."""

    columns: slice
    rows: Index
    values: Array


@dataclass(frozen=True)
class Mixed:
    """A category that is not said of some sales elsewhere: each counts as a mixture of the lot's own."""

    columns: slice
    rows: Index
    shares: Array


@dataclass(frozen=True)
class Expanded:
    """The matrix of some rows, and what is not known about them."""

    matrix: Array
    clouds: tuple[Cloud, ...]
    absent: tuple[tuple[int, Rows], ...]
    mixed: tuple[Mixed, ...] = ()

    def doubt(self, weights: Array, *, variances: Array) -> Array:
        """Variance of log price, per row, from missing numbers and from categories without an effect."""
        total = np.zeros(len(self.matrix))
        for cloud in self.clouds:
            effect = cloud.values @ weights[cloud.columns]
            middle = NODE_WEIGHTS @ effect
            total[cloud.rows] += NODE_WEIGHTS @ (effect - middle) ** 2
        for block, rows in self.absent:
            total += np.where(rows, variances[block], 0.0)
        for term in self.mixed:
            effect = weights[term.columns]
            total[term.rows] += term.shares @ effect**2 - (term.shares @ effect) ** 2
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
    together: TogetherTerm | None = None
    apart: tuple[LevelTerm, ...] = ()  # where a sale elsewhere stands: a sale of the lot has none of these columns
    usual: tuple[Array, ...] = ()  # shares of each factor's values among the lot's own sales, in the order of `levels`

    @property
    def width(self) -> int:
        return len(self.parts)

    def expand(self, table: Table) -> Expanded:
        """The matrix, shape (rows, width), and the doubts about it."""
        matrix = np.zeros((table.size, self.width))
        matrix[:, 0] = 1.0
        guesses = self.joint.guesses(table)
        filled = {name: _filled(table.numbers[name], guess=guesses.get(name)) for name in self.joint.names}
        clouds = self._fill_numbers(table, matrix=matrix, filled=filled, guesses=guesses)
        here = np.ones(table.size, dtype=bool) if KIND not in table.words else table.words[KIND] == ""
        absent, mixed = self._fill_levels(table, matrix=matrix, here=here)
        if not here.all():
            absent += self._fill_apart(table, matrix=matrix, here=here)
        for gap in self.gaps:  # what a lot's book leaves out tells something; what is told of a sale elsewhere does not
            matrix[:, gap.start] = np.isnan(table.numbers[gap.name]) & here
        if self.together is not None:
            points = self.together.points(table, filled=filled)
            matrix[:, self.together.columns] = self.together.basis.columns(points)
        return Expanded(matrix, tuple(clouds), tuple(absent), tuple(mixed))

    def _fill_numbers(
        self, table: Table, *, matrix: Array, filled: dict[str, Array], guesses: dict[str, Guess]
    ) -> list[Cloud]:
        clouds = []
        for term in self.numbers:
            applies = term.applies(table)
            matrix[:, term.columns] = np.where(applies[:, None], term.basis.columns(filled[term.name]), 0.0)
            guess = guesses.get(term.name)
            if guess is not None:
                used = applies[guess.rows]
                cloud = Cloud(term.columns, guess.rows[used], term.basis.columns(guess.cloud()[:, used]))
                matrix[cloud.rows, term.columns] = np.tensordot(NODE_WEIGHTS, cloud.values, axes=1)
                clouds.append(cloud)
        return clouds

    def swings(self, table: Table, *, weights: Array) -> dict[str, tuple[Array, Array]]:
        """What each interval may add to log price at its worse and at its better end, at most 0 and at least 0.

        A freed effect may fall: then the better end is the lower one.
        """
        out: dict[str, tuple[Array, Array]] = {}
        for term in self.numbers:
            if term.name not in self.roles.rising:
                continue
            open_rows = np.flatnonzero(term.applies(table) & (table.low[term.name] < table.high[term.name]))
            worst, best = out.setdefault(term.name, (np.zeros(table.size), np.zeros(table.size)))
            effect = weights[term.columns]
            at = [
                term.basis.columns(values[open_rows]) @ effect
                for values in (table.numbers[term.name], table.low[term.name], table.high[term.name])
            ]
            moved = np.stack([np.zeros(len(open_rows)), at[1] - at[0], at[2] - at[0]])
            worst[open_rows], best[open_rows] = moved.min(axis=0), moved.max(axis=0)
        return out

    def _fill_levels(self, table: Table, *, matrix: Array, here: Rows) -> tuple[list[tuple[int, Rows]], list[Mixed]]:
        absent, mixed = [], []
        for number, term in enumerate(self.levels):
            codes = term.codes(table)
            seen = np.flatnonzero(codes >= 0)
            matrix[seen, term.start + codes[seen]] = 1.0
            unknown = codes < 0
            if self.usual and self.usual[number].any():
                unsaid = np.flatnonzero(unknown & ~here & (table.words[term.name] == ""))
                matrix[unsaid, term.columns] = self.usual[number]
                mixed.append(Mixed(term.columns, unsaid, self.usual[number]))
                unknown[unsaid] = False
            if unknown.any():
                absent.append((self.block_of(term.name), unknown))
        return absent, mixed

    def _fill_apart(self, table: Table, *, matrix: Array, here: Rows) -> list[tuple[int, Rows]]:
        """Set the columns of where each sale elsewhere was; what was never seen is in doubt."""
        absent = []
        for term in self.apart:
            codes = term.codes(table)
            seen = np.flatnonzero(codes >= 0)
            matrix[seen, term.start + codes[seen]] = 1.0
            strange = (codes < 0) & ~here
            if strange.any():
                block = next(number for number, block in enumerate(self.blocks) if block.start == term.start)
                absent.append((block, strange))
        return absent

    @property
    def apart_columns(self) -> list[int]:
        """The columns that only sales elsewhere have."""
        return [column for column, part in enumerate(self.parts) if part == ANYWHERE]

    def block_of(self, name: str) -> int:
        """Number of the block of one category."""
        return next(number for number, block in enumerate(self.blocks) if (block.kind, block.name) == ("level", name))

    def pieces(self, table: Table) -> Iterator[tuple[slice, Expanded]]:
        """The expanded rows in slices of `CHUNK`."""
        for start in range(0, table.size, CHUNK):
            rows = slice(start, start + CHUNK)
            yield rows, self.expand(table.take(rows))


def one_hot(codes: Index, *, width: int) -> Array:
    """Shape (rows, width): 1 in the column of the code, nothing where it is -1."""
    out = np.zeros((len(codes), width))
    seen = np.flatnonzero(codes >= 0)
    out[seen, codes[seen]] = 1.0
    return out


def _filled(values: Array, *, guess: Guess | None) -> Array:
    if guess is None:
        return values
    out = values.copy()
    out[guess.rows] = guess.mean
    return out


class _Builder:
    """Lays blocks side by side."""

    def __init__(self, table: Table, *, roles: Roles, bends: bool) -> None:
        self.table, self.roles, self.bends = table, roles, bends
        self.blocks: list[Block] = [Block(BASE, BASE, 0, 1)]
        self.parts: list[str] = [BASE]
        self.numbers: list[NumberTerm] = []
        self.levels: list[LevelTerm] = []
        self.gaps: list[GapTerm] = []
        self.apart: list[LevelTerm] = []
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

    def add_apart(self) -> None:
        """What all sales elsewhere share, then kinds, sources and makes where there are several to tell apart."""
        for name, kind in APART.items():
            keys = tuple(sorted({str(word) for word in self.table.words.get(name, [])} - {""}))
            if keys and (name == ANYWHERE or len(keys) > 1):
                start = self.block(kind, name=name, parts=[ANYWHERE] * len(keys))
                self.apart.append(LevelTerm(name, start, keys))

    def usual(self) -> tuple[Array, ...]:
        """Shares of each factor's values among the lot's own sales; none of makes and models, which prices hang on."""
        if not self.apart:
            return ()
        here = self.table.words[KIND] == ""
        found = []
        for term in self.levels:
            codes = term.codes(self.table)[here]
            counts = np.bincount(codes[codes >= 0], minlength=len(term.keys)).astype(np.float64)
            kept = counts.sum() > 0 and term.name not in self.roles.nested
            found.append(counts / counts.sum() if kept else np.zeros(len(term.keys)))
        return tuple(found)

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

    def add_together(self, joint: Joint) -> TogetherTerm | None:
        """All inputs at once, but those that rise only (the combination may lower a price) and the flags."""
        names = tuple(n for n in joint.names if n not in self.roles.rising and n not in self.roles.flags)
        if len(names) + len(self.levels) < 2:
            return None
        bases = [term.basis for name in names for term in self.numbers if term.name == name]
        smooths = [basis for basis in bases if isinstance(basis, Smooth)]
        mean, sd, low, high = np.array([(b.mean, b.sd, b.low, b.high) for b in smooths]).reshape(-1, 4).T
        empty = Together(1.0, np.empty((0, 0)), np.empty((0, 0)))
        bare = TogetherTerm(0, names, mean, sd, low, high, tuple(self.levels), empty)
        guesses = joint.guesses(self.table)
        filled = {name: _filled(self.table.numbers[name], guess=guesses.get(name)) for name in names}
        basis = make_together(bare.points(self.table, filled=filled), inputs=len(names) + len(self.levels))
        start = self.block(TOGETHER, name=TOGETHER, parts=[TOGETHER] * basis.width)
        return replace(bare, start=start, basis=basis)

    def partly_missing(self, name: str) -> bool:
        gaps = np.isnan(self.table.numbers[name])
        if KIND in self.table.words:
            gaps = gaps[self.table.words[KIND] == ""]
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
    builder.add_apart()
    used = {term.name for term in builder.numbers}
    joint = learn_joint(
        table,
        correlated=tuple(n for n in roles.numbers if n in used and n not in (*roles.rising, *roles.flags)),
        rising=tuple(name for name in roles.rising if name in used),
        alone=tuple(name for name in roles.flags if name in used),
    )
    together = builder.add_together(joint) if bends else None
    return Design(
        roles,
        tuple(builder.blocks),
        tuple(builder.numbers),
        tuple(builder.levels),
        tuple(builder.gaps),
        tuple(builder.parts),
        joint,
        tuple(builder.notes),
        together,
        tuple(builder.apart),
        builder.usual(),
    )
