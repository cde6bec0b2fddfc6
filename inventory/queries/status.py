"""What a consignor sees of their own vehicle: never bidders, staff, the band, notes, or another vehicle."""

import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.db.models import Prefetch

from inventory.models import (
    AskChange,
    Charge,
    Consent,
    Consignment,
    Disbursement,
    Inquiry,
    Offer,
    OfferAnswer,
    Photo,
    Release,
    SaleOutcome,
    Settlement,
    SettlementLine,
    Showing,
    Terms,
    TestDrive,
)
from inventory.queries import facts
from inventory.queries.consents import said_in
from inventory.queries.media import shown_clips
from inventory.queries.messages import turned_off
from inventory.queries.receipts import receipts_seen
from inventory.queries.settlements import Floor, Net, borne_by_consignor, floor_on, net_at
from inventory.queries.status_consent import AskedSeen, QuestionSeen, asked_of, questions_seen
from inventory.queries.status_timeline import Event, Known, timeline
from inventory.queries.work import WorkSeen, work_for_consignor
from inventory.rules import money
from inventory.rules.states import BEFORE_SOLD, State
from inventory.rules.status_words import NEXT, STATE_TOLD, days_told, interest_told
from inventory.rules.terms import LienPayoff
from inventory.rules.terms_words import in_words


@dataclass(frozen=True)
class OfferSeen:
    """An offer without whoever made it."""

    on: date
    amount: Decimal
    answer: str
    conditions: str
    expires_on: date | None


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
class PaperSeen:
    """One paper to download: `route` names the address that takes the page's code and what names the paper."""

    route: str
    named: uuid.UUID | int | str
    label: str
    made_at: datetime
    note: str = ""
    replaced: bool = False


@dataclass(frozen=True)
class PaidOut:
    on: date
    amount: Decimal
    to: str
    by_way: str
    reference: str


@dataclass(frozen=True)
class Settled:
    """The approved statement and what was paid."""

    number: str
    on: date
    pay_by: date
    due: Decimal
    lines: tuple[SettlementLine, ...]


@dataclass(frozen=True)
class TermsSeen:
    """The terms in words, whether both sides accepted them, and when they end."""

    number: int
    accepted: bool
    ends_on: date
    ends_told: str
    lines: tuple[tuple[str, str], ...]


@dataclass(frozen=True, kw_only=True)
class Account:
    """The money side of the page."""

    asks: tuple[AskSeen, ...]
    floor: Floor
    agreed_down_to: Decimal | None
    net: Net | None
    lien: LienPayoff | None
    charges: tuple[Charge, ...]
    charges_total: Decimal
    work: tuple[WorkSeen, ...]
    offers: tuple[OfferSeen, ...]
    settled: Settled | None
    taken_back: tuple[Settlement, ...]
    paid: tuple[PaidOut, ...]


@dataclass(frozen=True, kw_only=True)
class StatusPage:
    code: uuid.UUID
    vehicle: str
    stock_number: str
    state: str
    next_step: str
    asked: tuple[AskedSeen, ...]
    account: Account
    interest: str
    timeline: tuple[Event, ...]
    papers: tuple[PaperSeen, ...]
    photos: tuple[PhotoSeen, ...]
    clips: tuple[ClipSeen, ...]
    terms: TermsSeen | None
    questions: tuple[QuestionSeen, ...]
    mail_off: frozenset[str]

    @property
    def open(self) -> tuple[AskedSeen, ...]:
        """What waits for the consignor, the oldest first."""
        return tuple(row for row in reversed(self.asked) if row.is_open)

    @property
    def answered(self) -> tuple[AskedSeen, ...]:
        return tuple(row for row in self.asked if not row.is_open)


def page(stay: Consignment, *, today: date) -> StatusPage:
    terms = facts.terms_of(stay)
    known = Known(
        asks=list(AskChange.objects.filter(consignment=stay).order_by("pk")),
        outcomes=list(SaleOutcome.objects.filter(consignment=stay).order_by("pk")),
        settlements=list(stay.settlements.select_related("follows").order_by("pk")),
        paid=list(Disbursement.objects.filter(settlement__consignment=stay).order_by("pk")),
    )
    return StatusPage(
        code=stay.code,
        vehicle=str(stay.vehicle),
        stock_number=stay.stock_number,
        state=STATE_TOLD[State(stay.state)],
        next_step=NEXT[State(stay.state)],
        asked=asked_of(stay, today=today),
        account=_account(stay, terms=terms, known=known, today=today),
        interest=_interest(stay),
        timeline=timeline(stay, known=known),
        papers=papers_seen(stay),
        photos=_photos(stay),
        clips=tuple(
            ClipSeen(row.code, row.caption, row.get_kind_display())
            for row in shown_clips(stay).filter(public=True).order_by("pk")
        ),
        terms=_terms(terms, today=today) if terms else None,
        questions=questions_seen(stay),
        mail_off=frozenset(turned_off(stay.consignor)),
    )


def _interest(stay: Consignment) -> str:
    """Counts alone: who asked, came or drove is nobody's business but the lot's."""
    return interest_told(
        inquiries=Inquiry.objects.filter(consignment=stay).count(),
        showings=Showing.objects.filter(consignment=stay).count(),
        drives=TestDrive.objects.filter(consignment=stay).count(),
    )


def _account(stay: Consignment, *, terms: Terms | None, known: Known, today: date) -> Account:
    charges = facts.live_charges(stay)
    borne = borne_by_consignor(charges)
    last = known.settlements[-1] if known.settlements else None
    return Account(
        asks=tuple(AskSeen(row.on, row.amount) for row in reversed(known.asks)),
        floor=floor_on(today, terms=terms, charges=charges),
        agreed_down_to=_agreed_down_to(stay, terms=terms),
        net=_net(stay, known=known, terms=terms, charges=charges, today=today),
        lien=facts.lien_of(terms) if terms else None,
        charges=tuple(borne),
        charges_total=money.total(charge.amount for charge in borne),
        work=work_for_consignor(stay),
        offers=offers_seen(stay),
        settled=_settled(last) if last is not None and not last.is_reversal else None,
        taken_back=tuple(row.follows for row in known.settlements if row.is_reversal and row.follows),
        paid=tuple(
            PaidOut(row.on, row.amount, row.payee, row.get_method_display(), row.reference) for row in known.paid
        ),
    )


def _net(stay: Consignment, *, known: Known, terms: Terms | None, charges: list[Charge], today: date) -> Net | None:
    """What the consignor would be paid: at the ask while it is for sale, at the price once it is sold."""
    if terms is None:
        return None
    sold = known.outcomes[-1].price if known.outcomes else None
    if stay.state == State.SOLD and sold is not None:
        return net_at(sold, label="At the price it sold for", terms=terms, charges=charges, on=today)
    if stay.state in BEFORE_SOLD and known.asks:
        return net_at(known.asks[-1].amount, label="At the ask", terms=terms, charges=charges, on=today)
    return None


def _agreed_down_to(stay: Consignment, *, terms: Terms | None) -> Decimal | None:
    """What the consignor agreed to beyond the terms in effect; newer terms set a floor of their own."""
    if terms is None:
        return None
    last = Consent.objects.filter(consignment=stay, at__gte=terms.at).order_by("-pk").first()
    return last.down_to if last else None


def _terms(terms: Terms, *, today: date) -> TermsSeen:
    return TermsSeen(
        number=terms.number,
        accepted=bool(terms.accepted),
        ends_on=terms.ends_on,
        ends_told=days_told((terms.ends_on - today).days),
        lines=in_words(said_in(terms)),
    )


def _photos(stay: Consignment) -> tuple[PhotoSeen, ...]:
    rows = Photo.objects.shown().filter(consignment=stay, public=True).order_by("pk")
    return tuple(PhotoSeen(row.code, row.caption, row.width, row.height) for row in rows)


def papers_seen(stay: Consignment) -> tuple[PaperSeen, ...]:
    """Every paper of the consignor, newest first within its kind. A new kind adds its rows here and its address."""
    return (*_statements_seen(stay), *_agreements_seen(stay), *_releases_seen(stay), *_receipts_seen(stay))


def _receipts_seen(stay: Consignment) -> Iterator[PaperSeen]:
    for row in receipts_seen(stay):
        signed = "signed by both sides" if row.signed else "not signed by the other side"
        yield PaperSeen("status_receipt", row.code, f"Arrival receipt {row.number}", row.at, signed, row.replaced)


def _statements_seen(stay: Consignment) -> Iterator[PaperSeen]:
    rows = Settlement.objects.filter(consignment=stay).order_by("-pk")
    for place, row in enumerate(rows):
        note = "takes back the one before" if row.is_reversal else ""
        yield PaperSeen("status_statement", row.number, f"Settlement statement {row.number}", row.at, note, place > 0)


def _agreements_seen(stay: Consignment) -> Iterator[PaperSeen]:
    """Those that were accepted; what is proposed is read where it is agreed to."""
    accepted = [row for row in Terms.objects.filter(consignment=stay).ranked() if row.accepted]
    for place, row in enumerate(accepted):
        yield PaperSeen("status_agreement", row.number, f"Agreement, version {row.number}", row.at, "", place > 0)


def _releases_seen(stay: Consignment) -> Iterator[PaperSeen]:
    """Of a vehicle handed back; whom a buyer sent is not the consignor's to know."""
    if stay.state != State.RELEASED:
        return
    for row in Release.objects.filter(consignment=stay).exclude(file=""):
        yield PaperSeen("status_release", row.code, "Release receipt", row.at, "")


def offers_seen(stay: Consignment) -> tuple[OfferSeen, ...]:
    """All but those the consignor does not want passed on, the latest first."""
    answers = Prefetch("answers", queryset=OfferAnswer.objects.order_by("pk"))
    rows = Offer.objects.filter(consignment=stay, held_back=False).prefetch_related(answers).order_by("-pk")
    return tuple(
        OfferSeen(row.on, row.amount, _last_answer(list(row.answers.all())), row.conditions, row.expires_on)
        for row in rows
    )


def _last_answer(answers: list[OfferAnswer]) -> str:
    if not answers:
        return "not answered yet"
    last = answers[-1]
    return f"{last.get_answer_display()} at {money.show(last.amount)}" if last.amount else last.get_answer_display()


def _settled(settlement: Settlement) -> Settled:
    return Settled(
        settlement.number, settlement.on, settlement.pay_by, settlement.due,
        tuple(settlement.lines.order_by("position")),
    )  # fmt: skip
