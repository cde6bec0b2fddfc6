"""What a vehicle's likely price would have been on an earlier day, from the sales of before that day alone."""

from itertools import pairwise
from typing import Any

import numpy as np
import pandas as pd
from sklearn.base import clone

from valuation.elsewhere import Elsewhere, before
from valuation.errors import BadInput, BadOption
from valuation.model import PriceModel
from valuation.reading import Array, date_column, price_column

LEAST_BEFORE = 20  # sales known before a day, for a likely price as it was then
REFITS = 12


def as_then(
    model: PriceModel,
    frame: pd.DataFrame,
    *,
    on: Any,
    sales: pd.DataFrame,
    price: Any,
    refits: int = REFITS,
    elsewhere: Elsewhere | None = None,
) -> pd.DataFrame:
    """Likely price and how sure it was, as a lot would have read it on the day.

    Parameters
    ----------
    model : its parameters are used, and its column of dates; it is cloned for every fit and left as it is
    frame : vehicles, in the columns of the model; the column of dates is not read
    on : the day of each vehicle, shape (n_vehicles,)
    sales : past sales in the same columns; `price` what they sold for, in currency units, shape (n_sales,)
    refits : how often at most the model is fitted: vehicles of neighbouring days share one, of sales before the first
        of them
    elsewhere : sales that were not the lot's own: each fit takes those of before its days

    Returns
    -------
    On the frame's index: `median` and `sd` of log price (NaN where fewer than 20 sales were known), `known`, how
    many sales were.

    Raises
    ------
    BadInput
        A day is missing, or what the model refuses.
    BadOption
        refits is not 1 or more.

    Notes
    -----
    Nothing of the day itself or later is used, so that an ask of long ago is held against the price that could be known
    then, and not against what the vehicle taught afterwards. The sd is that of the fit, not calibrated.

    Source: Tashman 2000 (rolling origin), as `backtest`.

    Examples
    --------
    >>> sales = pd.DataFrame({"ended_on": pd.date_range("2024-01-01", periods=30, freq="W")})
    >>> model = PriceModel(nested=())
    >>> found = as_then(model, sales, on=sales["ended_on"], sales=sales, price=[1000.0 + n for n in range(30)])
    >>> found["known"].tolist()[:1], int(found["median"].isna().sum())
    ([0], 20)
    """
    if model.date is None:
        raise BadInput("model must have a column of dates, got none")
    if refits < 1:
        raise BadOption(f"refits must be 1 or more, got {refits!r}")
    prices = price_column(price, size=len(sales))
    days = _days(on, count=len(frame))
    sold = _days(sales[model.date], count=len(sales))
    there = frame.assign(**{model.date: pd.Series(pd.to_datetime(np.floor(days), unit="D"), index=frame.index)})
    out = np.full((len(frame), 2), np.nan)
    known = np.zeros(len(frame), dtype=np.int64)
    order = np.argsort(days, kind="stable")
    for rows in _blocks(order, days=days, sold=sold, refits=refits):
        past = np.flatnonzero(sold < days[rows].min())
        known[rows] = len(past)
        if len(past) >= LEAST_BEFORE:
            others = before(elsewhere, date=model.date, day=float(days[rows].min()))
            fitted = clone(model).fit_median(sales.iloc[past], prices[past], elsewhere=others)
            out[rows] = fitted.log_price(there.iloc[rows]).to_numpy()
    return pd.DataFrame({"median": out[:, 0], "sd": out[:, 1], "known": known}, index=frame.index)


def _days(given: Any, *, count: int) -> Array:
    days = date_column(pd.DataFrame({"on": np.asarray(given)}), name="on")
    if len(days) != count or np.isnan(days).any():
        raise BadInput(f"on must be the day of each of {count} rows, got {len(days)} with some missing", column="on")
    return days


def _blocks(order: Any, *, days: Array, sold: Array, refits: int) -> list[Any]:
    """Neighbouring days together: at most `refits` blocks in which enough was known, and one of those before."""
    first_day = np.sort(sold)[LEAST_BEFORE - 1] if len(sold) >= LEAST_BEFORE else np.inf
    start = int(np.searchsorted(days[order], first_day, side="right"))
    later = len(order) - start
    cuts = np.unique(np.concatenate([[0, start], start + np.linspace(0, later, min(refits, max(later, 1)) + 1)[1:]]))
    return [order[int(a) : int(b)] for a, b in pairwise(cuts) if int(b) > int(a)]
