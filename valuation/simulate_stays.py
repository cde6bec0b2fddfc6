"""An invented lot week by week: buyers come by, asks are cut, vehicles sell or are taken back, and the truth is known.

The truth, in log price unless said otherwise (`simulate` writes down what the vehicles are):

====================  ==================================================================================
value                 the median of `simulate`, plus quality that no column holds: normal, sd 0.10
owner's guess         the median, plus `knowing` of the quality, plus a normal error of sd 0.06
first ask             the guess plus a markup, normal with mean 0.06 and sd 0.09, rounded up to 100
cut                   after every six weeks unsold, with chance 0.6: by 3 to 9 %
floor                 0.80 of the first ask
buyers                Poisson, 0.5 a week, times 1 + 0.25 sin(2 π year - 0.6): more come in spring and summer
what one would pay    the value less 0.08, normal, sd 0.13
bargaining            who would pay the ask pays 0 to 3 % less; who would pay at least 0.93 of it, and the floor,
                      pays what they would; who would pay 0.80 of it offers that and is refused
inquiries             Poisson in each week, 1.2 exp(-4 (log ask - value)); in a part of a week that part of it
taken back            chance 0.012 a week for reasons of other kinds; after the 25 whole weeks of an agreement of
                      180 days, for the price
====================  ==================================================================================
"""

from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.stats import norm

from valuation.errors import BadOption
from valuation.reading import Array
from valuation.simulate import as_inputs, simulate
from valuation.weekly import DAYS_A_WEEK, asks_until

QUALITY_SD, GUESS_SD = 0.10, 0.06
MARKUP, MARKUP_SD = 0.06, 0.09
CUT_WEEKS, CUT_CHANCE, CUTS = 6, 0.6, (0.03, 0.09)
FLOOR = 0.80
BUYERS, SEASON, PHASE = 0.5, 0.25, 0.6
PAYS, PAYS_SD = -0.08, 0.13
ACCEPTED, OFFERED, HAGGLED = 0.93, 0.80, 0.03
LEAVING = 0.012
INQUIRIES, DRAWN = 1.2, 4.0
AGREEMENT_DAYS = 180
OTHER_REASONS = ("changed mind", "sold elsewhere", "title", "damage", "other")
DAYS_A_YEAR = 365.25


@dataclass(frozen=True)
class SimulatedStays:
    """`stays` in the columns that `TimeToSale` reads, without `likely` and `sd`; `truth` on the same index: log
    `median` of the columns alone, and log `value` with the quality that no column holds; `book`, the same rows as a
    lot would have written them down, in the columns of `simulate`."""

    stays: pd.DataFrame
    truth: pd.DataFrame
    book: pd.DataFrame


@dataclass(frozen=True)
class Plan:
    """Asks by week, and the least that is taken; shapes (n_weeks,) and (). Log price."""

    asks: Array
    floor: float


def simulate_stays(
    count: int, *, ending_on: date, years: float = 6.0, seed: int = 1, knowing: float = 0.0
) -> SimulatedStays:
    """Draw a lot's stays.

    Parameters
    ----------
    count : stays that began in the time; those still listed at its end are among them
    ending_on : the last day that is known
    years : length of the history
    seed : equal seeds give equal rows
    knowing : how much of the unseen quality the owner puts into the ask, 0 to 1: at 1 a dear ask often means a better
        vehicle, and time to sale tells less of what an ask does than it seems to

    Returns
    -------
    Rows in order of `listed_on`.

    Raises
    ------
    BadOption
        knowing is out of its range.

    Notes
    -----
    The module's text writes the truth down. Source: own derivation.

    Examples
    --------
    >>> drawn = simulate_stays(40, ending_on=date(2030, 6, 30), seed=3)
    >>> sorted(drawn.stays["end"].unique()), len(drawn.stays)
    (['listed', 'sold', 'withdrawn'], 40)
    """
    if not 0 <= knowing <= 1:
        raise BadOption(f"knowing must be from 0 to 1, got {knowing}")
    vehicles = simulate(count, ending_on=ending_on, years=years, seed=seed, wrong_share=0.0)
    rng = np.random.default_rng([seed, 20_261])
    chosen = np.sort(rng.choice(len(vehicles.sales), size=count, replace=False))
    facts = as_inputs(vehicles.sales).iloc[chosen].reset_index(drop=True)
    median = np.log(vehicles.truth["median"].to_numpy()[chosen])
    value = median + rng.normal(0, QUALITY_SD, size=count)
    rows = [
        _stay(rng, value=value[at], guess=median[at] + knowing * (value[at] - median[at]), listed=day, last=ending_on)
        for at, day in enumerate(pd.DatetimeIndex(facts["ended_on"]).date)
    ]
    stays = facts.drop(columns=["price", "first_ask", "last_ask", "result", "reason", "listed_on", "arrived_on"])
    drawn = pd.DataFrame(rows)
    stays = stays.assign(listed_on=stays["ended_on"], **{str(name): drawn[name] for name in drawn})
    stays["interest"] = interest_drawn(
        np.random.default_rng([seed, 20_262]), value=value, asks=list(stays["asks"]),
        days=stays["exposed_days"].to_numpy(),
    )  # fmt: skip
    stays["ended_on"] = stays["listed_on"] + pd.to_timedelta(stays["exposed_days"], unit="D")
    book = _book(vehicles.sales.iloc[chosen].reset_index(drop=True), stays=stays)
    return SimulatedStays(stays, pd.DataFrame({"median": median, "value": value}), book)


def interest_drawn(
    rng: np.random.Generator, *, value: Array, asks: list[tuple[tuple[float, float], ...]], days: Array
) -> NDArray[np.int64]:
    """How many inquired about each vehicle and were shown it.

    Parameters
    ----------
    value : log value, shape (n,)
    asks : pairs of day and amount of each, the first from day 0 on
    days : it was for sale, above 0, shape (n,)

    Examples
    --------
    >>> drawn = interest_drawn(
    ...     np.random.default_rng(1), value=np.log([20_000.0] * 2), days=np.array([700.0, 700.0]),
    ...     asks=[((0, 20_000.0),), ((0, 24_000.0),)])
    >>> bool(drawn[0] > drawn[1])
    True
    """
    begun = np.ceil(days / DAYS_A_WEEK).astype(np.int64)
    who = np.repeat(np.arange(len(days)), begun)
    week = np.arange(len(who)) - np.repeat(np.cumsum(begun) - begun, begun)
    part = np.minimum(days[who] / DAYS_A_WEEK - week, 1.0)
    ask, _ = asks_until(asks, at_risk=begun)
    counts = rng.poisson(part * INQUIRIES * np.exp(-DRAWN * (ask - value[who])))
    out: NDArray[np.int64] = np.bincount(who, weights=counts, minlength=len(days)).astype(np.int64)
    return out


def _book(written: pd.DataFrame, *, stays: pd.DataFrame) -> pd.DataFrame:
    """First and last ask, days and end of each stay in the columns of a lot's book."""
    before = written["listed_on"] - written["arrived_on"]
    return written.assign(
        arrived_on=stays["listed_on"] - before, listed_on=stays["listed_on"], ended_on=stays["ended_on"],
        first_ask=[pairs[0][1] for pairs in stays["asks"]], last_ask=[pairs[-1][1] for pairs in stays["asks"]],
        result=stays["end"], reason=stays["reason"].where(stays["reason"].ne(""), None), price=stays["price"],
    )  # fmt: skip


def _stay(rng: np.random.Generator, *, value: float, guess: float, listed: date, last: date) -> dict[str, Any]:
    """One stay from its first day to its end or to the last day that is known."""
    markup = rng.normal(MARKUP, MARKUP_SD)
    ask = float(np.ceil(np.exp(guess + rng.normal(0, GUESS_SD) + markup) / 100) * 100)
    floor, asks, best = FLOOR * ask, [(0, ask)], 0.0
    weeks = AGREEMENT_DAYS // 7
    for week in range(1, weeks + 1):
        if week > 1 and (week - 1) % CUT_WEEKS == 0 and rng.random() < CUT_CHANCE:
            ask = max(float(np.floor(ask * (1 - rng.uniform(*CUTS)) / 50) * 50), floor)
            asks.append((7 * (week - 1), ask))
        day = 7 * (week - 1) + int(rng.integers(1, 8))
        seen = (last - listed).days
        if day > seen:
            return _row("listed", days=max(seen, 1), asks=asks, best=best)
        paid, offered = _week(rng, value=value, ask=ask, floor=floor, rate=rate_on(listed, day=day))
        best = max(best, offered)
        if paid:
            return _row("sold", days=day, asks=asks, best=best, price=paid)
        if rng.random() < LEAVING:
            return _row("withdrawn", days=day, asks=asks, best=best, reason=str(rng.choice(OTHER_REASONS)))
    return _row("withdrawn", days=7 * weeks, asks=asks, best=best, reason="price")


def rate_on(listed: date, *, day: int) -> float:
    """Buyers a week, some days after a listing.

    Examples
    --------
    >>> rate_on(date(2030, 4, 1), day=0) > rate_on(date(2030, 11, 1), day=0)
    True
    """
    passed = (listed.timetuple().tm_yday + day) / DAYS_A_YEAR
    return float(BUYERS * (1 + SEASON * np.sin(2 * np.pi * passed - PHASE)))


def _week(rng: np.random.Generator, *, value: float, ask: float, floor: float, rate: float) -> tuple[float, float]:
    """What was paid in a week (0 if nothing), and the best offer refused in it."""
    best = 0.0
    for pays in np.exp(rng.normal(value + PAYS, PAYS_SD, size=rng.poisson(rate))):
        if pays >= ask:
            return float(np.round(ask * (1 - rng.uniform(0, HAGGLED)) / 50) * 50), best
        if pays >= max(ACCEPTED * ask, floor):
            return float(np.round(pays / 50) * 50), best
        if pays >= OFFERED * ask:
            best = max(best, float(np.round(pays / 50) * 50))
    return 0.0, best


def _row(
    end: str, *, days: int, asks: list[tuple[int, float]], best: float, reason: str = "", price: float = np.nan
) -> dict[str, Any]:
    kept = tuple((day, ask) for day, ask in asks if day < days)
    return {
        "exposed_days": float(days), "end": end, "reason": reason, "price": price, "asks": kept,
        "best_offer": best or np.nan, "followed": False,
    }  # fmt: skip


def true_chance(value: Array, *, plan: Plan, listed: date, start: int = 0) -> Array:
    """Chance that a vehicle has sold by the end of each week, by the truth that drew the lot.

    Parameters
    ----------
    value : log value, shape (n,)
    plan : asks by week from now on, and the floor
    listed : the day of the listing
    start : weeks gone since

    Returns
    -------
    Shape (n, n_weeks).

    Notes
    -----
    A buyer takes it with chance p = P(pays ≥ max(0.93 ask, floor)); a week passes without one with chance exp(-rate p).

    Examples
    --------
    >>> plan = Plan(asks=np.log([20_000.0] * 4), floor=np.log(15_000.0))
    >>> bool((np.diff(true_chance(np.log([20_000.0]), plan=plan, listed=date(2030, 4, 1))[0]) > 0).all())
    True
    """
    weeks = np.arange(len(plan.asks))
    rates = np.array([rate_on(listed, day=7 * (start + int(week)) + 4) for week in weeks])
    least = np.maximum(plan.asks + np.log(ACCEPTED), plan.floor)
    taken = norm.sf((least[None, :] - value[:, None] - PAYS) / PAYS_SD)
    stays = np.exp(-rates * taken) * (1 - LEAVING)
    before = np.cumprod(np.hstack([np.ones((len(value), 1)), stays[:, :-1]]), axis=1)
    out: Array = np.cumsum(before * (1 - np.exp(-rates * taken)), axis=1)
    return out
