"""How a model would have done: fitted on what was known, held against the sale that came next, again and again."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from sklearn.base import clone

from valuation.elsewhere import Elsewhere, before
from valuation.errors import BadInput, BadOption
from valuation.metrics import Coverage, RatioStudy, coverage, interval_score, prd_interval, ratio_study
from valuation.reading import Array, date_column, price_column

Progress = Callable[[int, int], None]
Index = NDArray[np.intp]
USUAL_COVERAGE = 0.80  # of an estimator that does not state one
ENDS = ("low", "likely", "high")


@dataclass(frozen=True)
class BacktestSummary:
    """A back-test in figures.

    Attributes
    ----------
    count : sales that were predicted
    hit_rate : share of them that got an estimate at all
    stated : the coverage the bands were meant to have
    coverage : what they had, of the sales with a band; None where there was none
    ratios : the ratio study of the estimates; None of fewer than two
    median_error : median of |likely / actual - 1|; NaN where there is no estimate
    interval_score : mean interval score on log price; NaN where there is no band
    prd_low, prd_high : bootstrap interval of the PRD; NaN where there is no ratio study
    """

    count: int
    hit_rate: float
    stated: float
    coverage: Coverage | None
    ratios: RatioStudy | None
    median_error: float
    interval_score: float
    prd_low: float
    prd_high: float


@dataclass(frozen=True)
class Backtest:
    """Every sale that was predicted, in the order of time, with the prediction made before it.

    Attributes
    ----------
    frame : on the index of the input. `block` counts from 0; `fitted_on` is how many sales were known; `date`;
        `actual`, `low`, `likely` and `high` in currency units (NaN where there was no estimate or no band);
        `inside` tells whether the price fell inside the band, ends included; `ratio` is likely / actual and
        `error` is ratio - 1
    stated : the coverage the bands were meant to have
    """

    frame: pd.DataFrame
    stated: float

    def summary(self) -> BacktestSummary:
        """The figures over all sales that were predicted.

        Returns
        -------
        Shares and ratios as pure numbers, COD in percent. The bootstrap of the PRD draws 1,000 times with a
        fixed seed: the same sales give the same interval.

        Notes
        -----
        Coverage and interval score are over the sales with a band, the ratio study over those with an
        estimate; `hit_rate` tells how many were left out, so that a model cannot look good by keeping silent.
        Source: `coverage`, `ratio_study`, `interval_score`, `prd_interval` name theirs.

        Examples
        --------
        >>> past = Backtest(pd.DataFrame({"actual": [10.0, 20.0], "low": [9.0, 9.0], "likely": [10.0, 10.0],
        ...                               "high": [11.0, 11.0], "error": [0.0, -0.5]}), stated=0.80)
        >>> found = past.summary()
        >>> found.coverage.inside, found.hit_rate, found.median_error
        (1, 1.0, 0.25)
        """
        told = self.frame[self.frame["likely"].notna()]
        banded = self.frame[self.frame["low"].notna() & self.frame["high"].notna()]
        actual, logs = banded["actual"], banded[["low", "high", "actual"]].apply(np.log)
        several, any_band = len(told) > 1, len(banded) > 0
        score = _score(logs, stated=self.stated) if any_band else float("nan")
        prd = prd_interval(told["likely"], told["actual"]) if several else (np.nan, np.nan)
        return BacktestSummary(
            count=len(self.frame),
            hit_rate=len(told) / len(self.frame),
            stated=self.stated,
            coverage=coverage(actual, low=banded["low"], high=banded["high"]) if any_band else None,
            ratios=ratio_study(told["likely"], told["actual"]) if several else None,
            median_error=float(told["error"].abs().median()),
            interval_score=score,
            prd_low=prd[0],
            prd_high=prd[1],
        )


def backtest(
    model: Any,
    frame: pd.DataFrame,
    price: Any,
    *,
    date: str,
    start: int,
    step: int,
    until: int | None = None,
    elsewhere: Elsewhere | None = None,
    progress: Progress | None = None,
) -> Backtest:
    """Predict each block of sales from the sales before it, never looking ahead.

    Parameters
    ----------
    model : a `PriceModel`, or any scikit-learn estimator whose fit(frame, price) and predict(frame) take the
        frame and answer in currency units. With a method `band(frame)` that answers columns low, likely and
        high there are bands, else only estimates. It is cloned for every fit and left as it is; its parameter
        `coverage` is taken for the stated one (0.80 where it has none)
    frame : one row per sale, with the columns that the model reads and the column of dates
    price : selling prices in currency units, shape (n_sales,), each positive
    date : name of the column of sale dates, none of them missing
    start : how many sales, in the order of time, come before the first block, at least 1
    step : sales per block, at least 1: the model is fitted again for each block
    until : stop after this many sales in the order of time; None for all
    elsewhere : sales that were not the lot's own, for a `PriceModel`: none of them is predicted, and each fit takes
        those of the days before its block
    progress : called with (blocks done, blocks in all) before the first and after each block

    Returns
    -------
    One row per sale from the `start`-th on, in the order of time.

    Raises
    ------
    BadInput
        A date is missing or is none, a price is not positive, no sale is left to predict, or no sale is older
        than the first block. What the model itself refuses is passed on.
    BadOption
        `start` or `step` is below 1, or `until` is not above `start`.

    Notes
    -----
    Rolling origin: a block is fitted on the sales of the days strictly before the day of its first sale; a
    sale of that same day is not known yet, so that `fitted_on` may be below the block's place. Sales of one
    day are ordered by a hash of their content, then by price: the order of the rows changes nothing.

    Figures so made depend on no sale after the one predicted. They say how the procedure did on this history,
    not how it will do: prices drift, and only sold vehicles are in it.

    Source: Tashman 2000, Int. J. Forecasting 16 (rolling-origin evaluation).

    Examples
    --------
    >>> from sklearn.dummy import DummyRegressor
    >>> sales = pd.DataFrame({"on": ["2024-01-01", "2024-02-01", "2024-03-01", "2024-04-01"]})
    >>> past = backtest(DummyRegressor(), sales, [10.0, 20.0, 30.0, 40.0], date="on", start=2, step=1)
    >>> past.frame[["block", "fitted_on", "actual", "likely"]].values.tolist()
    [[0.0, 2.0, 30.0, 15.0], [1.0, 3.0, 40.0, 20.0]]
    """
    _check_options(start=start, step=step, until=until)
    days = _days(frame, date=date)
    prices = price_column(price, size=len(frame))
    order = _order(frame, days=days, prices=prices)[:until]
    if len(order) <= start:
        raise BadInput(f"frame must have more than start = {start} sales to predict any, got {len(order)}")
    blocks = list(_blocks(order, days=days, start=start, step=step))
    _tell(progress, done=0, total=len(blocks))
    found = []
    for number, (known, block) in enumerate(blocks):
        others = before(elsewhere, date=date, day=float(days[block[0]]))
        given = {} if others is None else {"elsewhere": others}
        fitted = clone(model).fit(frame.iloc[known], prices[known], **given)
        when = frame[date].iloc[block].array  # not the series: rows may share an index label
        columns = {"block": number, "fitted_on": len(known), "date": when, "actual": prices[block]}
        found.append(_predicted(fitted, frame.iloc[block]).assign(**columns))
        _tell(progress, done=number + 1, total=len(blocks))
    return Backtest(_judged(pd.concat(found)), stated=_stated(model))


def _check_options(*, start: int, step: int, until: int | None) -> None:
    for name, value in (("start", start), ("step", step)):
        if isinstance(value, bool) or not isinstance(value, int | np.integer) or value < 1:
            raise BadOption(f"{name} must be a whole number of at least 1, got {value!r}")
    if until is not None and until <= start:
        raise BadOption(f"until must be above start = {start}, got {until!r}")


def _days(frame: pd.DataFrame, *, date: str) -> Array:
    """The day of each sale, counted from 1970-01-01; a time of day does not count."""
    days = date_column(frame, name=date)
    missing = np.isnan(days)
    if missing.any():
        row = frame.index[int(np.argmax(missing))]
        raise BadInput(f"{date} must be known of every sale, got none in row {row!r}", column=date, row=row)
    out: Array = np.floor(days)
    return out


def _order(frame: pd.DataFrame, *, days: Array, prices: Array) -> Index:
    """Rows in the order of time, whatever the order they came in."""
    columns = frame[sorted(frame.columns, key=str)].reset_index(drop=True)
    hashes = np.asarray(pd.util.hash_pandas_object(columns, index=False), dtype=np.uint64)
    return np.asarray(np.lexsort((prices, hashes, days)), dtype=np.intp)


def _blocks(order: Index, *, days: Array, start: int, step: int) -> Iterator[tuple[Index, Index]]:
    """For each block the rows known before it, and its own."""
    in_time = days[order]
    for first in range(start, len(order), step):
        known = int(np.searchsorted(in_time, in_time[first], side="left"))
        if known == 0:
            raise BadInput(f"frame must have a sale on a day before the first block, got {first} sales of its own day")
        yield order[:known], order[first : first + step]


def _predicted(fitted: Any, frame: pd.DataFrame) -> pd.DataFrame:
    """Low, likely and high of one block on its own index; low and high are NaN where the model has no band."""
    if hasattr(fitted, "band"):
        band: pd.DataFrame = fitted.band(frame)[list(ENDS)].set_axis(frame.index)
        return band.astype(np.float64)
    likely = np.asarray(fitted.predict(frame), dtype=np.float64)
    return pd.DataFrame({"low": np.nan, "likely": likely, "high": np.nan}, index=frame.index)


def _judged(frame: pd.DataFrame) -> pd.DataFrame:
    """The columns that follow from the others, and all of them in their order."""
    ratio = frame["likely"] / frame["actual"]
    inside = (frame["low"] <= frame["actual"]) & (frame["actual"] <= frame["high"])
    frame = frame.assign(inside=inside, error=ratio - 1, ratio=ratio)
    return frame[["block", "fitted_on", "date", "actual", "low", "likely", "high", "inside", "error", "ratio"]]


def _score(logs: pd.DataFrame, *, stated: float) -> float:
    return float(interval_score(logs["actual"], low=logs["low"], high=logs["high"], coverage=stated).mean())


def _stated(model: Any) -> float:
    return float(getattr(model, "coverage", USUAL_COVERAGE))


def _tell(progress: Progress | None, *, done: int, total: int) -> None:
    if progress is not None:
        progress(done, total)
