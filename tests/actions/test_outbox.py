"""Deeds are told to the consignor: which, once, with nothing that is not the consignor's to know."""

from datetime import datetime, timedelta
from decimal import Decimal

import pytest
from django.db import transaction

from inventory.actions import asking, entries, logbook, mailing, offering, outbox, selling, settling
from inventory.models import Consignment, Consignor, LogEntry, Offer, OutMessage
from inventory.rules.roles import Actor
from inventory.rules.states import State
from inventory.rules.words import MessageKind, PaymentMethod
from tests import build

pytestmark = pytest.mark.django_db
SECRETS = ("Quill Bidwell", "555-0177", "Bo Larkin", "Sam ", "kept under the hat", "30,000", "Tarn")


def kinds_of(stay: Consignment) -> list[str]:
    return list(OutMessage.objects.filter(consignment=stay).order_by("pk").values_list("kind", flat=True))


def mails(kind: MessageKind) -> OutMessage:
    return OutMessage.objects.filter(kind=kind).latest("pk")


@pytest.fixture
def paid(owner: Actor, sales: Actor, at: datetime) -> Consignment:
    """One stay from its arrival to the payout, beside another vehicle of another consignor."""
    build.consignment(at=at, make="Tarn", vin="TT9", year=1971, consignor_name="Nobody Else", consignor_email="")
    stay = build.consignment(State.LISTED, at=at, note="kept under the hat")
    asking.set_ask(stay.pk, amount=Decimal("47000.00"), reason="kept under the hat", by=owner, at=at)
    offering.log_offer(
        stay.pk, amount=Decimal("44750.00"), bidder="Quill Bidwell", contact="555-0177", note="kept under the hat",
        by=sales, at=at,
    )  # fmt: skip
    build.step_to(State.DEPOSIT, stay, at=at, price=Decimal("47000.00"))
    selling.end_deal(stay.pk, reason="kept under the hat: Bo Larkin has no money", by=sales, at=at)
    build.step_to(State.SOLD, stay, at=at, price=Decimal("47000.00"))
    build.step_to(State.SETTLED, stay, at=at, price=Decimal("47000.00"))
    settlement = stay.settlements.get()
    settling.record_disbursement(
        settlement.pk, payee_kind="consignor", payee="Ada Fenwick", amount=settlement.due, method=PaymentMethod.WIRE,
        reference="kept under the hat", by=owner, at=at,
    )  # fmt: skip
    return stay


def test_whole_way_is_told_in_its_order_and_leaks_nothing(paid: Consignment, owner: Actor, at: datetime) -> None:
    with transaction.atomic():
        logbook.record("consent.asked", paid, by=owner, at=at, text="May we ask $46,000.00?")
        logbook.record("question.answered", paid, by=owner, at=at, text="On Monday.")
    told = kinds_of(paid)
    assert told == [
        "arrived", "inspected", "listed", "price_change", "offer", "deposit", "fell_through", "sold", "settled",
        "paid", "consent", "answer",
    ]  # fmt: skip
    rows = OutMessage.objects.filter(consignment=paid)
    said = "\n".join(f"{row.subject}\n{row.text}" for row in rows)
    assert not [secret for secret in SECRETS if secret in said]
    assert "from $48,500.00 to $47,000.00 on March 16, 2026" in mails(MessageKind.PRICE_CHANGE).text
    assert "an offer of $44,750.00" in mails(MessageKind.OFFER).text
    assert "Due to you: $42,770.00, to be paid by April 5, 2026" in mails(MessageKind.SETTLED).text
    assert "May we ask $46,000.00?" in mails(MessageKind.CONSENT).text
    assert {row.status for row in rows} == {"queued"}
    assert all("[[private link]]" in row.text for row in rows)


def test_calendar_mails_leak_nothing_either(owner: Actor, sales: Actor, at: datetime) -> None:
    """Monday 2026-03-23 at the lot, four days before an agreement ends."""
    stay = build.consignment(State.LISTED, at=at - timedelta(days=109), note="kept under the hat")
    offering.log_offer(stay.pk, amount=Decimal("44750.00"), bidder="Quill Bidwell", by=sales, at=at)
    monday = at + timedelta(days=7)
    done = mailing.run(at=monday)
    assert (done.endings, done.summaries) == (1, 1)
    again = mailing.run(at=monday + timedelta(hours=1))
    assert (again.endings, again.summaries) == (0, 0)
    summary, ending = mails(MessageKind.SUMMARY), mails(MessageKind.ENDING)
    assert "for sale. Asking price: $48,500.00. Days for sale so far: 116." in summary.text
    assert "no inquiries, no showings, 1 offer: $44,750.00" in summary.text
    assert "leave you $44,135.00" in summary.text  # 48,500 less 9 percent
    assert summary.event_key == f"summary:{stay.pk}:2026-W13"
    assert "ends on March 27, 2026, in 4 days" in ending.text
    assert not [secret for secret in SECRETS if secret in summary.text + ending.text]


def test_no_summary_on_another_day_nor_for_what_is_sold(at: datetime) -> None:
    build.consignment(State.SOLD, at=at)
    assert mailing.queue_summaries(at=at) == 0
    build.consignment(at=at)
    assert mailing.queue_summaries(at=at + timedelta(days=1)) == 0
    assert mailing.queue_summaries(at=at) == 1


def test_deed_that_is_rolled_back_leaves_no_mail(owner: Actor, at: datetime) -> None:
    stay = build.consignment(State.LISTED, at=at)
    before = OutMessage.objects.count()
    with transaction.atomic():
        asking.set_ask(stay.pk, amount=Decimal("47000.00"), by=owner, at=at)
        assert OutMessage.objects.count() == before + 1
        transaction.set_rollback(True)
    assert OutMessage.objects.count() == before


def test_entry_is_told_once_however_often_it_is_handed_in(at: datetime) -> None:
    stay = build.consignment(at=at)
    entry = LogEntry.objects.get(consignment=stay, action="consignment.moved")
    assert outbox.queue_for(entry) is None
    assert kinds_of(stay) == ["arrived"]


def test_offer_held_back_and_an_ask_as_before_are_not_told(owner: Actor, sales: Actor, at: datetime) -> None:
    stay = build.consignment(State.LISTED, at=at)
    asking.set_ask(stay.pk, amount=Decimal("48500.00"), by=owner, at=at)
    offer = offering.log_offer(stay.pk, amount=Decimal("100.00"), bidder="Quill Bidwell", by=sales, at=at)
    assert kinds_of(stay)[-1] == "offer"
    held = Offer(consignment=stay, amount=Decimal("90.00"), bidder="Q", held_back=True, on=offer.on, by="x", at=at)
    held.save()
    told = len(kinds_of(stay))
    with transaction.atomic():
        logbook.record("offer.logged", held, by=sales, at=at, consignment=stay, amount=held.amount, bidder="Q")
    assert len(kinds_of(stay)) == told
    assert "price_change" not in kinds_of(stay)


def test_without_address_and_what_is_turned_off_is_kept_but_not_sent(sales: Actor, at: datetime) -> None:
    stay = build.consignment(State.BOOKED, at=at, consignor_email="")
    other = build.consignment(State.BOOKED, at=at)
    mailing.choose(other.consignor_id, kind=MessageKind.ARRIVED, wanted=False, by=sales, at=at)
    for one in (stay, other):
        with transaction.atomic():
            entry = entries.write(
                "consignment.moved", one, by=sales, at=at, consignment=one, data={"now": State.ON_LOT.label}
            )
            outbox.queue_for(entry)
    assert OutMessage.objects.get(consignment=stay).status == "no_address"
    assert OutMessage.objects.get(consignment=other).status == "not_wanted"
    assert mailing.run(at=at + timedelta(days=1)).sent == 0


def test_lot_tells_itself_nothing(at: datetime) -> None:
    stay = build.consignment(State.BOOKED, at=at)
    Consignor.objects.filter(pk=stay.consignor_id).update(is_lot=True)
    entry = LogEntry(action="consignment.moved", consignment=stay, data={"now": State.ON_LOT.label}, at=at)
    assert outbox.queue_for(entry) is None
    assert not OutMessage.objects.exists()
