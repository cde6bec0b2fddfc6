"""Invented sales elsewhere in the same invented market as a lot's own, with the truth known: for tests and benchmarks.

All vehicles are drawn at once by `simulate`, so that one truth prices them. Then, of log price elsewhere:

====================  ==================================================================================
mix                   vehicles of the second half of the makes come three times as often as on the lot
bias                  the stated one, in percent of the price, for every sale elsewhere
make                  Normal(0, 0.05²) per make: that market pays more for one make, less for another
source                three sources, Normal(0, 0.03²) each
noise                 Student t, 6 degrees of freedom, sd 0.20 (the lot's own: 0.13)
bids                  of the stated share only a high bid is known, which the owner did not accept: lower by an
                      exponential of mean 0.15, since owners ask for more than the market gives and stop there
wrong rows            the stated share, as on the lot: price typed with a factor exp(±0.9)
====================  ==================================================================================

Fewer facts are known than of the lot's own: condition in 40 %, originality in 15 %, mileage in 70 %, build class and
transmission in 70 %, body in 90 %, modifications and title brand in 30 %, odometer status never. The channel is known
and has the same effect as on the lot. The shares, the noise and the shortfall of bids are assumptions of ours.
"""

from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from valuation.elsewhere import Elsewhere
from valuation.errors import BadOption
from valuation.reading import Array
from valuation.schema import MODIFICATION_KINDS, mods_column
from valuation.simulate import DAYS_A_YEAR, MAKES, as_inputs, simulate

Index = NDArray[np.int64]
NOISE_SD, TAIL = 0.20, 6.0
MAKE_SD, SOURCE_SD = 0.05, 0.03
SHORTFALL = 0.15
OFTEN = 3.0  # vehicles of the second half of the makes, against the lot
SOURCES = ("the spring fair", "the county hall", "a dealer far away")
KNOWN = {
    "condition": 0.40, "originality": 0.15, "mileage": 0.70, "build_class": 0.70, "transmission": 0.70, "body": 0.90,
    "title_brand": 0.30, "odometer_status": 0.0,
}  # fmt: skip
MODIFICATIONS_KNOWN = 0.30
SPARE = 40  # vehicles drawn for each one of the lot's later sales, which fall in a short time
LATER_YEARS = 0.5


@dataclass(frozen=True)
class TwoMarkets:
    """A lot's own past sales, what it sells in the half year after them, and sales elsewhere before that half year.

    `inputs` and `later` are in the columns of `valuation.schema`; `price` and `later_price` in currency units.
    """

    inputs: pd.DataFrame
    price: Array
    later: pd.DataFrame
    later_price: Array
    elsewhere: Elsewhere


def simulate_elsewhere(
    own: int,
    *,
    count: int,
    later: int = 40,
    ending_on: date,
    years: float = 6.0,
    bias_percent: float = 0.0,
    bid_share: float = 0.0,
    wrong_share: float = 0.03,
    seed: int = 1,
) -> TwoMarkets:
    """Draw a lot's own sales and sales elsewhere of the same market.

    Parameters
    ----------
    own, later, count : numbers of the lot's past sales, of its sales in the last half year, and of sales elsewhere
    ending_on : the day of the last possible sale
    years : length of the past, before the last half year
    bias_percent : how much more is paid elsewhere, above -100
    bid_share : share of the sales elsewhere of which only a bid is known, 0 to 1
    wrong_share : share of prices typed wrongly, here and elsewhere, 0 to 0.5
    seed : equal seeds give equal rows; bias and share of bids change nothing else in them

    Raises
    ------
    BadOption
        A number below 1 (`count` and `later` may be 0), or a bias or share out of range.

    Notes
    -----
    The module's text writes the truth down. Source: own derivation.

    Examples
    --------
    >>> drawn = simulate_elsewhere(20, count=50, ending_on=date(2030, 6, 30), bid_share=0.5)
    >>> len(drawn.inputs), len(drawn.later), len(drawn.elsewhere), sorted(set(drawn.elsewhere.kind.tolist()))
    (20, 40, 50, ['bid', 'sold'])
    """
    if own < 1 or count < 0 or later < 0:
        raise BadOption(f"own must be at least 1, count and later at least 0, got {own}, {count} and {later}")
    if not (bias_percent > -100 and 0 <= bid_share <= 1):
        raise BadOption(f"bias_percent must be above -100, bid_share from 0 to 1, got {bias_percent} and {bid_share}")
    drawn = simulate(
        own + 4 * count + SPARE * later,
        ending_on=ending_on,
        years=years + LATER_YEARS,
        seed=seed,
        wrong_share=wrong_share,
    )
    rng = np.random.default_rng([seed, 1])
    ends = np.datetime64(ending_on) - np.timedelta64(round(LATER_YEARS * DAYS_A_YEAR), "D")
    sold, after = (drawn.sales["result"] == "sold").to_numpy(), (drawn.sales["ended_on"] > ends).to_numpy()
    order = rng.permutation(len(drawn.sales))
    mine = np.sort(order[(sold & ~after)[order]][:own])
    new = np.sort(order[(sold & after)[order]][:later])
    left = np.setdiff1d(np.flatnonzero(~after), mine).astype(np.int64)
    there = _others(rng, sales=drawn.sales, rows=left, count=count)
    price = drawn.sales["price"].to_numpy(float)
    inputs = as_inputs(drawn.sales)
    elsewhere = _told(
        rng,
        sales=drawn.sales.iloc[there].reset_index(drop=True),
        median=drawn.truth["median"].to_numpy()[there],
        bias=np.log1p(bias_percent / 100),
        shares=(bid_share, wrong_share),
    )
    first, second = (inputs.iloc[rows].reset_index(drop=True) for rows in (mine, new))
    return TwoMarkets(first, price[mine], second, price[new], elsewhere)


def _others(rng: np.random.Generator, *, sales: pd.DataFrame, rows: Index, count: int) -> Index:
    """Rows of the sales elsewhere, drawn without regard to price."""
    often = np.where(sales["make"].iloc[rows].isin(MAKES[len(MAKES) // 2 :]), OFTEN, 1.0)
    return np.sort(rng.choice(rows, size=count, replace=False, p=often / often.sum()))


def _told(
    rng: np.random.Generator, *, sales: pd.DataFrame, median: Array, bias: float, shares: tuple[float, float]
) -> Elsewhere:
    size = len(sales)
    makes, sources = rng.normal(0, MAKE_SD, size=len(MAKES)), rng.normal(0, SOURCE_SD, size=len(SOURCES))
    make, source = np.array([MAKES.index(name) for name in sales["make"]], dtype=np.int64), rng.integers(3, size=size)
    noise = rng.standard_t(TAIL, size=size) * NOISE_SD / np.sqrt(TAIL / (TAIL - 2))
    short, bid = rng.exponential(SHORTFALL, size=size), rng.random(size) < shares[0]
    wrong = np.where(rng.random(size) < shares[1], rng.choice([-0.9, 0.9], size=size), 0.0)
    log_price = np.log(median) + bias + makes[make] + sources[source] + noise + wrong - np.where(bid, short, 0.0)
    for name, share in KNOWN.items():
        sales[name] = sales[name].where(pd.Series(rng.random(size) < share), None)
    inputs = as_inputs(sales)
    columns = [mods_column(kind) for kind in MODIFICATION_KINDS]
    inputs.loc[rng.random(size) >= MODIFICATIONS_KNOWN, columns] = np.nan
    for name in ("condition", "originality"):
        inputs[[f"{name}_low", f"{name}_high"]] = inputs[[f"{name}_low", f"{name}_high"]].astype(np.float64)
    inputs["mileage"] = inputs["mileage"].astype(np.float64)
    price = np.round(np.exp(log_price) / 50) * 50
    return Elsewhere(inputs, price, np.where(bid, "bid", "sold"), np.array(SOURCES, dtype=object)[source])
