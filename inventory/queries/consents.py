"""Questions to the consignor: what they say, which wait, and how long."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import QuerySet
from django.utils import timezone

from inventory.models import ConsentRequest, Consignment, Terms
from inventory.queries import facts
from inventory.queries.questions_asked import unanswered
from inventory.queries.settlements import floor_on
from inventory.rules import consent
from inventory.rules.consent import Asked
from inventory.rules.roles import Act, Actor, may
from inventory.rules.terms_words import Said, in_words
from inventory.rules.words import (
    ChargeKind,
    ConsentKind,
    Exclusivity,
    FloorKind,
    TitleProtection,
)


def said_in(terms: Terms) -> Said:
    """One version of the terms as the wording reads it."""
    return Said(
        plan=facts.plan_of(terms), beside=facts.beside(terms), floor=terms.floor,
        floor_kind=FloorKind(terms.floor_kind),
        starts_on=terms.starts_on, ends_on=terms.ends_on, exclusivity=Exclusivity(terms.exclusivity),
        title_protection=TitleProtection(terms.title_protection), title_protection_note=terms.title_protection_note,
        lien=facts.lien_in_terms(terms), insurance=terms.insurance, photos_allowed=terms.photos_allowed,
        test_drives_allowed=terms.test_drives_allowed,
    )  # fmt: skip


def asked(
    stay: Consignment, *, kind: ConsentKind, amount: Decimal | None, what: str, charge_kind: str, terms: Terms | None,
    today: date,
) -> Asked:  # fmt: skip
    """What a question is about, with what it would take the place of."""
    in_effect = facts.terms_of(stay)
    return Asked(
        vehicle=str(stay.vehicle), stock_number=stay.stock_number, amount=amount, what=what,
        before=_before(stay, kind=kind, in_effect=in_effect, today=today),
        charge_kind=ChargeKind(charge_kind).label if charge_kind else "",
        terms_number=terms.number if terms else None,
        terms_before=in_effect.number if terms and in_effect and in_effect.number != terms.number else None,
        terms_in_words=tuple(f"{heading}: {text}" for heading, text in in_words(said_in(terms))) if terms else (),
    )  # fmt: skip


def _before(stay: Consignment, *, kind: ConsentKind, in_effect: Terms | None, today: date) -> Decimal | None:
    if kind is ConsentKind.ASK:
        ask = facts.current_ask(stay)
        return ask.amount if ask else None
    if kind is ConsentKind.FLOOR:
        return floor_on(today, terms=in_effect, charges=facts.live_charges(stay)).price
    return None


def open_requests(stay: Consignment) -> QuerySet[ConsentRequest]:
    return ConsentRequest.objects.filter(consignment=stay, answer__isnull=True).order_by("pk")


def all_open() -> QuerySet[ConsentRequest]:
    """Every question that waits, the oldest first."""
    return (
        ConsentRequest.objects.filter(answer__isnull=True)
        .select_related("consignment__vehicle", "consignment__consignor")
        .order_by("at", "pk")
    )


@dataclass(frozen=True)
class QuestionRow:
    """A question with its answer, or how long it has waited."""

    row: ConsentRequest
    waited: str
    is_urgent: bool

    @property
    def is_open(self) -> bool:
        return not hasattr(self.row, "answer")


MOST_WAITING = 6  # told on the lot screen; the rest is on the vehicles' own pages


@dataclass(frozen=True)
class Waiting:
    """One thing between lot and consignor that waits for an answer."""

    stock_number: str
    vehicle: str
    what: str
    is_urgent: bool


def waiting(*, by: Actor, today: date) -> tuple[Waiting, ...]:
    """What consignors asked and nobody has answered, then what they were asked, the oldest first."""
    if not may(by, Act.SEE_MONEY):
        return ()
    asked = [
        Waiting(row.consignment.stock_number, str(row.consignment.vehicle), "Answer what the consignor asked", True)
        for row in unanswered()[:MOST_WAITING]
    ]
    for row in all_open()[: MOST_WAITING - len(asked)]:
        told = row_of(row, today=today)
        what = f"{row.get_kind_display().capitalize()}: the consignor has not answered, {told.waited}"
        asked.append(Waiting(row.consignment.stock_number, str(row.consignment.vehicle), what, told.is_urgent))
    return tuple(asked)


def question_rows(stay: Consignment, *, today: date) -> tuple[QuestionRow, ...]:
    """Every question ever asked, the latest first."""
    rows = ConsentRequest.objects.filter(consignment=stay).select_related("answer").order_by("-pk")
    return tuple(row_of(row, today=today) for row in rows)


def row_of(row: ConsentRequest, *, today: date) -> QuestionRow:
    since = timezone.localdate(row.at)
    if hasattr(row, "answer"):
        return QuestionRow(row, "", is_urgent=False)
    waited = consent.waiting_told(since=since, answer_by=row.answer_by, today=today)
    return QuestionRow(row, waited, consent.is_urgent(since=since, answer_by=row.answer_by, today=today))


def open_request(request_id: int, *, stay: Consignment) -> ConsentRequest | None:
    return open_requests(stay).filter(pk=request_id).first()
