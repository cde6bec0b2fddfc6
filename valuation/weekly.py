"""Stays as weeks at risk: what was asked in each, and what else could matter for a sale in it."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from valuation.errors import BadInput
from valuation.reading import Array, column_of, date_column, number_column, word_column

DAYS_A_WEEK, DAYS_A_YEAR = 7, 365.25
FRESH_WEEKS = 3  # after a cut of the ask: who passed it by looks again (common practice, no source)
LONGEST = 260  # weeks of exposure that are read; `TimeToSale` says in its notes where a stay was longer
ENDS = ("sold", "withdrawn", "listed")
PRICE_REASON = "price"
Index = NDArray[np.int64]


@dataclass(frozen=True)
class Weeks:
    """One row per stay and week at risk, in the order of the stays.

    Attributes
    ----------
    stay : place of the stay, shape (n_rows,)
    week : from 1
    ask : log of the ask in that week
    season : sine and cosine of the time of year, shape (n_rows, 2)
    fresh : 1 in the three weeks after a cut of the ask, else 0
    sold, taken : 1 in the week in which it was sold, or taken back
    """

    stay: Index
    week: Index
    ask: Array
    season: Array
    fresh: Array
    sold: Array
    taken: Array


@dataclass(frozen=True)
class Stays:
    """What is known of each stay, beside its weeks; NaN where it is not. All prices are logs."""

    weeks: Weeks
    likely: Array
    sd: Array
    first_ask: Array  # where whoever asked was free to; NaN where a suggestion was followed
    last_ask: Array
    sold_at: Array
    length: Array
    on_offer: Array  # weeks that `interest` was counted over, a part of one too; at least 1
    interest: Array  # inquiries and showings; NaN where nobody counted
    for_price: NDArray[np.bool_]
    words: dict[str, NDArray[np.object_]]


def ask_on(asks: Sequence[tuple[float, float]], *, day: float) -> float:
    """The ask that stood on a day of exposure.

    Examples
    --------
    >>> ask_on([(0, 30_000.0), (42, 28_000.0)], day=41), ask_on([(0, 30_000.0), (42, 28_000.0)], day=42)
    (30000.0, 28000.0)
    """
    return [amount for since, amount in asks if since <= day][-1]


def read_stays(frame: pd.DataFrame, *, words: Sequence[str] = ()) -> Stays:
    """Stays as arrays, with a row for each week at risk.

    Parameters
    ----------
    frame : one row per stay: `listed_on`; `exposed_days`, above 0, the days it was really for sale; `end`, one of sold,
        withdrawn, listed (still there); `reason` of a withdrawal; `asks`, pairs of day of exposure and amount, the
        first from day 0 on, days rising; `followed`, whether the first ask was set beside a suggestion; `price`
        it sold for (may be missing); `likely` and `sd` of log price as known when it was listed; `interest`, how many
        inquired and were shown it in those days (the column, or a count, may be missing)
    words : names of further columns of kinds

    Returns
    -------
    Stays
        A stay ended in the week of its last day, and was at risk of a sale in that week and those before. One that is
        still listed was at risk in each whole week. One beyond five years (`LONGEST`) is seen up to there only:
        whatever came later is no end of it.

    Raises
    ------
    BadInput
        Naming column and row.

    Examples
    --------
    >>> frame = pd.DataFrame({"listed_on": ["2030-01-01"], "exposed_days": [10.0], "end": ["sold"], "reason": [""],
    ...     "followed": [False], "asks": [((0, 20_000.0), (7, 19_000.0))], "price": [18_500.0],
    ...     "likely": [18_000.0], "sd": [0.2]})
    >>> stays = read_stays(frame)
    >>> stays.weeks.week.tolist(), stays.weeks.sold.tolist(), np.exp(stays.weeks.ask).round().tolist()
    ([1, 2], [0.0, 1.0], [20000.0, 19000.0])
    """
    days, ends = _days(frame), word_column(frame, name="end")
    _refuse_unknown(frame, ends=ends)
    length = np.minimum(np.where(ends == "sold", np.ceil(days / DAYS_A_WEEK), np.floor(days / DAYS_A_WEEK)), LONGEST)
    taken_in = np.where(ends == "withdrawn", np.minimum(np.ceil(days / DAYS_A_WEEK), LONGEST), 0)
    at_risk = np.maximum(length, taken_in).astype(np.int64)
    stay = np.repeat(np.arange(len(frame)), at_risk)
    week = np.arange(len(stay)) - np.repeat(np.cumsum(at_risk) - at_risk, at_risk) + 1
    asks = [asks_of(frame, row=row) for row in range(len(frame))]
    ask, fresh = asks_until(asks, at_risk=at_risk)
    listed = known_dates(frame, name="listed_on")
    ended = (week == at_risk[stay]) & (days[stay] <= LONGEST * DAYS_A_WEEK)  # one beyond is seen up to there
    sold = ended & (ends[stay] == "sold")
    weeks = Weeks(
        stay, week, ask, season_of(listed[stay] + DAYS_A_WEEK * (week - 0.5)), fresh,
        sold.astype(np.float64), (ended & (ends[stay] == "withdrawn")).astype(np.float64),
    )  # fmt: skip
    return Stays(
        weeks=weeks,
        likely=log_column(frame, name="likely"),
        sd=positive_column(frame, name="sd"),
        first_ask=np.where(flag_column(frame, name="followed"), np.nan, np.log([pairs[0][1] for pairs in asks])),
        last_ask=np.log([pairs[-1][1] for pairs in asks]),
        sold_at=log_column(frame, name="price"),
        length=at_risk.astype(np.float64),
        on_offer=weeks_on_offer(days),
        interest=count_column(frame, name="interest"),
        for_price=(ends == "withdrawn") & (word_column(frame, name="reason") == PRICE_REASON),
        words={name: word_column(frame, name=name) for name in words},
    )


def season_of(days: Array) -> Array:
    """Sine and cosine of the time of year, of days counted from 1970-01-01; shape (..., 2).

    Examples
    --------
    >>> season_of(np.array([0.0])).tolist()
    [[0.0, 1.0]]
    """
    turn = 2 * np.pi * days / DAYS_A_YEAR
    out: Array = np.stack([np.sin(turn), np.cos(turn)], axis=-1)
    return out


def asks_until(asks: list[tuple[tuple[float, float], ...]], *, at_risk: Index) -> tuple[Array, Array]:
    """Log ask in the middle of each week, and whether it was cut lately; weeks of all stays in a row.

    Examples
    --------
    >>> ask, fresh = asks_until([((0.0, 30_000.0), (7.0, 27_000.0))], at_risk=np.array([5]))
    >>> np.exp(ask).round().tolist(), fresh.tolist()
    ([30000.0, 27000.0, 27000.0, 27000.0, 27000.0], [0.0, 1.0, 1.0, 1.0, 0.0])
    """
    ask, fresh = np.empty(int(at_risk.sum())), np.zeros(int(at_risk.sum()))
    start = 0
    for pairs, count in zip(asks, at_risk.tolist(), strict=True):
        middles = DAYS_A_WEEK * np.arange(count) + DAYS_A_WEEK / 2
        days = np.array([day for day, _ in pairs])
        place = np.searchsorted(days, middles, side="right") - 1
        logs = np.log([amount for _, amount in pairs])
        cut = np.r_[False, np.diff(logs) < 0]
        ask[start : start + count] = logs[place]
        fresh[start : start + count] = cut[place] & (middles - days[place] <= FRESH_WEEKS * DAYS_A_WEEK)
        start += count
    return ask, fresh


def asks_of(frame: pd.DataFrame, *, row: int) -> tuple[tuple[float, float], ...]:
    """The asks of one row, as pairs of day of exposure and amount.

    Raises
    ------
    BadInput
        They do not begin on day 0, the days do not rise, or an amount is not above 0.

    Examples
    --------
    >>> asks_of(pd.DataFrame({"asks": [((0, 30_000), (42, 28_000))]}), row=0)
    ((0.0, 30000.0), (42.0, 28000.0))
    """
    pairs = tuple((float(day), float(amount)) for day, amount in column_of(frame, name="asks").iloc[row])
    days = [day for day, _ in pairs]
    good = bool(pairs) and days[0] == 0 and days == sorted(set(days)) and all(amount > 0 for _, amount in pairs)
    if not good:
        text = (
            f"asks must begin on day 0, with days rising and amounts above 0, got {pairs} in row {frame.index[row]!r}"
        )
        raise BadInput(text, column="asks", row=frame.index[row])
    return pairs


def _days(frame: pd.DataFrame) -> Array:
    days = number_column(frame, name="exposed_days")
    bad = ~(days > 0)
    if bad.any():
        row = frame.index[int(np.argmax(bad))]
        raise BadInput(
            f"exposed_days must be above 0, got {days[bad][0]:g} in row {row!r}", column="exposed_days", row=row
        )
    return days


def _refuse_unknown(frame: pd.DataFrame, *, ends: NDArray[np.object_]) -> None:
    bad = ~np.isin(ends.astype(str), ENDS)
    if bad.any():
        row = frame.index[int(np.argmax(bad))]
        raise BadInput(
            f"end must be one of {', '.join(ENDS)}, got {ends[bad][0]!r} in row {row!r}", column="end", row=row
        )


def known_dates(frame: pd.DataFrame, *, name: str) -> Array:
    """Dates as days since 1970-01-01, none missing.

    Examples
    --------
    >>> known_dates(pd.DataFrame({"on": ["1970-01-03"]}), name="on").tolist()
    [2.0]
    """
    days = date_column(frame, name=name)
    if np.isnan(days).any():
        row = frame.index[int(np.argmax(np.isnan(days)))]
        raise BadInput(f"{name} must be a date, got none in row {row!r}", column=name, row=row)
    return days


def flag_column(frame: pd.DataFrame, *, name: str) -> NDArray[np.bool_]:
    """Yes or no in every row.

    Examples
    --------
    >>> flag_column(pd.DataFrame({"followed": [True, False]}), name="followed").tolist()
    [True, False]
    """
    column = column_of(frame, name=name)
    if column.isna().any():
        row = column.index[int(np.argmax(column.isna()))]
        raise BadInput(f"{name} must be true or false, got none in row {row!r}", column=name, row=row)
    return column.to_numpy(dtype=bool)


def weeks_on_offer(days: Array) -> Array:
    """Weeks that inquiries were counted over, a part of one too; at least one, so that one of a first day is no flood.

    Examples
    --------
    >>> weeks_on_offer(np.array([2.0, 10.5])).tolist()
    [1.0, 1.5]
    """
    out: Array = np.maximum(days / DAYS_A_WEEK, 1.0)
    return out


def count_column(frame: pd.DataFrame, *, name: str) -> Array:
    """Whole numbers from 0, NaN where missing; all are where there is no such column.

    Raises
    ------
    BadInput
        Below 0, or not whole.

    Examples
    --------
    >>> count_column(pd.DataFrame({"interest": [7, None]}), name="interest").tolist()
    [7.0, nan]
    >>> count_column(pd.DataFrame({"make": ["Orrin"]}), name="interest").tolist()
    [nan]
    """
    if name not in frame.columns:
        return np.full(len(frame), np.nan)
    counts = number_column(frame, name=name)
    bad = ~np.isnan(counts) & ((counts < 0) | (counts != np.floor(counts)))
    if bad.any():
        row = frame.index[int(np.argmax(bad))]
        text = f"{name} must be a whole number from 0, got {counts[bad][0]:g} in row {row!r}"
        raise BadInput(text, column=name, row=row)
    return counts


def positive_column(frame: pd.DataFrame, *, name: str) -> Array:
    """Numbers above 0, NaN where missing.

    Examples
    --------
    >>> positive_column(pd.DataFrame({"sd": [0.2, None]}), name="sd").tolist()
    [0.2, nan]
    """
    values = number_column(frame, name=name)
    bad = values <= 0
    if bad.any():
        row = frame.index[int(np.argmax(bad))]
        raise BadInput(f"{name} must be above 0, got {values[bad][0]:g} in row {row!r}", column=name, row=row)
    return values


def log_column(frame: pd.DataFrame, *, name: str) -> Array:
    """Logs of numbers above 0, NaN where missing.

    Examples
    --------
    >>> log_column(pd.DataFrame({"price": [1.0, None]}), name="price").tolist()
    [0.0, nan]
    """
    out: Array = np.log(positive_column(frame, name=name))
    return out
