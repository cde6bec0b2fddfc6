"""The weeks ahead of some vehicles under some plans: chances of a sale, of being taken back, and discounts."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit

from valuation.errors import BadOption
from valuation.hazard import cumulative_incidence
from valuation.latent import Latent, chance_of
from valuation.reading import Array
from valuation.time_to_sale import CAUSES, Leaving, TimeToSale, piece_of
from valuation.unseen import Positions, Unseen, weekly_odds
from valuation.weekly import DAYS_A_WEEK, FRESH_WEEKS

NO_FLOOR = 0.5  # of the ask: without a floor a lower price is not reckoned with (common practice, no source)


@dataclass(frozen=True)
class Plan:
    """An ask from today on, and perhaps another after some days; in currency units."""

    ask: float
    step_to: float | None = None
    step_after_days: int = 0

    def check(self) -> None:
        """Refuse what is no plan.

        Raises
        ------
        BadOption
            An ask is not above 0, or the step is not later than today.

        Examples
        --------
        >>> Plan(20_000.0, step_to=18_000.0, step_after_days=30).check()
        """
        if not self.ask > 0 or (self.step_to is not None and (not self.step_to > 0 or self.step_after_days < 1)):
            raise BadOption(f"an ask must be above 0 and a step later than today, got {self}")


@dataclass(frozen=True)
class Ahead:
    """Log asks and fresh cuts, shape (n, n_plans, n_weeks); `last`, weeks to the end of each agreement, perhaps not
    whole, shape (n,)."""

    model: TimeToSale
    positions: Positions
    unseen: Unseen
    asks: Array
    fresh: Array
    last: Array

    @property
    def number(self) -> NDArray[np.int64]:
        """Weeks counted from the listing, shape (n, n_weeks)."""
        out: NDArray[np.int64] = self.positions.weeks_gone[:, None] + np.arange(1, self.asks.shape[2] + 1)
        return out

    @property
    def above(self) -> Array:
        """Log ask less log value, shape (n, n_plans, n_places, n_weeks)."""
        out: Array = (
            self.asks[:, :, None, :] - self.positions.likely[:, None, None, None] - self.unseen.part[:, None, :, None]
        )
        return out


def look_ahead(
    model: TimeToSale, positions: Positions, *, unseen: Unseen, plans: Sequence[Sequence[Plan]], last_days: Array
) -> Ahead:
    """Lay out the weeks to the end of the longest agreement.

    Parameters
    ----------
    plans : for each vehicle as many
    last_days : days from today to the end of its agreement, 1 or more, shape (n,)

    Returns
    -------
    Ahead
        Each week has the ask of its middle.

    Raises
    ------
    BadOption
        A number is out of its range.

    Examples: see `tests/valuation/test_ahead.py`, since a fit is needed.
    """
    if not (last_days >= 1).all():
        raise BadOption(f"days to the end must be 1 or more, got {last_days.min():g}")
    weeks = int(np.ceil(last_days.max() / DAYS_A_WEEK))
    middles = DAYS_A_WEEK * (np.arange(weeks) + 0.5)
    asks = np.empty((len(plans), len(plans[0]), weeks))
    fresh = np.zeros_like(asks)
    for row, some in enumerate(plans):
        stood = positions.asks[row][-1][1] if positions.asks[row] else None
        for number, plan in enumerate(some):
            plan.check()
            asks[row, number] = np.log(plan.ask)
            if stood is not None and plan.ask < stood:
                fresh[row, number, :FRESH_WEEKS] = 1
            elif plan.ask == stood:
                fresh[row, number] = middles <= positions.fresh_days(row)
            if plan.step_to is not None:
                later = middles > plan.step_after_days
                asks[row, number, later] = np.log(plan.step_to)
                soon = later & (middles <= plan.step_after_days + FRESH_WEEKS * DAYS_A_WEEK)
                fresh[row, number, soon] = float(plan.step_to < plan.ask)
    return Ahead(model, positions, unseen, asks, fresh, last_days / DAYS_A_WEEK)


def hazard_of(ahead: Ahead, *, latent: Latent) -> Array:
    """Chance of a sale in each week that is come to, shape (n, n_plans, n_places, n_weeks)."""
    count, plans, weeks = ahead.asks.shape
    who = np.repeat(np.arange(count), plans * weeks)
    days = ahead.positions.today[:, None] + DAYS_A_WEEK * (np.arange(weeks) + 0.5)
    spread = (count, plans, weeks)
    odds = weekly_odds(
        ahead.model, ahead.positions, who=who, fresh=ahead.fresh.ravel(), weights=latent.weights,
        week=np.broadcast_to(ahead.number[:, None, :], spread).ravel(),
        days=np.broadcast_to(days[:, None, :], spread).ravel(),
    ).reshape(count, plans, 1, weeks)  # fmt: skip
    return chance_of(odds - np.exp(latent.tail["log_steep"]) * ahead.above, latent=latent)


def sold_by(ahead: Ahead, *, hazard: Array, leaving: dict[str, Leaving] | None = None) -> Array:
    """Chance of a sale by the end of each week, of the hazard's shape."""
    other = leaving_by(ahead.model.leaving_ if leaving is None else leaving, week=ahead.number)[:, None, None, :]
    return cumulative_incidence(hazard, other=np.broadcast_to(other, hazard.shape))


def leaving_by(leaving: dict[str, Leaving], *, week: NDArray[np.int64]) -> Array:
    """Chance of being taken back in each week, for whatever reason, of the shape of `week`.

    Examples
    --------
    >>> even = Leaving(np.zeros(10), np.eye(10))
    >>> leaving_by({"price": even, "other": even}, week=np.array([1, 50])).tolist()
    [0.75, 0.75]
    """
    pieces = piece_of(week.ravel())
    stays = np.prod([1 - expit(pieces @ leaving[cause].odds) for cause in CAUSES], axis=0)
    out: Array = (1 - stays).reshape(week.shape)
    return out


def at_week(paths: Array, *, week: Array) -> Array:
    """Paths (n, n_plans, n_places, n_weeks) read at one time of each vehicle, shape (n,), that may lie inside a week,
    where a path runs evenly; the last axis is dropped.

    Examples
    --------
    >>> at_week(np.array([[[[0.2, 0.3]]]]), week=np.array([1.5])).tolist()
    [[[0.25]]]
    """
    padded = np.concatenate([np.zeros_like(paths[..., :1]), paths], axis=-1)
    whole = np.minimum(np.floor(week).astype(np.int64), paths.shape[-1])
    after = np.minimum(whole + 1, paths.shape[-1])
    rows = np.arange(len(week))
    before, then = (np.moveaxis(padded, -1, 1)[rows, place] for place in (whole, after))
    out: Array = before + (week - whole)[:, None, None] * (then - before)
    return out


def cut_off(paths: Array, *, week: Array) -> Array:
    """What each week adds to a path, of the last week the part before the end, nothing after it; `week` as in
    `at_week`.

    Examples
    --------
    >>> cut_off(np.array([[[[0.2, 0.3]]]]), week=np.array([1.5])).round(4).tolist()
    [[[[0.2, 0.05]]]]
    """
    ends = np.minimum(np.arange(1, paths.shape[-1] + 1)[None, :], week[:, None])
    starts = np.minimum(np.arange(paths.shape[-1])[None, :], week[:, None])
    share = (ends - starts)[:, None, None, :]
    out: Array = np.diff(paths, axis=-1, prepend=0.0) * share
    return out


def mean_discount(ahead: Ahead) -> Array:
    """Mean of log(ask / price) of a sale, before the floor cuts it off, shape (n, n_plans, n_places, n_weeks)."""
    tail = ahead.model.latent_.tail
    waited = np.log(ahead.number)[:, None, None, :]
    out: Array = np.exp(tail["discount"] + np.exp(tail["log_haggling"]) * ahead.above + tail["waiting"] * waited)
    return out


def most_discount(ask: Array, *, floor: Array) -> Array:
    """Log of ask over the least that is taken: the floor, or half of the ask where there is none (NaN); 0 at or below
    it.

    Examples
    --------
    >>> most_discount(np.log([20_000.0, 14_000.0]), floor=np.array([15_000.0, 15_000.0])).round(4).tolist()
    [0.2877, 0.0]
    """
    least = np.where(np.isnan(floor), np.log(NO_FLOOR) + ask, np.log(np.where(np.isnan(floor), 1.0, floor)))
    out: Array = np.maximum(ask - least, 0.0)
    return out


def days_on_offer(ahead: Ahead, *, hazard: Array) -> Array:
    """Expected days until it sells, is taken back, or the agreement ends, shape (n, n_plans).

    Ends run evenly through a week, and so through the part of the last week that the agreement still has.
    """
    going = np.cumprod(
        (1 - hazard) * (1 - leaving_by(ahead.model.leaving_, week=ahead.number)[:, None, None, :]), axis=-1
    )
    starts = np.concatenate([np.ones_like(going[..., :1]), going[..., :-1]], axis=-1)
    lengths = np.clip(ahead.last[:, None] - np.arange(hazard.shape[-1])[None, :], 0.0, 1.0)[:, None, None, :]
    ends = starts + lengths * (going - starts)
    by_place = ((starts + ends) / 2 * lengths).sum(axis=-1) * DAYS_A_WEEK
    out: Array = np.einsum("npg,ng->np", by_place, ahead.unseen.now)
    return out
