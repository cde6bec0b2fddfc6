"""What a consignor sees of their own vehicle: never bidders, staff, the band, notes, or another vehicle."""

import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.db.models import Prefetch
from django.utils import timezone

from inventory.errors import NotFound
from inventory.models import (
    AskChange,
    Charge,
    Consignment,
    Deal,
    Disbursement,
    IntakeInspection,
    Offer,
    OfferAnswer,
    Photo,
    SaleOutcome,
    Settlement,
    SettlementLine,
    StatusLink,
    Terms,
)
from inventory.queries import facts
from inventory.queries.media import shown_clips
from inventory.queries.people import digest_of
from inventory.queries.receipts import ReceiptSeen, receipts_seen
from inventory.queries.settlements import Net, borne_by_consignor, net_at
from inventory.rules import money
from inventory.rules.states import BEFORE_SOLD, State
from inventory.rules.words import DealEnd, Payee, Result


@dataclass(frozen=True)
class Event:
    """One dated line of the timeline."""

    on: date
    what: str


@dataclass(frozen=True)
class OfferSeen:
    """An offer without whoever made it."""

    on: date
    amount: Decimal
    answer: str


@dataclass(frozen=True)
class AskSeen:
    since: date
    amount: Decimal


@dataclass(frozen=True)
class PhotoSeen:
    code: uuid.UUID
    caption: str
    width: int | None
    height: int | None


@dataclass(frozen=True)
class ClipSeen:
    code: uuid.UUID
    caption: str
    kind: str


@dataclass(frozen=True)
class PaidOut:
    on: date
    amount: Decimal
    to: str
    by_way: str
    reference: str


@dataclass(frozen=True)
class Settled:
    """The approved statement and what was paid on it."""

    number: str
    on: date
    pay_by: date
    due: Decimal
    lines: tuple[SettlementLine, ...]
    paid: tuple[PaidOut, ...]


@dataclass(frozen=True)
class StatusPage:
    code: uuid.UUID
    vehicle: str
    stock_number: str
    state: str
    next_step: str
    timeline: tuple[Event, ...]
    photos: tuple[PhotoSeen, ...]
    clips: tuple[ClipSeen, ...]
    asks: tuple[AskSeen, ...]
    net: Net | None
    charges: tuple[Charge, ...]
    charges_total: Decimal
    offers: tuple[OfferSeen, ...]
    agreement_ends_on: date | None
    settled: Settled | None
    receipts: tuple[ReceiptSeen, ...]


def live_link(token: str, *, code: uuid.UUID, at: datetime) -> StatusLink:
    """The link of a token, if it opens this stay now. Whatever is wrong, the answer is the same."""
    row = (
        StatusLink.objects.select_related("consignment__vehicle")
        .filter(digest=digest_of(token), consignment__code=code, revoked_at__isnull=True, expires_at__gt=at)
        .first()
    )
    if row is None:
        raise NotFound("not_found", "This link is not valid, or not any more.", mend="Ask the lot for a new one.")
    return row


def link_of(stay: Consignment) -> StatusLink | None:
    """The link that was not revoked; it may have expired."""
    return StatusLink.objects.filter(consignment=stay, revoked_at__isnull=True).first()


def page(stay: Consignment, *, today: date) -> StatusPage:
    terms, charges = facts.terms_of(stay), facts.live_charges(stay)
    asks = list(AskChange.objects.filter(consignment=stay).order_by("-pk"))
    outcomes = list(SaleOutcome.objects.filter(consignment=stay).order_by("pk"))
    settlement = facts.settlement_of(stay)
    paid = list(Disbursement.objects.filter(settlement=settlement).order_by("pk")) if settlement else []
    borne = borne_by_consignor(charges)
    return StatusPage(
        code=stay.code,
        vehicle=str(stay.vehicle),
        stock_number=stay.stock_number,
        state=_STATE_TOLD[State(stay.state)],
        next_step=_NEXT[State(stay.state)],
        timeline=timeline(stay, outcomes=outcomes, settlement=settlement, paid=paid),
        photos=tuple(
            PhotoSeen(row.code, row.caption, row.width, row.height)
            for row in Photo.objects.shown().filter(consignment=stay, public=True).order_by("pk")
        ),
        clips=tuple(
            ClipSeen(row.code, row.caption, row.get_kind_display())
            for row in shown_clips(stay).filter(public=True).order_by("pk")
        ),
        asks=tuple(AskSeen(row.on, row.amount) for row in asks),
        net=_net(stay, asks=asks, outcomes=outcomes, terms=terms, charges=charges, today=today),
        charges=tuple(borne),
        charges_total=money.total(charge.amount for charge in borne),
        offers=offers_seen(stay),
        agreement_ends_on=terms.ends_on if terms else None,
        settled=settled(settlement, paid=paid) if settlement else None,
        receipts=receipts_seen(stay),
    )


_STATE_TOLD: dict[State, str] = {
    State.BOOKED: "expected at the lot",
    State.ON_LOT: "at the lot",
    State.INSPECTED: "inspected",
    State.LISTED: "for sale",
    State.DEPOSIT: "held for a buyer",
    State.SOLD: "sold",
    State.SETTLED: "sold and settled",
    State.WITHDRAWN: "withdrawn from sale",
    State.RELEASED: "handed back",
}
_NEXT: dict[State, str] = {
    State.BOOKED: "The lot waits for the vehicle to arrive.",
    State.ON_LOT: "Next, the lot inspects the vehicle.",
    State.INSPECTED: "Next, the ask is set and the vehicle is offered for sale.",
    State.LISTED: "It is offered for sale. Every offer is shown here.",
    State.DEPOSIT: "A buyer has paid a deposit. Further offers are still taken in case the deal falls through.",
    State.SOLD: "Next, the buyer's money has to clear; then your settlement is approved and paid.",
    State.SETTLED: "Your settlement is approved; what has been paid is shown below.",
    State.WITHDRAWN: "Next, charges that are open are paid and the vehicle is handed back.",
    State.RELEASED: "The vehicle has been handed back.",
}


def _net(
    stay: Consignment, *, asks: list[AskChange], outcomes: list[SaleOutcome], terms: Terms | None,
    charges: list[Charge], today: date,
) -> Net | None:  # fmt: skip
    """What the consignor would be paid: at the ask while it is for sale, at the price once it is sold."""
    if terms is None:
        return None
    if stay.state == State.SOLD and outcomes and outcomes[-1].price is not None:
        return net_at(outcomes[-1].price, label="At the price it sold for", terms=terms, charges=charges, on=today)
    if stay.state in BEFORE_SOLD and asks:
        return net_at(asks[0].amount, label="At the ask", terms=terms, charges=charges, on=today)
    return None


def timeline(
    stay: Consignment, *, outcomes: list[SaleOutcome], settlement: Settlement | None, paid: list[Disbursement]
) -> tuple[Event, ...]:
    """What has happened, in the order of the days."""
    events = [*_way_to_sale(stay), *_deals(stay), *_ends(outcomes), *_after_sale(stay, settlement, paid)]
    return tuple(sorted(events, key=lambda event: event.on))


def _way_to_sale(stay: Consignment) -> Iterator[Event]:
    yield Event(stay.booked_on, "Booked with the lot")
    if stay.arrived_on is not None:
        yield Event(stay.arrived_on, "Arrived at the lot")
    walks = IntakeInspection.objects.filter(consignment=stay, finished_at__isnull=False).order_by("number")
    for finished_at in walks.values_list("finished_at", flat=True):
        yield Event(timezone.localdate(finished_at), "Inspected")
    if stay.listed_on is not None:
        yield Event(stay.listed_on, "Offered for sale")


def _deals(stay: Consignment) -> Iterator[Event]:
    for deal in Deal.objects.filter(consignment=stay).order_by("pk"):
        if deal.hold_until is not None:
            told = f"A buyer paid a deposit at {money.show(deal.price)}; held until {deal.hold_until}"
            yield Event(deal.began_on, told)
        if deal.end == DealEnd.FALLEN_THROUGH and deal.ended_on is not None:
            yield Event(deal.ended_on, "That deal fell through")


def _ends(outcomes: list[SaleOutcome]) -> Iterator[Event]:
    for outcome in outcomes:
        if outcome.result == Result.SOLD and outcome.price is not None:
            yield Event(outcome.ended_on, f"Sold for {money.show(outcome.price)}")
        elif outcome.result == Result.WITHDRAWN:
            yield Event(outcome.ended_on, "Withdrawn from sale")
        else:
            yield Event(outcome.ended_on, "The sale was set aside; for sale again")


def _after_sale(stay: Consignment, settlement: Settlement | None, paid: list[Disbursement]) -> Iterator[Event]:
    if settlement is not None:
        yield Event(settlement.on, f"Settlement {settlement.number} approved")
    for row in paid:
        to = "you" if row.payee_kind == Payee.CONSIGNOR else "the lien holder"
        yield Event(row.on, f"{money.show(row.amount)} paid to {to}")
    if stay.title_sent_on is not None:
        yield Event(stay.title_sent_on, "Title sent to the buyer")
    if stay.released_on is not None:
        told = "Handed back" if stay.state == State.RELEASED else "Handed over to the buyer"
        yield Event(stay.released_on, told)


def offers_seen(stay: Consignment) -> tuple[OfferSeen, ...]:
    answers = Prefetch("answers", queryset=OfferAnswer.objects.order_by("pk"))
    rows = Offer.objects.filter(consignment=stay).prefetch_related(answers).order_by("-pk")
    return tuple(OfferSeen(row.on, row.amount, _last_answer(list(row.answers.all()))) for row in rows)


def _last_answer(answers: list[OfferAnswer]) -> str:
    if not answers:
        return "not answered yet"
    last = answers[-1]
    return f"{last.get_answer_display()} at {money.show(last.amount)}" if last.amount else last.get_answer_display()


def settled(settlement: Settlement, *, paid: list[Disbursement]) -> Settled:
    return Settled(
        settlement.number, settlement.on, settlement.pay_by, settlement.due,
        tuple(settlement.lines.order_by("position")),
        tuple(PaidOut(row.on, row.amount, row.payee, row.get_method_display(), row.reference) for row in paid),
    )  # fmt: skip
