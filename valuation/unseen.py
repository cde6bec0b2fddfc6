"""What a vehicle in stock has shown since it was listed: weeks without a sale, inquiries, an offer refused, its ask."""

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.special import expit
from scipy.stats import norm

from valuation.errors import BadInput
from valuation.latent import log_count, mean_by_stay, nodes
from valuation.reading import Array, column_of, number_column, word_column
from valuation.time_to_sale import TimeToSale
from valuation.weekly import (
    DAYS_A_WEEK,
    FRESH_WEEKS,
    LONGEST,
    asks_of,
    asks_until,
    count_column,
    flag_column,
    known_dates,
    log_column,
    season_of,
    weeks_on_offer,
)

FINE = 61  # places of the unseen part
REST = 31  # places of what the band holds beside it
NARROWEST = 1e-6  # half of a band, as a log: one whose likely price is its low end still has two sides
# How far below the value the best refused offer lies, as a log, and how it scatters. Common practice, no source; held
# against invented lots: learned from the offers of vehicles that sold, both came out too small for those that did not.
OFFER_BELOW, OFFER_SD = 0.05, 0.15
EVIDENCE = ("asked", "weeks", "interest", "offers")
BAND = ("low", "likely", "high")


@dataclass(frozen=True)
class Positions:
    """Vehicles as they stand today. Prices are logs; `below` and `above` are standard deviations either side of
    likely."""

    index: pd.Index
    likely: Array
    below: Array
    above: Array
    today: Array
    days_gone: Array
    asks: list[tuple[tuple[float, float], ...]]
    offered: Array
    interest: Array
    free: NDArray[np.bool_]
    words: dict[str, NDArray[np.object_]]

    @property
    def weeks_gone(self) -> NDArray[np.int64]:
        """Whole weeks of exposure, shape (n,)."""
        return np.minimum(self.days_gone // DAYS_A_WEEK, LONGEST).astype(np.int64)

    def fresh_days(self, row: int) -> float:
        """For how many days from today the last ask is still a fresh cut; 0 where it is none."""
        pairs = self.asks[row]
        if len(pairs) < 2 or pairs[-1][1] >= pairs[-2][1]:
            return 0.0
        return max(FRESH_WEEKS * DAYS_A_WEEK - float(self.days_gone[row] - pairs[-1][0]), 0.0)

    def take(self, rows: slice) -> "Positions":
        """Some of the vehicles."""
        return Positions(
            self.index[rows], self.likely[rows], self.below[rows], self.above[rows], self.today[rows],
            self.days_gone[rows], self.asks[rows], self.offered[rows], self.interest[rows], self.free[rows],
            {name: words[rows] for name, words in self.words.items()},
        )  # fmt: skip


@dataclass(frozen=True)
class Unseen:
    """The unseen part of log value at some places, shape (n, n_places), with its chances before and after all evidence;
    `told` is the log likelihood of each kind of evidence there, 0 where there is none."""

    part: Array
    before: Array
    now: Array
    told: dict[str, Array]


def read_positions(model: TimeToSale, frame: pd.DataFrame, *, coverage: float) -> Positions:
    """Vehicles of stock as arrays.

    Parameters
    ----------
    model : fitted
    frame : one row per vehicle: `low`, `likely`, `high` of its band, in currency units; `on`, today; `exposed_days` so
        far, 0 or more; `asks` so far, pairs of day of exposure and amount (empty before the first); `best_offer`
        refused (may be missing); `interest`, how many inquired and were shown it so far (the column, or a count, may
        be missing); `followed`, whether the first ask was set beside a suggestion; the columns of kinds
    coverage : of the band, 0 to 1

    Returns
    -------
    Positions
        Its two sides are normal: a band of 80 % reaches 1.28 standard deviations either way.

    Raises
    ------
    BadInput
        Naming column and row.
    NotFitted
        The model has learned nothing.

    Examples: see `tests/valuation/test_unseen.py`, since a fit is needed.
    """
    model.check_fitted()
    low, likely, high = (np.log(_positive(frame, name=name)) for name in BAND)
    days, asks = number_column(frame, name="exposed_days"), column_of(frame, name="asks")
    _refuse(frame, bad=(low > likely) | (likely > high), name="likely", text="must be from low to high")
    _refuse(frame, bad=~(days >= 0), name="exposed_days", text="must be 0 or more")
    reach = float(norm.ppf((1 + coverage) / 2))
    return Positions(
        index=frame.index,
        likely=likely,
        below=np.maximum(likely - low, NARROWEST) / reach,
        above=np.maximum(high - likely, NARROWEST) / reach,
        today=known_dates(frame, name="on"),
        days_gone=days,
        asks=[asks_of(frame, row=row) if len(asks.iloc[row]) else () for row in range(len(frame))],
        offered=log_column(frame, name="best_offer"),
        interest=count_column(frame, name="interest"),
        free=~flag_column(frame, name="followed"),
        words={name: word_column(frame, name=name) for name in model.words},
    )


def unseen_of(model: TimeToSale, positions: Positions) -> Unseen:
    """The unseen part of each vehicle's value, by Bayes' rule.

    Returns
    -------
    Unseen
        `before` is normal by the band (its two sides apart), times the share of it that is value and not luck; `now`
        is `before` times the likelihood of

        - `asked`: the first ask, where it was not set beside a suggestion, as far as this lot's asks have known
          the value
        - `weeks`: no sale in each whole week so far, at the ask of that week: 1 - the chance of a sale in it
        - `interest`: how many inquired and were shown it so far, once a whole week has gone and if the lot has counted
          them for stays enough
        - `offers`: the best offer refused, normal around the value less what such offers usually lie below it

    Notes
    -----
    More weeks without a sale, at any ask, never raise it: their likelihood falls in u. More inquiries never lower it:
    the ratio of the likelihoods of two counts rises in u. Source: own derivation.

    Examples: see `tests/valuation/test_unseen.py`, since a fit is needed.
    """
    places, chances = nodes(FINE)
    share = float(expit(model.latent_.tail["share"]))
    side = np.where(places[None, :] < 0, positions.below[:, None], positions.above[:, None])
    part = share * side * places[None, :]
    before = np.broadcast_to(chances, part.shape)
    told = {
        "asked": _asked(model, positions, part=part),
        "weeks": _weeks(model, positions, part=part),
        "interest": _interest(model, positions, part=part),
        "offers": _offered(model, positions, part=part),
    }
    return Unseen(part, before, weighed(before, told=list(told.values())), told)


def weighed(before: Array, *, told: list[Array]) -> Array:
    """Chances after evidence, from those before it and log likelihoods; each row adds up to 1.

    Examples
    --------
    >>> weighed(np.array([[0.5, 0.5]]), told=[np.log([[0.2, 0.6]])]).round(4).tolist()
    [[0.25, 0.75]]
    """
    logs = sum(told, np.log(before))
    raised = np.exp(logs - logs.max(axis=1, keepdims=True))
    out: Array = raised / raised.sum(axis=1, keepdims=True)
    return out


def moved_bands(model: TimeToSale, positions: Positions, *, band: pd.DataFrame, coverage: float) -> pd.DataFrame:
    """The band after what the vehicle has shown since it was listed.

    Parameters
    ----------
    band : `low`, `likely`, `high` without that evidence, in currency units, on the index of the positions

    Returns
    -------
    On the same index: `low`, `likely`, `high` now; then `asked`, `weeks`, `interest`, `offers`: by which factor each
    kind of evidence moved the likely price when it was taken in, in that order (their product is likely now / likely
    before).

    Notes
    -----
    A log price is likely + unseen part + the rest of the band. The band's ends and its middle lie at three quantiles of
    that sum; what the quantiles are after the evidence is read on the same scale: straight lines between the three,
    slope 1 beyond them. So low, likely and high stay in order however lopsided the band, and without evidence nothing
    moves, to the last digit. Source: own derivation.

    Examples: see `tests/valuation/test_unseen.py`, since a fit is needed.
    """
    unseen = unseen_of(model, positions)
    tail = (1 - coverage) / 2
    points = np.array([tail, 0.5, 1 - tail])
    stages = [unseen.before]
    for upto in range(1, len(EVIDENCE) + 1):
        stages.append(weighed(unseen.before, told=[unseen.told[name] for name in EVIDENCE[:upto]]))
    quantiles = _quantiles(model, positions, part=unseen.part, stages=stages, points=points)
    ends = np.log(np.column_stack([band[name].to_numpy(dtype=np.float64) for name in BAND]))
    read = [_on_scale(stage, marks=quantiles[0], ends=ends) for stage in quantiles]
    shift = read[-1] - read[0]
    columns: dict[str, Array] = {
        name: band[name].to_numpy() * np.exp(shift[:, place]) for place, name in enumerate(BAND)
    }
    for place, name in enumerate(EVIDENCE):
        columns[name] = np.exp(read[place + 1][:, 1] - read[place][:, 1])
    return pd.DataFrame(columns, index=positions.index)


def _on_scale(values: Array, *, marks: Array, ends: Array) -> Array:
    """Values read where each row's three marks stand for its three ends: straight between, slope 1 beyond; (n, 3)."""
    inside = np.array([np.interp(*row) for row in zip(values, marks, ends, strict=True)])
    beyond = np.maximum(values - marks[:, 2:], 0.0) + np.minimum(values - marks[:, :1], 0.0)
    out: Array = inside + beyond
    return out


def _quantiles(
    model: TimeToSale, positions: Positions, *, part: Array, stages: list[Array], points: Array
) -> list[Array]:
    """Quantiles of unseen part plus rest under the chances of each stage, shape (n, n_points) each."""
    share = float(expit(model.latent_.tail["share"]))
    places, rest = nodes(REST)
    side = np.where(places[None, :] < 0, positions.below[:, None], positions.above[:, None])
    luck = np.sqrt(1 - share**2) * side * places[None, :]
    sums = (part[:, :, None] + luck[:, None, :]).reshape(len(part), -1)
    order = np.argsort(sums, axis=1, kind="stable")
    sums = np.take_along_axis(sums, order, axis=1)
    found = []
    for chances in stages:
        weights = np.take_along_axis((chances[:, :, None] * rest).reshape(len(part), -1), order, axis=1)
        upto = np.cumsum(weights, axis=1) - weights / 2
        found.append(np.array([np.interp(points, upto[row], sums[row]) for row in range(len(part))]))
    return found


def _asked(model: TimeToSale, positions: Positions, *, part: Array) -> Array:
    tail = model.latent_.tail
    first = np.array([np.log(pairs[0][1]) if pairs else np.nan for pairs in positions.asks])
    known = (positions.free & ~np.isnan(first))[:, None]
    miss = (np.nan_to_num(first - positions.likely)[:, None] - tail["asked"] - tail["knowing"] * part) / np.exp(
        tail["log_markup"]
    )
    out: Array = np.where(known, -0.5 * miss**2, 0.0)
    return out


def _offered(model: TimeToSale, positions: Positions, *, part: Array) -> Array:
    off = positions.offered - positions.likely + OFFER_BELOW
    out: Array = np.where(np.isnan(off)[:, None], 0.0, -0.5 * ((np.nan_to_num(off)[:, None] - part) / OFFER_SD) ** 2)
    return out


def _weeks(model: TimeToSale, positions: Positions, *, part: Array) -> Array:
    """Log chance that no week so far brought a sale."""
    gone, who, ask, fresh = _gone(positions)
    out = np.zeros_like(part)
    if not len(who):
        return out
    week = np.arange(len(who)) - np.repeat(np.cumsum(gone) - gone, gone) + 1
    days = positions.today[who] - DAYS_A_WEEK * (gone[who] - week + 0.5)
    odds = weekly_odds(model, positions, who=who, week=week, days=days, fresh=fresh)
    steep, buyers = (np.exp(model.latent_.tail[name]) for name in ("log_steep", "log_buyers"))
    above = (ask - positions.likely[who])[:, None] - part[who]
    np.add.at(out, who, -buyers * expit(odds[:, None] - steep * above))
    return out


def _interest(model: TimeToSale, positions: Positions, *, part: Array) -> Array:
    """Log likelihood of how many inquired so far."""
    _, who, ask, _ = _gone(positions)
    ratio = mean_by_stay(ask - positions.likely[who], stay=who, count=len(part))
    known = ~np.isnan(positions.interest) & ~np.isnan(ratio) & model.knows_interest_
    tail = model.latent_.tail
    above = np.nan_to_num(ratio)[:, None] - part
    log_mean = np.log(weeks_on_offer(positions.days_gone))[:, None] + tail["log_interest"]
    told, _ = log_count(
        np.nan_to_num(positions.interest)[:, None], log_mean=log_mean - np.exp(tail["log_drawn"]) * above
    )
    out: Array = np.where(known[:, None], told, 0.0)
    return out


def _gone(positions: Positions) -> tuple[NDArray[np.int64], NDArray[np.int64], Array, Array]:
    """Whole weeks so far since a first ask; then for each of them whose it is, its log ask, and whether freshly cut."""
    gone = np.where([bool(pairs) for pairs in positions.asks], positions.weeks_gone, 0)
    ask, fresh = asks_until([pairs or ((0.0, 1.0),) for pairs in positions.asks], at_risk=gone)
    return gone, np.repeat(np.arange(len(gone)), gone), ask, fresh


def weekly_odds(
    model: TimeToSale,
    positions: Positions,
    *,
    who: Any,
    week: NDArray[Any],
    days: Array,
    fresh: Array,
    weights: Array | None = None,
) -> Array:
    """Log odds of a sale in weeks of some vehicles, at an ask equal to their value.

    A cut counts as drawing people back, never as sending them away.
    """
    design = model.columns_.design(
        week=week, season=season_of(days), fresh=fresh, likely=positions.likely[who],
        words={name: values[who] for name, values in positions.words.items()},
    )  # fmt: skip
    used = (model.latent_.weights if weights is None else weights).copy()
    place = len(used) - len(model.columns_.kinds) - 2
    used[place] = max(used[place], 0.0)
    out: Array = design @ used
    return out


def _positive(frame: pd.DataFrame, *, name: str) -> Array:
    values = number_column(frame, name=name)
    _refuse(frame, bad=~(values > 0), name=name, text="must be above 0")
    return values


def _refuse(frame: pd.DataFrame, *, bad: NDArray[np.bool_], name: str, text: str) -> None:
    if bad.any():
        at = int(np.argmax(bad))
        row = frame.index[at]
        raise BadInput(f"{name} {text}, got {frame[name].iloc[at]} in row {row!r}", column=name, row=row)
