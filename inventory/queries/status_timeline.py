"""What has happened to one vehicle, as its consignor is told it: no buyer, no staff, no note."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise

from django.utils import timezone

from inventory.models import (
    AskChange,
    Concession,
    ConsentAnswer,
    Consignment,
    ConsignorPayment,
    Deal,
    Disbursement,
    IntakeInspection,
    SaleOutcome,
    Settlement,
    Terms,
)
from inventory.rules import money
from inventory.rules.states import State
from inventory.rules.words import BornBy, ConsentKind, ConsentResult, DealEnd, Payee, Result


@dataclass(frozen=True)
class Event:
    """One dated line of the timeline."""

    on: date
    what: str


@dataclass(frozen=True, kw_only=True)
class Known:
    """What the page has read already, oldest first."""

    asks: Sequence[AskChange]
    outcomes: Sequence[SaleOutcome]
    settlements: Sequence[Settlement]
    paid: Sequence[Disbursement]


def timeline(stay: Consignment, *, known: Known) -> tuple[Event, ...]:
    """What has happened, in the order of the days."""
    events = [
        *_way_to_sale(stay),
        *_terms(stay),
        *_answers(stay),
        *_asks(known.asks),
        *_deals(stay),
        *_ends(known.outcomes),
        *_after_sale(stay, known=known),
    ]
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


def _terms(stay: Consignment) -> Iterator[Event]:
    rows = Terms.objects.filter(consignment=stay).exclude(signed_by="").order_by("number")
    for number, signed_by, signed_on in rows.values_list("number", "signed_by", "signed_on"):
        if signed_on is not None:
            yield Event(signed_on, f"Terms, version {number}, signed by {signed_by}")


def _asks(asks: Sequence[AskChange]) -> Iterator[Event]:
    if asks:
        yield Event(asks[0].on, f"Asking price set at {money.show(asks[0].amount)}")
    for before, after in pairwise(asks):
        yield Event(after.on, f"Asking price changed from {money.show(before.amount)} to {money.show(after.amount)}")


def _answers(stay: Consignment) -> Iterator[Event]:
    """Who answered is the consignor's own side; what the lot took back is no event of theirs."""
    rows = ConsentAnswer.objects.filter(request__consignment=stay).exclude(result=ConsentResult.TAKEN_BACK)
    for row in rows.select_related("request").order_by("pk"):
        kind = ConsentKind(row.request.kind).label
        if row.request.terms_id is not None and row.result == ConsentResult.AGREED:
            kind = "new terms, which took effect"
        yield Event(timezone.localdate(row.at), f"{row.given_by} {row.get_result_display()}: {kind}")


def _deals(stay: Consignment) -> Iterator[Event]:
    for deal in Deal.objects.filter(consignment=stay).order_by("pk"):
        if deal.hold_until is not None:
            told = f"A buyer paid a deposit at {money.show(deal.price)}; held until {deal.hold_until}"
            yield Event(deal.began_on, told)
        if deal.end == DealEnd.FALLEN_THROUGH and deal.ended_on is not None:
            yield Event(deal.ended_on, f"That deal fell through{_kept(deal)}")
    for row in Concession.objects.filter(deal__consignment=stay).order_by("pk"):
        who = "you" if row.borne_by == BornBy.CONSIGNOR else "the lot"
        yield Event(row.on, f"{money.show(row.amount)} off the price after the sale, borne by {who}")


def _kept(deal: Deal) -> str:
    if not deal.forfeited:
        return ""
    share = money.show(deal.forfeited_to_consignor)
    return f"; {money.show(deal.forfeited)} of the deposit was kept, your share is {share}"


def _ends(outcomes: Sequence[SaleOutcome]) -> Iterator[Event]:
    for outcome in outcomes:
        if outcome.result == Result.SOLD and outcome.price is not None:
            yield Event(outcome.ended_on, f"Sold for {money.show(outcome.price)}")
        elif outcome.result == Result.WITHDRAWN:
            yield Event(outcome.ended_on, "Withdrawn from sale")
        else:
            yield Event(outcome.ended_on, "The sale was set aside; for sale again")


def _after_sale(stay: Consignment, *, known: Known) -> Iterator[Event]:
    for row in ConsignorPayment.objects.filter(consignment=stay).order_by("pk"):
        yield Event(row.on, f"{money.show(row.amount)} received from you")
    for statement in known.settlements:
        done = "taken back by the lot" if statement.is_reversal else "approved"
        number = statement.follows.number if statement.is_reversal and statement.follows else statement.number
        yield Event(statement.on, f"Settlement {number} {done}")
    for paid in known.paid:
        to = "you" if paid.payee_kind == Payee.CONSIGNOR else "the lien holder"
        yield Event(paid.on, f"{money.show(paid.amount)} paid to {to}")
    if stay.title_sent_on is not None:
        yield Event(stay.title_sent_on, "Title sent to the buyer")
    if stay.released_on is not None:
        told = "Handed back" if stay.state == State.RELEASED else "Handed over to the buyer"
        yield Event(stay.released_on, told)
