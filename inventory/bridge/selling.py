"""Time to sale, and what may come of an ask: stays become a frame, chances and prices come back as plain values and
money."""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

import numpy as np
import pandas as pd

from inventory.bridge.elsewhere import elsewhere_of
from inventory.bridge.frames import frame_of, money_of
from inventory.errors import Refused
from valuation import BadStore, NotConverged, vehicle_model
from valuation.ahead import Plan
from valuation.latent import PRIORS
from valuation.outlook import Outlook, glance, outlooks
from valuation.then import as_then
from valuation.time_to_sale import LATEST, TimeToSale, selling_from_dict
from valuation.unseen import EVIDENCE, moved_bands, read_positions

FAILED = "not_learned"
HALF = 0.5
USUAL_LEFT = round(100 * 1.1 ** -math.exp(PRIORS["log_steep"][0]))
MOST_SALES = 3_000  # sales that a likely price of then is made from: older ones hardly count in it


@dataclass(frozen=True, kw_only=True)
class Standing:
    """A vehicle as it stands today: its band without what it has shown, and what it has shown."""

    row: Mapping[str, Any]
    low: Decimal
    likely: Decimal
    high: Decimal
    coverage_percent: int
    on: date
    exposed_days: int = 0
    asks: tuple[tuple[int, Decimal], ...] = ()
    best_offer: Decimal | None = None
    followed: bool = False
    interest: int | None = None  # inquiries and showings so far; None where nobody counted


@dataclass(frozen=True, kw_only=True)
class Asking:
    """An ask from today on, perhaps lowered after some days."""

    ask: Decimal
    step_to: Decimal | None = None
    step_after_days: int = 0

    def as_plan(self) -> Plan:
        return Plan(float(self.ask), None if self.step_to is None else float(self.step_to), self.step_after_days)


@dataclass(frozen=True)
class Chance:
    """A chance, and the range that the chances of 80 of 100 vehicles like it are stated to lie in."""

    likely: float
    low: float
    high: float


@dataclass(frozen=True)
class Prospect:
    """What may come of one way of asking; shares of `prices` and `unsold` add up to 1 exactly."""

    asking: Asking
    chances: tuple[Chance, ...]
    prices: tuple[tuple[Decimal, Decimal], ...]
    unsold: Decimal
    unsold_value: Decimal
    days: Decimal


@dataclass(frozen=True)
class Moved:
    """The band after what a vehicle has shown, and by which factor each kind of evidence moved the likely price."""

    low: Decimal
    likely: Decimal
    high: Decimal
    by: dict[str, float]


@dataclass(frozen=True)
class Glance:
    chance: float
    price: Decimal
    days: Decimal
    unsold_value: Decimal


@dataclass(frozen=True)
class Selling:
    """What was learned of selling, in short."""

    enough: bool
    notes: tuple[str, ...]
    stays: int
    sold: int
    taken: int
    own_share: float
    asked_low: float
    asked_high: float

    @property
    def leans(self) -> str:
        """A sentence where what an ask does to the chance rests more on the usual than on the lot's own stays."""
        if not self.enough or self.own_share >= HALF:
            return ""
        return (
            f"What an ask does to the chance leans on the usual (a tenth more asked leaves about {USUAL_LEFT} of 100 "
            f"buyers) more than on this lot's {self.stays} stays: they tell {self.own_share * 100:.0f} percent of it."
        )


def learn_selling(
    stays: Sequence[Mapping[str, Any]],
    *,
    sales: Sequence[Mapping[str, Any]],
    coverage_percent: int,
    elsewhere: Sequence[Mapping[str, Any]] = (),
) -> dict[str, Any]:
    """Fit time to sale to stays, each held against the likely price of the day it was listed.

    `stays` as of `queries.stays.stays_for_fit`; `sales` are rows of the history with their `effective_price`. Give
    `elsewhere` only where the band rests on sales elsewhere too: the likely prices of then are used unasked.
    """
    latest = sorted(stays, key=lambda stay: (stay["listed_on"], stay["exposed_days"]))[-LATEST:]
    frame = frame_of(latest).assign(**{name: [stay[name] for stay in latest] for name in _STAY})
    frame["best_offer"], frame["price"] = pd.to_numeric(frame["best_offer"]), pd.to_numeric(frame["price"])
    frame.loc[[not stay["arms_length"] for stay in latest], "price"] = np.nan  # sold, but at no price of a market
    frame["interest"] = _counts(stay.get("interest") for stay in latest)
    frame["asks"] = _asks(stay["asks"] for stay in latest)
    frame["followed"] = [bool(stay.get("followed")) for stay in latest]
    frame = frame[frame["exposed_days"] > 0]
    model = TimeToSale()
    if frame.empty:
        return {}
    recent, others = (sorted(rows, key=lambda sale: sale["ended_on"])[-MOST_SALES:] for rows in (sales, elsewhere))
    if recent:
        then = as_then(
            vehicle_model(coverage=coverage_percent / 100), frame, on=frame["listed_on"], sales=frame_of(recent),
            price=[float(sale["effective_price"]) for sale in recent], elsewhere=elsewhere_of(others),
        )  # fmt: skip
        frame = frame.assign(likely=np.exp(then["median"]), sd=then["sd"])
    else:
        frame = frame.assign(likely=np.nan, sd=np.nan)
    try:
        learned: dict[str, Any] = model.fit(frame).to_dict()
    except NotConverged as problem:  # the band does not depend on it: the fit stands, and says so
        return {FAILED: str(problem)}
    return learned


_STAY = ("listed_on", "exposed_days", "end", "reason", "price", "best_offer")


def selling_of(state: Mapping[str, Any]) -> Selling:
    """What a stored fit says of itself; one that has none says so."""
    if not state:
        return _nothing_learned("the last fit has learned nothing of time to sale yet: fit it again")
    if FAILED in state:
        return _nothing_learned(f"the last fit could not settle what an ask does: {state[FAILED]}")
    model = _read_back(state)
    if not model.enough_:
        return Selling(False, tuple(model.notes_), model.stays_used_, model.sold_, model.taken_, 0.0, 1.0, 1.0)
    return Selling(
        True, tuple(model.notes_), model.stays_used_, model.sold_, model.taken_, model.own_share_,
        *model.asked_range_,
    )  # fmt: skip


def _nothing_learned(why: str) -> Selling:
    return Selling(False, (why,), 0, 0, 0, 0.0, 1.0, 1.0)


def moved_of(standings: Sequence[Standing], *, state: Mapping[str, Any]) -> list[Moved]:
    """The bands after what each vehicle has shown since it was listed."""
    found: list[Moved | None] = [None] * len(standings)
    model = _read_back(state)
    for coverage, places in _by_coverage(standings).items():
        some = [standings[place] for place in places]
        frame = _frame(some)
        bands = moved_bands(model, read_positions(model, frame, coverage=coverage), band=frame, coverage=coverage)
        for place, band in zip(places, bands.to_dict("records"), strict=True):
            low, likely, high = (money_of(band[name]) for name in ("low", "likely", "high"))
            found[place] = Moved(low, likely, high, {name: float(band[name]) for name in EVIDENCE})
    return [band for band in found if band is not None]


def prospects_of(
    standing: Standing,
    *,
    ways: Sequence[Asking],
    days: Sequence[int],
    last_day: int,
    floor: Decimal | None,
    state: Mapping[str, Any],
) -> list[Prospect]:
    """What may come of each way of asking for one vehicle; chances by each of the days from today."""
    model = _read_back(state)
    positions = read_positions(model, _frame([standing]), coverage=standing.coverage_percent / 100)
    found = outlooks(
        model, positions, plans=[way.as_plan() for way in ways], days=list(days), last_day=last_day,
        floor=None if floor is None or floor <= 0 else float(floor),
    )  # fmt: skip
    return [_prospect(way, outlook) for way, outlook in zip(ways, found, strict=True)]


def glances_of(
    standings: Sequence[Standing], *, ways: Sequence[Sequence[Asking]], last_days: Sequence[int],
    floors: Sequence[Decimal | None], state: Mapping[str, Any],
) -> list[list[Glance]]:  # fmt: skip
    """The same in short for many vehicles, each with as many ways of asking, and without ranges."""
    model = _read_back(state)
    found: list[list[Glance]] = [[] for _ in standings]
    for coverage, places in _by_coverage(standings).items():
        frame = _frame([standings[place] for place in places])
        table = glance(
            model, read_positions(model, frame, coverage=coverage),
            plans=[[way.as_plan() for way in ways[place]] for place in places],
            last_days=np.array([float(last_days[place]) for place in places]),
            floors=np.array([_float_or_nan(floors[place]) for place in places]),
        )  # fmt: skip
        rows = iter(table.to_dict("records"))
        for place in places:
            found[place] = [_glance(next(rows)) for _ in ways[place]]
    return found


def _glance(row: Mapping[Any, Any]) -> Glance:
    return Glance(float(row["chance"]), money_of(row["price"]), money_of(row["days"]), money_of(row["unsold_value"]))


def _prospect(way: Asking, outlook: Outlook) -> Prospect:
    prices = tuple((money_of(price), _share(share)) for price, share in outlook.prices)
    unsold = Decimal(1) - sum((share for _, share in prices), Decimal(0))
    if unsold < 0:  # the sale is certain in six places, and rounding made it more: the likeliest price gives it back
        place = max(range(len(prices)), key=lambda number: prices[number][1])
        price, share = prices[place]
        prices, unsold = (*prices[:place], (price, share + unsold), *prices[place + 1 :]), Decimal(0)
    chances = tuple(Chance(found.likely, found.low, found.high) for found in outlook.chances)
    return Prospect(way, chances, prices, unsold, money_of(outlook.unsold_value), money_of(outlook.days))


def _share(share: float) -> Decimal:
    return Decimal(f"{share:.6f}")


def _float_or_nan(amount: Decimal | None) -> float:
    return float("nan") if amount is None or amount <= 0 else float(amount)


def _by_coverage(standings: Sequence[Standing]) -> dict[float, list[int]]:
    found: dict[float, list[int]] = {}
    for place, standing in enumerate(standings):
        found.setdefault(standing.coverage_percent / 100, []).append(place)
    return found


def _frame(standings: Iterable[Standing]) -> pd.DataFrame:
    some = list(standings)
    return frame_of(standing.row for standing in some).assign(
        low=[float(standing.low) for standing in some], likely=[float(standing.likely) for standing in some],
        high=[float(standing.high) for standing in some], on=[standing.on.isoformat() for standing in some],
        exposed_days=[float(standing.exposed_days) for standing in some],
        asks=_asks(standing.asks for standing in some),
        best_offer=[float("nan") if standing.best_offer is None else float(standing.best_offer) for standing in some],
        followed=[standing.followed for standing in some], interest=_counts(standing.interest for standing in some),
    )  # fmt: skip


def _asks(given: Iterable[Iterable[tuple[int, Decimal]]]) -> "pd.Series[Any]":
    return pd.Series([tuple((float(day), float(ask)) for day, ask in pairs) for pairs in given], dtype=object)


def _counts(given: Iterable[int | None]) -> list[float]:
    return [float("nan") if count is None else float(count) for count in given]


def _read_back(state: Mapping[str, Any]) -> TimeToSale:
    try:
        return selling_from_dict(dict(state))
    except BadStore as problem:
        raise Refused(
            "fit_unreadable", "What the last fit learned of selling was made by another version.", field="fit",
            mend="Fit it again: the button on the page of past sales, or manage.py fit.",
        ) from problem  # fmt: skip
