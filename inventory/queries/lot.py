"""The lot screen: who is here, in which state, and what needs a person today."""

from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from enum import IntEnum
from functools import cached_property

from django.core.paginator import Page, Paginator
from django.db.models import Case, Count, Exists, F, IntegerField, OuterRef, Q, QuerySet, Subquery, Value, When
from django.db.models.functions import Coalesce

from inventory.errors import NotFound
from inventory.models import (
    AskChange,
    Consignment,
    Deal,
    IdentityNumber,
    IntakeInspection,
    Lot,
    Movement,
    Offer,
    PriceOpinion,
    SaleOutcome,
    Terms,
    TitlePaper,
)
from inventory.models.phones import bare_phone
from inventory.queries.flags import flagged_stays
from inventory.rules import identity, money
from inventory.rules.people import sought_digits
from inventory.rules.roles import Act, Actor, may
from inventory.rules.states import BEFORE_SOLD, State
from inventory.rules.titles import OWNERSHIP
from inventory.rules.words import PaperStanding, Result

PER_PAGE = 50
SHOWN_TODAY = 8
AGREEMENT_WARNING_DAYS = 14  # common practice, no source


class Need(IntEnum):
    """What a person does next about a stay; the greater, the more money waits on it."""

    NOTHING = 0
    AWAIT_ARRIVAL = 1
    AWAIT_BUYER = 2
    RELEASE = 3
    HAND_BACK = 4
    LIST = 5
    RECORD_PAPERS = 6
    SIGN_TERMS = 7
    # from here on it belongs to today
    INSPECT = 10
    AGED = 11
    BELOW_BAND = 12
    ABOVE_BAND = 13
    AGREEMENT_ENDING = 14
    AGREEMENT_ENDED = 15
    ANSWER_OFFER = 16
    HOLD_ENDED = 17
    CLEAR_MONEY = 18
    FLAGGED = 19


TODAY = Need.INSPECT
URGENT = Need.AGREEMENT_ENDING


@dataclass(frozen=True)
class LotRow:
    """One line of the lot screen, with money already written out."""

    stock_number: str
    vehicle: str
    consignor: str
    state: str
    state_label: str
    place: str
    keys: str
    days: int | None
    ask: str
    next_step: str
    urgent: bool
    step_page: str  # the name of the page where the next step is done
    is_own: bool  # the lot's own


@dataclass(frozen=True)
class Filters:
    text: str = ""
    state: str = ""
    here_only: bool = True
    today_only: bool = False


@dataclass(frozen=True, kw_only=True)
class Looking:
    """Who looks, on which day, at which lot: what needs a person depends on all three."""

    by: Actor
    lot: Lot
    today: date

    @cached_property
    def flagged(self) -> dict[int, int]:
        """Open safety flags of each stay that has some."""
        return flagged_stays()


def consignment_id_of(stock_number: str) -> int:
    pk = Consignment.objects.filter(stock_number=stock_number).values_list("pk", flat=True).first()
    if pk is None:
        raise NotFound(
            "not_found", f"There is no stock number {stock_number}.", field="stock_number", got=stock_number,
            mend="Look it up on the lot screen.",
        )  # fmt: skip
    return pk


def _latest(model: type, *, column: str, **where: object) -> Subquery:
    rows = model.objects.filter(consignment=OuterRef("pk"), **where).order_by("-pk")  # type: ignore[attr-defined]
    return Subquery(rows.values(column)[:1])


def _in_effect(column: str) -> Subquery:
    """Of the terms in effect."""
    return Subquery(Terms.objects.filter(consignment=OuterRef("pk")).ranked().values(column)[:1])


def consignments(filters: Filters) -> QuerySet[Consignment]:
    """Stays with all that a line shows, in one query."""
    rows = Consignment.objects.select_related("vehicle", "consignor").annotate(
        ask=_latest(AskChange, column="amount"),
        place=_latest(Movement, column="place"),
        keys=_latest(Movement, column="keys"),
        agreement_ends_on=_in_effect("ends_on"),
        terms_accepted=_in_effect("accepted"),
        hold_until=_latest(Deal, column="hold_until", end=""),
        band_low=_latest(PriceOpinion, column="low"),
        band_high=_latest(PriceOpinion, column="high"),
        walk_open=_latest(IntakeInspection, column="pk", finished_at__isnull=True),
        unanswered=_latest(Offer, column="amount", answers__isnull=True),
        sold_on=_latest(SaleOutcome, column="ended_on", followed_by__isnull=True, result=Result.SOLD),
        title_read=Exists(
            TitlePaper.objects.filter(vehicle=OuterRef("vehicle"), kind__in=OWNERSHIP, standing=PaperStanding.READ)
        ),
        since=Coalesce(F("arrived_on"), F("booked_on")),
    )
    if filters.here_only:
        rows = rows.filter(released_on__isnull=True)
    if filters.state:
        rows = rows.filter(state=filters.state)
    if filters.text:
        rows = rows.alias(phone_digits=bare_phone("consignor__phone")).filter(_found(filters.text))
    return rows.order_by("-pk")


def _found(text: str) -> Q:
    """Every word fits somewhere, or the whole is the end or middle of somebody's phone number."""
    found = Q()
    for word in text.split():
        found &= _matches(word)
    whole = sought_digits(text)
    return found | Q(phone_digits__contains=whole) if whole else found


def _matches(word: str) -> Q:
    found = Q(stock_number__icontains=word) | Q(key_tag__iexact=word)
    if number := identity.normalise(word):
        found |= Q(vehicle__serial__iendswith=number)
        read = IdentityNumber.objects.filter(vehicle=OuterRef("vehicle"), value__iendswith=number)
        found |= Q(Exists(read))
    for column in ("vehicle__make", "vehicle__model", "consignor__name", "consignor__phone"):
        found |= Q(**{f"{column}__icontains": word})
    if digits := sought_digits(word):
        found |= Q(phone_digits__contains=digits)
    found |= Q(Exists(Deal.objects.filter(consignment=OuterRef("pk"), buyer__icontains=word)))
    return found | Q(vehicle__year=int(word)) if word.isascii() and word.isdigit() and len(word) == 4 else found


def the_only(text: str) -> str:
    """The stock number of the one vehicle here that this names, by its own number or tag before all else; else ""."""
    here = consignments(Filters()).values_list("stock_number", flat=True)
    named = list(here.filter(Q(stock_number__iexact=text) | Q(key_tag__iexact=text))[:2])
    found = named or list(consignments(Filters(text=text)).values_list("stock_number", flat=True)[:2])
    return found[0] if text and len(found) == 1 else ""


def with_need(rows: QuerySet[Consignment], *, looking: Looking) -> QuerySet[Consignment]:
    """Each stay with what it needs next, for whoever may do it; the first case that holds counts."""
    cases = [When(state=State.RELEASED, then=Value(Need.NOTHING))]  # first: of those that left nothing is looked up
    cases += [When(state__in=BEFORE_SOLD, pk__in=list(looking.flagged), then=Value(Need.FLAGGED))]
    cases += _money_cases(looking) if may(looking.by, Act.SEE_MONEY) else []
    if may(looking.by, Act.INSPECT):
        cases.append(When(state=State.ON_LOT, then=Value(Need.INSPECT)))
    cases += _waiting_cases(looking)
    return rows.annotate(need=Case(*cases, default=Value(Need.NOTHING), output_field=IntegerField()))


def _money_cases(looking: Looking) -> list[When]:
    today = looking.today
    listed = Q(state=State.LISTED)
    aged_since = today - timedelta(days=looking.lot.aged_after_days)
    return [
        When(state=State.SOLD, then=Value(Need.CLEAR_MONEY)),
        When(state=State.DEPOSIT, hold_until__lt=today, then=Value(Need.HOLD_ENDED)),
        When(listed & Q(unanswered__isnull=False), then=Value(Need.ANSWER_OFFER)),
        When(listed & Q(agreement_ends_on__lt=today), then=Value(Need.AGREEMENT_ENDED)),
        When(
            listed & Q(agreement_ends_on__lte=today + timedelta(days=AGREEMENT_WARNING_DAYS)),
            then=Value(Need.AGREEMENT_ENDING),
        ),
        When(listed & Q(ask__gt=F("band_high")), then=Value(Need.ABOVE_BAND)),
        When(listed & Q(ask__lt=F("band_low")), then=Value(Need.BELOW_BAND)),
        When(listed & Q(listed_on__lt=aged_since), then=Value(Need.AGED)),
    ]


def _waiting_cases(looking: Looking) -> list[When]:
    always = [
        When(state=State.BOOKED, then=Value(Need.AWAIT_ARRIVAL)),
        When(state=State.INSPECTED, title_read=False, then=Value(Need.RECORD_PAPERS)),
    ]
    if not may(looking.by, Act.SEE_MONEY):
        return always
    return [
        When(
            Q(terms_accepted__isnull=True) | Q(terms_accepted=0),
            state=State.INSPECTED,
            consignor__is_lot=False,
            then=Value(Need.SIGN_TERMS),
        ),
        *always,
        When(state=State.INSPECTED, then=Value(Need.LIST)),
        When(state=State.DEPOSIT, then=Value(Need.AWAIT_BUYER)),
        When(state=State.WITHDRAWN, then=Value(Need.HAND_BACK)),
        When(state=State.SETTLED, released_on__isnull=True, then=Value(Need.RELEASE)),
    ]


def lot_page(filters: Filters, *, number: str, looking: Looking) -> tuple[Page[int], list[LotRow]]:
    """One page of the list, what waits longest for money first.

    First which stays are on it, then what their lines show: else all that a line shows is looked up of every stay
    there ever was, before the order is known.
    """
    found = with_need(consignments(filters), looking=looking)
    if filters.today_only:
        found = found.filter(Q(need__gte=TODAY))
    page = Paginator(found.order_by(F("need").desc(), "-pk").values_list("pk", flat=True), PER_PAGE).get_page(number)
    rows = with_need(consignments(Filters(here_only=False)), looking=looking).in_bulk(list(page.object_list))
    return page, [lot_row(rows[pk], looking=looking) for pk in page.object_list if pk in rows]


def today_rows(looking: Looking) -> tuple[int, list[LotRow]]:
    """How many stays need a person today, and the first of them."""
    rows = (
        with_need(consignments(Filters()), looking=looking).filter(Q(need__gte=TODAY)).order_by(F("need").desc(), "pk")
    )
    return rows.count(), [lot_row(row, looking=looking) for row in rows[:SHOWN_TODAY]]


def lot_row(row: Consignment, *, looking: Looking) -> LotRow:
    said = row.__dict__
    ask: Decimal | None = said["ask"]
    need = Need(said["need"])
    return LotRow(
        stock_number=row.stock_number,
        vehicle=str(row.vehicle),
        consignor=row.consignor.name,
        state=row.state,
        state_label=row.get_state_display(),
        place=said["place"] or "",
        keys=said["keys"] or "",
        days=(looking.today - row.arrived_on).days if row.arrived_on and not row.released_on else None,
        ask=money.show(ask) if ask is not None else "",
        next_step=step_words(need, row=row, looking=looking),
        urgent=need >= URGENT,
        step_page=_page_of(need, row=row),
        is_own=row.consignor.is_lot,
    )


def _page_of(need: Need, *, row: Consignment) -> str:
    if row.consignor.is_lot and need is Need.RELEASE:
        return "sale_desk"  # nobody is paid for it
    return _PAGES.get(need, "vehicle_file")


# Where a step is done; the others are done in the vehicle's file. Sales staff may open each of these.
_PAGES = {
    Need.INSPECT: "walk",
    Need.SIGN_TERMS: "terms",
    Need.AGREEMENT_ENDING: "terms",
    Need.AGREEMENT_ENDED: "terms",
    Need.LIST: "pricing_desk",
    Need.AGED: "pricing_desk",
    Need.ABOVE_BAND: "pricing_desk",
    Need.BELOW_BAND: "pricing_desk",
    Need.ANSWER_OFFER: "sale_desk",
    Need.HOLD_ENDED: "sale_desk",
    Need.AWAIT_BUYER: "sale_desk",
    Need.HAND_BACK: "sale_desk",
    Need.CLEAR_MONEY: "sale_desk",
    Need.RELEASE: "settlement",
}

_WORDS = {
    Need.NOTHING: "",
    Need.AWAIT_ARRIVAL: "waiting for arrival",
    Need.AWAIT_BUYER: "held until {hold_until}",
    Need.RELEASE: "pay out by {pay_by}, release",
    Need.HAND_BACK: "hand back to the consignor",
    Need.LIST: "set the ask and list",
    Need.RECORD_PAPERS: "record the title paper",
    Need.SIGN_TERMS: "record signed terms",
    Need.INSPECT: "{inspect}",
    Need.AGED: "listed for {listed_days} days",
    Need.BELOW_BAND: "ask is below its band",
    Need.ABOVE_BAND: "ask is above its band",
    Need.AGREEMENT_ENDING: "agreement ends {agreement_ends_on}",
    Need.AGREEMENT_ENDED: "agreement ended {agreement_ends_on}",
    Need.ANSWER_OFFER: "answer the offer of {offer}",
    Need.HOLD_ENDED: "hold ended {hold_until}",
    Need.FLAGGED: "{flags}",
    Need.CLEAR_MONEY: "clear the money, settle; pay the consignor by {pay_by}",
}


_OF_OWN = {
    Need.RELEASE: "release",
    Need.CLEAR_MONEY: "clear the buyer's money, then close the sale",
    Need.HAND_BACK: "let it leave, signed for",
}


def step_words(need: Need, *, row: Consignment, looking: Looking) -> str:
    said = row.__dict__
    sold_on: date | None = said["sold_on"]
    pay_within = timedelta(days=looking.lot.pay_within_days)
    flags = looking.flagged.get(row.pk, 0)
    words = _OF_OWN.get(need, _WORDS[need]) if row.consignor.is_lot else _WORDS[need]
    return words.format(
        hold_until=said["hold_until"],
        agreement_ends_on=said["agreement_ends_on"],
        pay_by=sold_on + pay_within if sold_on else "the agreed day",
        listed_days=(looking.today - row.listed_on).days if row.listed_on else 0,
        offer=money.show(said["unanswered"]) if said["unanswered"] is not None else "",
        flags="look at an open safety flag" if flags == 1 else f"look at {flags} open safety flags",
        inspect="finish the inspection" if said["walk_open"] else "inspect",
    )


@dataclass(frozen=True)
class Tally:
    state: str
    label: str
    count: int


def tallies() -> list[Tally]:
    """How many vehicles that are still here stand in each state."""
    counted = Consignment.objects.still_here().order_by().values_list("state").annotate(count=Count("pk"))
    of = dict(counted)
    return [Tally(state.value, state.label, of[state]) for state in State if state in of]
