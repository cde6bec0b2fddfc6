"""What may come of an ask: chance of a sale by the day, what it would sell for, how long it would stand."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from valuation.ahead import (
    Ahead,
    Plan,
    at_week,
    cut_off,
    days_on_offer,
    hazard_of,
    look_ahead,
    mean_discount,
    most_discount,
    sold_by,
)
from valuation.errors import BadOption
from valuation.reading import Array
from valuation.time_to_sale import TimeToSale
from valuation.unseen import Positions, unseen_of
from valuation.weekly import DAYS_A_WEEK

DRAWS, SEED = 24, 7
# Ends of the range in which a chance is stated to hold 80 of 100: between the 10th and 90th percentile it held the true
# chance 74 to 78 times in 100 on invented lots, since the shape of the chance is a guess too.
SPREAD = (0.06, 0.94)
PRICES = 6  # equally likely prices that stand for each phase of a plan
DISCOUNTS = np.linspace(0.0, 1.0, 81)  # of the way from no discount to the floor
TOGETHER = 64  # vehicles that are looked at at once: bounds the memory of a batch


@dataclass(frozen=True)
class Chance:
    """A chance, and the range that 80 of 100 vehicles like it are stated to lie in: what is unsure of value and of
    effects."""

    likely: float
    low: float
    high: float


@dataclass(frozen=True)
class Outlook:
    """What may come of one plan.

    Attributes
    ----------
    chances : of a sale by each of the days asked for, in their order
    prices : pairs of a selling price, in currency units, and its chance; with `unsold` they add up to 1
    unsold : chance of no sale by the last day
    unsold_value : expected value of a vehicle that did not sell, in currency units
    days : expected days of exposure until it sells, is taken back, or the last day
    """

    chances: tuple[Chance, ...]
    prices: tuple[tuple[float, float], ...]
    unsold: float
    unsold_value: float
    days: float

    @property
    def expected_price(self) -> float:
        """Of a sale, given that there is one; NaN where none can be."""
        chance = sum(share for _, share in self.prices)
        return sum(price * share for price, share in self.prices) / chance if chance > 0 else float("nan")


def outlooks(
    model: TimeToSale,
    positions: Positions,
    *,
    plans: Sequence[Plan],
    days: Sequence[int],
    last_day: int,
    floor: float | None,
) -> list[Outlook]:
    """What may come of some plans for one vehicle.

    Parameters
    ----------
    model : fitted
    positions : of one vehicle
    plans : asks above 0; a step is later than today
    days : from today, 1 or more, by which the chance of a sale is told; those after `last_day` are told for that day
    last_day : days from today to the end of the agreement, 1 or more
    floor : the least that is taken, in currency units, or None

    Raises
    ------
    BadOption
        A number is out of its range.

    Examples: see `tests/valuation/test_outlook.py`, since a fit is needed.

    Notes
    -----
    Chance by a day: cumulative incidence of a sale, being taken back the other end, averaged over what is not known of
    the value (`unseen_of`); its range is over that and over draws of the effects. Inside a week it runs evenly.
    Selling price: ask × exp(-d), d exponential and cut off at the floor. A dearer ask never has a greater chance, at
    any day, for any value and any draw; with a step that holds for the ask before it where the step is a cut.

    Source: own derivation; cumulative incidence as in `valuation.hazard`.
    """
    if len(positions.likely) != 1 or any(day < 1 for day in days):
        raise BadOption(
            f"positions must be of one vehicle and days 1 or more, got {len(positions.likely)}, {list(days)}"
        )
    ahead = look_ahead(
        model, positions, unseen=unseen_of(model, positions), plans=[plans], last_days=np.array([float(last_day)])
    )
    hazard = hazard_of(ahead, latent=model.latent_)
    path = sold_by(ahead, hazard=hazard)
    draws = _drawn(ahead)
    stood = days_on_offer(ahead, hazard=hazard)[0]
    by = [np.array([min(day, last_day) / DAYS_A_WEEK]) for day in days]
    middle = [at_week(path, week=week)[0] for week in by]  # (plans, places) for each day
    spread = [np.stack([at_week(drawn, week=week)[0] for drawn in draws]) for week in by]
    left = np.maximum(1 - at_week(path, week=ahead.last)[0], 0.0)
    gained = cut_off(path, week=ahead.last)[0]
    weights, values = ahead.unseen.now[0], np.exp(positions.likely[0] + ahead.unseen.part[0])
    unsold_values = _unsold_value(left, now=weights, value=values)
    found = []
    for number in range(len(plans)):
        chances = [
            _chance(middle[place][number], draws=spread[place][:, number], weights=weights)
            for place in range(len(days))
        ]
        prices = _prices(ahead, number=number, gained=gained[number], floor=floor)
        found.append(
            Outlook(
                tuple(chances),
                prices,
                float(left[number] @ weights),
                float(unsold_values[number]),
                float(stood[number]),
            )
        )
    return found


def _drawn(ahead: Ahead) -> list[Array]:
    """Paths under effects as unsure as the fit left them."""
    leaving = {
        cause: found.draws(DRAWS, seed=SEED + place)
        for place, (cause, found) in enumerate(ahead.model.leaving_.items(), 1)
    }
    return [
        sold_by(
            ahead,
            hazard=hazard_of(ahead, latent=latent),
            leaving={cause: some[number] for cause, some in leaving.items()},
        )
        for number, latent in enumerate(ahead.model.latent_.draws(DRAWS, seed=SEED))
    ]


def glance(
    model: TimeToSale, positions: Positions, *, plans: Sequence[Sequence[Plan]], last_days: Array, floors: Array
) -> pd.DataFrame:
    """The same figures for many vehicles at once, without ranges.

    Parameters
    ----------
    plans : for each vehicle as many
    last_days : days from today to the end of each agreement, 1 or more, shape (n,)
    floors : in currency units, NaN where there is none, shape (n,)

    Returns
    -------
    One row per vehicle and plan, index (vehicle, plan number): `chance` of a sale by the last day, `price` expected of
    a sale, `days` expected, `unsold_value`.

    Examples: see `tests/valuation/test_outlook.py`, since a fit is needed.
    """
    found = []
    for start in range(0, len(positions.likely), TOGETHER):
        part = slice(start, start + TOGETHER)
        found.append(
            _glance(model, positions.take(part), plans=plans[part], last_days=last_days[part], floors=floors[part])
        )
    names = [(label, number) for label in positions.index for number in range(len(plans[0]))]
    return pd.concat(found).set_axis(pd.MultiIndex.from_tuples(names, names=["vehicle", "plan"]))


def _glance(
    model: TimeToSale, positions: Positions, *, plans: Sequence[Sequence[Plan]], last_days: Array, floors: Array
) -> pd.DataFrame:
    ahead = look_ahead(model, positions, unseen=unseen_of(model, positions), plans=plans, last_days=last_days)
    hazard = hazard_of(ahead, latent=model.latent_)
    path = sold_by(ahead, hazard=hazard)
    now = ahead.unseen.now
    sold = at_week(path, week=ahead.last)
    weights = cut_off(path, week=ahead.last) * now[:, None, :, None]
    mean = mean_discount(ahead)
    most = most_discount(ahead.asks, floor=floors[:, None, None])[:, :, None, :]
    price = np.exp(ahead.asks)[:, :, None, :] * _kept_of(mean, most=most)
    value = np.exp(positions.likely[:, None] + ahead.unseen.part)
    columns = {
        "chance": np.einsum("npg,ng->np", sold, now),
        "price": (weights * price).sum(axis=(2, 3)) / weights.sum(axis=(2, 3)),
        "days": days_on_offer(ahead, hazard=hazard),
        "unsold_value": _unsold_value(np.maximum(1 - sold, 0.0), now=now[:, None, :], value=value[:, None, :]),
    }
    return pd.DataFrame({name: values.ravel() for name, values in columns.items()})


def _unsold_value(left: Array, *, now: Array, value: Array) -> Array:
    """Mean value of what does not sell, the places on the last axis; of all there is, where nothing is left."""
    kept = np.where((left * now).sum(axis=-1, keepdims=True) > 0, left, 1.0) * now
    out: Array = (kept * value).sum(axis=-1) / kept.sum(axis=-1)
    return out


def _kept_of(mean: Array, *, most: Array) -> Array:
    """Mean of exp(-d), d exponential with a mean and cut off at `most`."""
    safe = np.where(most > 0, most, 1.0)
    share = np.expm1(-safe * (1 + 1 / mean)) / np.expm1(-safe / mean) / (1 + mean)
    out: Array = np.where(most > 0, share, 1.0)
    return out


def _chance(middle: Array, *, draws: Array, weights: Array) -> Chance:
    """Shares by place, and by draw and place for the range."""
    flat, chances = draws.ravel(), np.tile(weights / len(draws), len(draws))
    order = np.argsort(flat, kind="stable")
    upto = np.cumsum(chances[order])
    low, high = (float(flat[order][min(int(np.searchsorted(upto, point)), len(flat) - 1)]) for point in SPREAD)
    likely = float(middle @ weights)
    return Chance(likely, min(low, likely), max(high, likely))


def _prices(ahead: Ahead, *, number: int, gained: Array, floor: float | None) -> tuple[tuple[float, float], ...]:
    """Selling prices, some for each phase of the plan; their chances add up to that of a sale. `gained` is (places,
    weeks)."""
    weights = ahead.unseen.now[0][:, None] * gained
    mean, asks = mean_discount(ahead)[0, number], ahead.asks[0, number]
    found: list[tuple[float, float]] = []
    for ask in dict.fromkeys(asks.tolist()):
        phase = asks == ask
        share = float(weights[:, phase].sum())
        if share > 0:
            most = float(most_discount(np.array(ask), floor=np.array(np.nan if floor is None else floor)))
            discounts = _discounts(mean[:, phase].ravel(), weights=weights[:, phase].ravel(), most=most)
            found += [(float(np.exp(ask - off)), share / PRICES) for off in discounts]
    return tuple(found)


def _discounts(mean: Array, *, weights: Array, most: float) -> Array:
    """Middles of equally likely parts of a mixture of exponentials that are cut off at `most`."""
    if most <= 0:
        return np.zeros(PRICES)
    grid = most * DISCOUNTS
    below = -np.expm1(-grid[:, None] / mean[None, :]) / -np.expm1(-most / mean)[None, :]
    share = below @ weights / weights.sum()
    out: Array = np.interp((np.arange(PRICES) + 0.5) / PRICES, share, grid)
    return out
