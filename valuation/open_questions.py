"""What nobody verified costs width of the band: which input how much, so that the dearest doubt is looked at first."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from valuation.comparables import part_names
from valuation.design import Expanded
from valuation.model import Answers, PriceModel
from valuation.reading import Array, Table

Rows = NDArray[np.bool_]


# What is read from inside the model: the only lines to change when the model does.


def _doubts(model: PriceModel, *, table: Table) -> tuple[Array, dict[str, Array]]:
    """Variance of log price with every input known; and, by input, what its doubt adds, NaN where there is none."""
    certain = np.zeros(table.size)
    doubts: dict[str, Array] = {}
    for rows, piece in model.design_.pieces(table):
        certain[rows] = model.additive_.variance(Expanded(piece.matrix, (), ()))
        for name, where, alone in _one_by_one(model, piece=piece):
            added = alone.doubt(model.additive_.weights, variances=model.additive_.strengths.blocks)
            column = doubts.setdefault(name, np.full(table.size, np.nan))
            column[rows] = np.where(where, added, column[rows])
    return certain, doubts


def _one_by_one(model: PriceModel, *, piece: Expanded) -> Iterator[tuple[str, Rows, Expanded]]:
    """The same rows with one doubt at a time: its input, the rows that have it, and they."""
    starts = {term.start: term.name for term in model.design_.numbers}
    for cloud in piece.clouds:
        where = np.zeros(len(piece.matrix), dtype=bool)
        where[cloud.rows] = True
        yield starts[cloud.columns.start], where, Expanded(piece.matrix, (cloud,), ())
    for block, where in piece.absent:
        yield model.design_.blocks[block].name, where, Expanded(piece.matrix, (), ((block, where),))


def _ends(model: PriceModel, *, table: Table, found: Answers) -> dict[str, tuple[Array, Array]]:
    """Log price at the worst and the best end, by the interval that is shut ("" for none)."""
    ends = {"": (found.bottom, found.top)}
    for name, (worst, best) in model.design_.swings(table, weights=model.additive_.weights).items():
        ends[name] = (found.bottom - worst, found.top - best)
    return ends


def _as_if_seen(model: PriceModel, *, table: Table, names: Iterable[str]) -> Table:
    """The same vehicles with some nested categories replaced by any that the history knows."""
    known = {name: next(iter(model.seen_.here[name]), "") for name in names}
    return replace(table, words={**table.words, **{n: _everywhere(word, table=table) for n, word in known.items()}})


def _everywhere(word: str, *, table: Table) -> NDArray[np.object_]:
    return np.full(table.size, word, dtype=object)


# The rest asks the lines above and the model's verdict, reach and rounding.


def band_widths(model: PriceModel, frame: pd.DataFrame) -> pd.DataFrame:
    """Which inputs widen the band, and by how much money.

    Parameters
    ----------
    model : fitted
    frame : one row per vehicle with the columns of every role

    Returns
    -------
    On the frame's index, in currency units, all 0 or more: `width`, high less low of `band` as it is;
    `least_width`, with every input known; then one column per input that the model uses: how much narrower the
    band would be if this input alone were known, NaN where it is known. `width` is NaN where there is no band, and
    so are the inputs; `least_width` is NaN where knowing all would not make one either.

    Raises
    ------
    NotFitted
        The model is not fitted.
    BadInput
        A column is missing or cannot be read.

    Notes
    -----
    An input is in doubt where a number is missing, a rising input is an interval, or a category is missing or was
    never seen. Known means: a missing number without its variance and an interval at its middle, so that the likely
    price stays as it is; a category without the variance of its block and, for a nested one, with the errors of
    folds that did not hold it out where these reach less far.

    What knowing would not narrow shows 0. Each input is taken alone: the columns do not add up to `width` less
    `least_width`, since variances add up and widths do not. What an input turns out to be moves the likely price,
    up or down, beside narrowing the band.

    Source: own derivation.

    Examples
    --------
    >>> sales = pd.DataFrame({"make": ["Merrow", "Tarn"] * 10, "grade": [5.0 * g for g in range(20)]})
    >>> price = [20_000 * (1 + (i % 2)) * 1.03 ** i * (1 + 0.01 * (i % 3)) for i in range(20)]
    >>> model = PriceModel(nested=("make",), rising=("grade",), date=None).fit(sales, price)
    >>> subjects = pd.DataFrame({"make": "Tarn", "grade_low": [40.0, 50.0], "grade_high": [60.0, 50.0]})
    >>> widths = band_widths(model, subjects)
    >>> widths["grade"].gt(0).tolist(), widths["least_width"].lt(widths["width"]).tolist()
    ([True, False], [True, False])
    """
    table = model._read(frame)
    case = _look(model, table=table)
    width = case.width()
    columns = {"width": width, "least_width": case.least()}
    for name in part_names(model):
        columns[name] = np.full(table.size, np.nan)
        asked = case.asks(name)
        if asked.any():
            columns[name][asked] = (width - case.width_knowing(name))[asked]
    unit = 10**model.decimals
    return pd.DataFrame({name: minor / unit for name, minor in columns.items()}, index=frame.index)


def _look(model: PriceModel, *, table: Table) -> "_Case":
    found = model._answers(table)
    ends = _ends(model, table=table, found=found)
    return _Case(model, table, found, ends, *_doubts(model, table=table), model._reach(table))


@dataclass(frozen=True)
class _Case:
    """The vehicles of one call. `ends` by the interval that is shut, "" for none; widths are in minor units."""

    model: PriceModel
    table: Table
    found: Answers
    ends: dict[str, tuple[Array, Array]]
    certain: Array
    doubts: dict[str, Array]
    reach: tuple[Array, Array]

    def asks(self, name: str) -> Rows:
        """Where an input is in doubt."""
        rows = ~np.isnan(self.doubts[name]) if name in self.doubts else np.zeros(self.table.size, dtype=bool)
        if name in self.table.low:
            rows = rows | (self.table.low[name] < self.table.high[name])
        return rows

    def width(self) -> Array:
        """As the band is; NaN where there is none."""
        enough, _ = self.model._verdict(self.table, sd=self.found.sd)
        return np.where(enough, self._width(*self.ends[""], reach=self.reach, sd=self.found.sd), np.nan)

    def width_knowing(self, name: str) -> Array:
        """Were one input known."""
        others = [np.nan_to_num(added) for other, added in self.doubts.items() if other != name]
        sd = np.sqrt(sum(others, self.certain))
        return self._width(*self.ends.get(name, self.ends[""]), reach=self._reach_seeing([name]), sd=sd)

    def least(self) -> Array:
        """Were every input known; NaN where even that would make no band."""
        names, sd = self.model.design_.roles.nested, np.sqrt(self.certain)
        enough, _ = self.model._verdict(_as_if_seen(self.model, table=self.table, names=names), sd=sd)
        width = self._width(self.found.middle, self.found.middle, reach=self._reach_seeing(names), sd=sd)
        return np.where(enough, width, np.nan)

    def _reach_seeing(self, names: Iterable[str]) -> tuple[Array, Array]:
        nested = [name for name in names if name in self.model.design_.roles.nested and self.asks(name).any()]
        if not nested:
            return self.reach
        below, above = self.model._reach(_as_if_seen(self.model, table=self.table, names=nested))
        return np.fmin(self.reach[0], below), np.fmin(self.reach[1], above)

    def _width(self, bottom: Array, top: Array, *, reach: tuple[Array, Array], sd: Array) -> Array:
        below, above = (self.found.factor * side for side in reach)
        out: Array = self.model._minor(top + above * sd) - self.model._minor(bottom - below * sd)
        return out
