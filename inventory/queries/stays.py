"""How long stays were for sale, at which asks, and how they ended: for the fit of time to sale and for the stock."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.db.models import QuerySet
from django.utils import timezone

from inventory.models import AskChange, Charge, Consignment, LienQuote, Offer, PriceOpinion, SaleOutcome, Terms
from inventory.queries.exposure import closed_spans
from inventory.queries.history import FIT_COLUMNS, stock_subjects
from inventory.queries.interest import counted_since, days_of_interest
from inventory.queries.settlements import Floor, floor_on
from inventory.rules.exposure import Closed, Exposure, asks_by_day, exposure_of
from inventory.rules.states import State
from inventory.rules.words import Result, SaleChannel

FOR_SALE = (State.LISTED, State.DEPOSIT)  # a stay under deposit is censored at the day the deal began
OUTCOME_COLUMNS = (
    *FIT_COLUMNS, "consignment_id", "result", "reason", "listed_on", "first_ask", "arms_length", "deal__began_on",
    "deal__offer_id",
)  # fmt: skip

# Why a stay tells nothing of time to sale.
SET_ASIDE, NO_LISTED_DAY, NO_ASK, ENDED_BEFORE = "set_aside", "no_listed_day", "no_ask", "ended_before_listed"

Row = dict[str, Any]


@dataclass(frozen=True)
class Told:
    """What is recorded beside the stays themselves, by stay."""

    closed: Mapping[int, list[Closed]] = field(default_factory=dict)
    asks: Mapping[int, list[AskChange]] = field(default_factory=dict)
    offers: Mapping[int, list[tuple[int, Decimal]]] = field(default_factory=dict)
    interest: Mapping[int, list[date]] = field(default_factory=dict)
    interest_since: date | None = None  # the day the lot first recorded an inquiry or a showing

    def exposure(self, stay_id: int | None, *, listed_on: date) -> Exposure:
        return exposure_of(listed_on, closed=self.closed.get(stay_id, ()) if stay_id is not None else ())

    def asks_of(self, stay_id: int | None) -> list[tuple[date, Decimal]]:
        return [(ask.on, ask.amount) for ask in self.asks.get(stay_id, ())] if stay_id is not None else []

    def followed(self, stay_id: int | None) -> bool:
        return stay_id is not None and followed_first(self.asks.get(stay_id, ()))

    def offers_of(self, stay_id: int | None, *, became: int | None = None) -> Row:
        """How many offers there were, and the best of those that did not become the sale."""
        rows = self.offers.get(stay_id, []) if stay_id is not None else []
        best = max((amount for offer_id, amount in rows if offer_id != became), default=None)
        return {"offers": len(rows), "best_offer": best}

    def interest_of(self, stay_id: int | None, *, exposure: Exposure, days: int) -> int | None:
        """Inquiries and showings on its exposed days; None where the lot did not count them yet when it was listed."""
        if stay_id is None or self.interest_since is None or exposure.listed_on < self.interest_since:
            return None
        return exposure.among_first(days, on=self.interest.get(stay_id, ()))


def followed_first(asks: Sequence[AskChange]) -> bool:
    """Whether the first ask of a stay was set beside a suggestion: then it is a choice of what to aim for, and tells
    nothing of the vehicle that the band did not know, even where it departs."""
    return bool(asks) and asks[0].suggested is not None


def stays_for_fit(*, on: date) -> tuple[list[Row], dict[str, int]]:
    """One row for each stay that ended and each that is for sale on a day; and how many tell nothing, by reason.

    A row has the model inputs of `FIT_COLUMNS` and: `outcome_id` (None for stock), `stay_id` (None for imports),
    `listed_on`, `ended` (None while for sale; `ended_on` is then the day asked about), `end` (sold, withdrawn or
    listed), `reason`, `exposed_days`, `price` (None unless sold), `arms_length`, `asks` as (exposed day from, amount),
    `best_offer`, `offers`, `followed` (whether the first ask was set beside a suggestion) and `interest`: inquiries and
    showings on the exposed days, None for imports and where the lot had recorded none of either on any vehicle by the
    day the stay was listed. Imports know their first ask only: it is taken as constant.
    """
    left_out: Counter[str] = Counter()
    told = told_of(Consignment.objects.filter(listed_on__isnull=False))
    ended = [_ended(row, told=told) for row in _ends_of_chains()]
    stock = [_for_sale(stay, told=told, row=row, on=on) for stay, row in stock_subjects(on=on, states=FOR_SALE)]
    rows: list[Row] = []
    for row_or_reason in (*ended, *stock):
        if isinstance(row_or_reason, str):
            left_out[row_or_reason] += 1
        else:
            rows.append(row_or_reason)
    return rows, dict(left_out)


def told_of(stays: QuerySet[Consignment]) -> Told:
    """In nine queries, however many stays."""
    asks, offers = defaultdict(list), defaultdict(list)
    for ask in AskChange.objects.filter(consignment__in=stays).order_by("pk"):
        asks[ask.consignment_id].append(ask)
    for stay_id, offer_id, amount in (
        Offer.objects.filter(consignment__in=stays).order_by("pk").values_list("consignment_id", "pk", "amount")
    ):
        offers[stay_id].append((offer_id, amount))
    return Told(closed_spans(stays), asks, offers, days_of_interest(stays), counted_since())


def _ends_of_chains() -> Iterable[Row]:
    """As dicts: a lot may bring 100,000 imported sales."""
    ends = SaleOutcome.objects.filter(followed_by__isnull=True).order_by("ended_on", "pk")
    rows: Iterable[Row] = ends.values(*OUTCOME_COLUMNS)
    return rows


def _ended(row: Row, *, told: Told) -> Row | str:
    """One end of a stay as a row of the fit, or why it tells nothing."""
    listed_on, stay_id = row["listed_on"], row["consignment_id"]
    if row["result"] == Result.VOID:
        return SET_ASIDE
    if listed_on is None:
        return NO_LISTED_DAY
    if row["ended_on"] < listed_on:
        return ENDED_BEFORE
    sold = row["result"] == Result.SOLD
    day = _day_of_end(row) if sold else row["ended_on"]
    exposure = told.exposure(stay_id, listed_on=listed_on)
    asks = [ask for ask in told.asks_of(stay_id) if ask[0] <= day] or _first_ask(row)
    if not asks:
        return NO_ASK
    days = exposure.days_until_sold(day) if sold else exposure.days_until_left(day)
    return {
        **{name: row[name] for name in FIT_COLUMNS},
        "channel": row["channel"] if sold else SaleChannel.LOT.value,  # as `subject` sees what is unsold
        "outcome_id": row["id"], "stay_id": stay_id, "listed_on": listed_on, "ended": row["ended_on"],
        "end": row["result"], "reason": row["reason"], "exposed_days": days,
        "price": row["effective_price"] if sold else None, "arms_length": row["arms_length"],
        "asks": asks_by_day(asks, exposure=exposure, days=days), "followed": told.followed(stay_id),
        "interest": told.interest_of(stay_id, exposure=exposure, days=days),
        **told.offers_of(stay_id, became=row["deal__offer_id"] if sold else None),
    }  # fmt: skip


def _day_of_end(row: Row) -> date:
    """The day a buyer was found: when the deal began, unless the sale is dated before it."""
    ended_on: date = row["ended_on"]
    began_on: date = row["deal__began_on"] or ended_on
    listed_on: date = row["listed_on"]
    return max(min(ended_on, began_on), listed_on)


def _first_ask(row: Row) -> list[tuple[date, Decimal]]:
    return [] if row["first_ask"] is None else [(row["listed_on"], row["first_ask"])]


def _for_sale(stay: Consignment, *, told: Told, row: Row, on: date) -> Row | str:
    """A stay that is for sale, or held by a deposit, as a row of the fit; or why it tells nothing."""
    if stay.listed_on is None:
        return NO_LISTED_DAY
    asks = told.asks_of(stay.pk)
    if not asks:
        return NO_ASK
    exposure = told.exposure(stay.pk, listed_on=stay.listed_on)
    days = exposure.days_before(on)
    return {
        **{name: row.get(name) for name in FIT_COLUMNS},
        "outcome_id": None, "stay_id": stay.pk, "listed_on": stay.listed_on, "ended": None, "end": "listed",
        "reason": "", "exposed_days": days, "price": None, "arms_length": True,
        "asks": asks_by_day(asks, exposure=exposure, days=days), "followed": told.followed(stay.pk),
        "interest": told.interest_of(stay.pk, exposure=exposure, days=days),
        **told.offers_of(stay.pk),
    }  # fmt: skip


# the stock


@dataclass(frozen=True)
class OpinionSeen:
    """A band without what it was worked out from."""

    low: Decimal
    likely: Decimal
    high: Decimal
    coverage_percent: int
    at: datetime


@dataclass(frozen=True)
class Listed:
    """One stay that is listed or under deposit, with what a screen says of it. `row` is that of `stays_for_fit`."""

    stay: Consignment
    row: Row
    asks: tuple[AskChange, ...]
    exposure: Exposure
    exposed_days: int
    opinion: OpinionSeen | None
    opinion_at_listing: OpinionSeen | None
    terms: Terms | None
    charges: list[Charge]
    floor: Floor

    @property
    def ask(self) -> AskChange:
        return self.asks[-1]

    @property
    def agreement_ends_on(self) -> date | None:
        return None if self.terms is None else self.terms.ends_on


def listed_stock(*, on: date) -> list[Listed]:
    """Everything listed or under deposit, oldest stay first: a fixed number of queries, however many."""
    stays = Consignment.objects.filter(state__in=FOR_SALE)
    told, opinions = told_of(stays), _opinions(stays)
    terms, charges = _terms(stays), _charges(stays)
    found = []
    for stay, subject in stock_subjects(on=on, states=FOR_SALE):
        row = _for_sale(stay, told=told, row=subject, on=on)
        if isinstance(row, str) or stay.listed_on is None:  # no move leads there: a listed stay has its day and an ask
            continue
        found.append(
            Listed(
                stay, row, asks=tuple(told.asks[stay.pk]),
                exposure=told.exposure(stay.pk, listed_on=stay.listed_on), exposed_days=row["exposed_days"],
                opinion=_latest(opinions.get(stay.pk, [])),
                opinion_at_listing=_latest(opinions.get(stay.pk, []), until=stay.listed_on),
                terms=terms.get(stay.pk), charges=charges.get(stay.pk, []),
                floor=floor_on(on, terms=terms.get(stay.pk), charges=charges.get(stay.pk, [])),
            )
        )  # fmt: skip
    return found


def _opinions(stays: QuerySet[Consignment]) -> dict[int, list[OpinionSeen]]:
    """All bands given of each stay, oldest first."""
    found: dict[int, list[OpinionSeen]] = defaultdict(list)
    for stay_id, low, likely, high, coverage, at in (
        PriceOpinion.objects.filter(consignment__in=stays)
        .order_by("pk")
        .values_list("consignment_id", "low", "likely", "high", "coverage_percent", "at")
    ):
        found[stay_id].append(OpinionSeen(low, likely, high, coverage, at))
    return found


def _latest(opinions: list[OpinionSeen], *, until: date | None = None) -> OpinionSeen | None:
    """The last band given, or the last one given up to a day."""
    return next((seen for seen in reversed(opinions) if until is None or timezone.localdate(seen.at) <= until), None)


def _terms(stays: QuerySet[Consignment]) -> dict[int, Terms]:
    """The terms in effect of each stay, with the payoff quote that came after them."""
    quotes: dict[int, LienQuote] = {
        quote.consignment_id: quote for quote in LienQuote.objects.filter(consignment__in=stays).order_by("pk")
    }
    found: dict[int, Terms] = {}
    for terms in Terms.objects.filter(consignment__in=stays).ranked():
        quote = quotes.get(terms.consignment_id)
        terms.last_quote = quote if quote is not None and quote.at >= terms.at else None
        found.setdefault(terms.consignment_id, terms)
    return found


def _charges(stays: QuerySet[Consignment]) -> dict[int, list[Charge]]:
    """Charges that stand, as `facts.live_charges` has them."""
    rows = Charge.objects.filter(consignment__in=stays, sets_aside__isnull=True, set_aside_by__isnull=True)
    found: dict[int, list[Charge]] = defaultdict(list)
    for charge in rows.order_by("pk"):
        found[charge.consignment_id].append(charge)
    return found
