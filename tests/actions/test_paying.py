"""The buyer's money: what is owed, what came, what cleared."""

import uuid
from datetime import datetime, timedelta
from decimal import Decimal

import pytest

from inventory.actions import paying, selling, settling
from inventory.actions.paying import Payment
from inventory.errors import NotAllowed, NotFound, Refused
from inventory.models import BuyerPayment, Consignment
from inventory.queries import facts
from inventory.rules.roles import Actor
from inventory.rules.states import State
from tests import build

pytestmark = pytest.mark.django_db


def pay(stay: Consignment, amount: str, *, by: Actor, at: datetime, key: uuid.UUID | None = None) -> BuyerPayment:
    return paying.record_payment(stay.pk, payment=Payment(amount=Decimal(amount), client_key=key), by=by, at=at)


def standing(stay: Consignment) -> tuple[str, str, str, str]:
    told = facts.buyer_money(facts.live_deal(stay))
    return f"{told.owed}", f"{told.received}", f"{told.cleared}", f"{told.open}"


def test_money_adds_up_by_hand_over_deposit_trade_and_two_payments(owner: Actor, at: datetime) -> None:
    """Price 48,500.00 less trade 10,000.00 is 38,500.00; 1,000.00 and 7,499.99 leave 30,000.01."""
    stay = build.consignment(State.DEPOSIT, at=at)
    bargain = selling.Bargain(
        price=Decimal("48500.00"), buyer="Bo Larkin", trade_allowance=Decimal("10000.00"), trade_value=Decimal(9000)
    )
    selling.mark_sold(stay.pk, bargain=bargain, by=owner, at=at)
    first = pay(stay, "7499.99", by=owner, at=at)
    assert standing(stay) == ("38500.00", "8499.99", "0.00", "38500.00")
    paying.settle_payment(first.pk, event="cleared", by=owner, at=at)
    assert standing(stay) == ("38500.00", "8499.99", "7499.99", "31000.01")
    with pytest.raises(Refused, match=r"\$30,000.02 is more than the \$30,000.01 still to come"):
        pay(stay, "30000.02", by=owner, at=at)
    assert pay(stay, "30000.01", by=owner, at=at).pk


def test_payment_sent_twice_is_one(sales: Actor, at: datetime) -> None:
    stay, key = build.consignment(State.SOLD, at=at), uuid.uuid4()
    assert pay(stay, "100.00", by=sales, at=at, key=key) == pay(stay, "100.00", by=sales, at=at, key=key)
    assert BuyerPayment.objects.count() == 1


def test_payment_without_a_deal_is_refused(sales: Actor, at: datetime) -> None:
    stay = build.consignment(State.LISTED, at=at)
    with pytest.raises(NotFound, match="no deal"):
        pay(stay, "100.00", by=sales, at=at)
    assert standing(stay) == ("0.00", "0.00", "0.00", "0.00")


@pytest.mark.parametrize("amount", ["0.00", "-5.00"])
def test_payment_of_nothing_is_refused(sales: Actor, at: datetime, amount: str) -> None:
    with pytest.raises(Refused) as refusal:
        pay(build.consignment(State.SOLD, at=at), amount, by=sales, at=at)
    assert refusal.value.field == "amount"


def test_payment_in_the_future_is_refused(sales: Actor, at: datetime) -> None:
    stay = build.consignment(State.SOLD, at=at)
    later = Payment(amount=Decimal(5), on=at.date() + timedelta(days=1))
    with pytest.raises(Refused) as refusal:
        paying.record_payment(stay.pk, payment=later, by=sales, at=at)
    assert refusal.value.field == "on"


@pytest.mark.parametrize("event", ["bounced", "returned"])
def test_money_that_went_is_owed_again_and_has_no_further_fate(owner: Actor, at: datetime, event: str) -> None:
    stay = build.consignment(State.SOLD, at=at)
    receipt = pay(stay, "48500.00", by=owner, at=at)
    paying.settle_payment(receipt.pk, event=event, by=owner, at=at)
    assert standing(stay) == ("48500.00", "0.00", "0.00", "48500.00")
    for further in ("cleared", "bounced", "returned"):
        with pytest.raises(Refused) as refusal:
            paying.settle_payment(receipt.pk, event=further, by=owner, at=at)
        assert refusal.value.code == "done_already"


def test_money_that_cleared_can_be_returned_but_not_bounce(owner: Actor, at: datetime) -> None:
    stay = build.consignment(State.SOLD, at=at)
    receipt = pay(stay, "48500.00", by=owner, at=at)
    paying.settle_payment(receipt.pk, event="cleared", by=owner, at=at)
    with pytest.raises(Refused, match="cleared or bounced already"):
        paying.settle_payment(receipt.pk, event="bounced", by=owner, at=at)
    paying.settle_payment(receipt.pk, event="returned", by=owner, at=at)
    assert standing(stay) == ("48500.00", "0.00", "0.00", "48500.00")


def test_money_a_settlement_stands_on_is_not_handed_back(owner: Actor, at: datetime) -> None:
    stay = build.consignment(State.SOLD, at=at)
    build.pay_in_full(stay, at=at)
    settling.approve_settlement(stay.pk, by=owner, at=at)
    receipt = BuyerPayment.objects.get(event="received")
    with pytest.raises(Refused) as refusal:
        paying.settle_payment(receipt.pk, event="returned", by=owner, at=at)
    assert refusal.value.code == "settled_already"
    with pytest.raises(Refused):
        paying.settle_payment(receipt.pk, event="cleared", by=owner, at=at)


def test_only_receipts_have_a_fate_and_only_known_ones(owner: Actor, sales: Actor, at: datetime) -> None:
    stay = build.consignment(State.SOLD, at=at)
    receipt = pay(stay, "48500.00", by=owner, at=at)
    with pytest.raises(NotAllowed):
        paying.settle_payment(receipt.pk, event="cleared", by=sales, at=at)
    with pytest.raises(Refused) as refusal:
        paying.settle_payment(receipt.pk, event="received", by=owner, at=at)
    assert refusal.value.code == "event_unknown"
    cleared = paying.settle_payment(receipt.pk, event="cleared", by=owner, at=at)
    with pytest.raises(NotFound):
        paying.settle_payment(cleared.pk, event="cleared", by=owner, at=at)
