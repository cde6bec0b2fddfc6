"""One vehicle from the gate to the last cent, through the actions."""

from datetime import datetime, timedelta
from decimal import Decimal

import pytest

from inventory.actions import charging, offering, paying, selling, settling
from inventory.actions.paying import Payment
from inventory.errors import NotAllowed, Refused, TooLate
from inventory.models import Consignment, SaleOutcome
from inventory.queries.settlements import draft_of
from inventory.rules.roles import Actor
from inventory.rules.states import State
from tests import build

pytestmark = pytest.mark.django_db


def test_settlement_matches_hand_worked_statement(owner: Actor, at: datetime) -> None:
    """48,500.00 less 9 % (4,365.00), charges 612.40 and 185.00 and a lien of 12,250.37: 31,087.23 by hand."""
    stay = build.consignment(State.INSPECTED, at=at)
    build.make_listable(
        stay, at=at, ask=Decimal("48500.00"), lien_holder="Tarn Valley Credit Union",
        lien_amount=Decimal("12250.37"), lien_quoted_on=at.date(), lien_good_until=at.date() + timedelta(days=10),
    )  # fmt: skip
    build.asking.list_vehicle(stay.pk, by=owner, at=at)
    for amount in ("612.40", "185.00"):
        charging.add_charge(
            stay.pk, kind="repair", what="work agreed", amount=Decimal(amount), agreed_by="Ada Fenwick", by=owner, at=at
        )
    build.step_to(State.SOLD, stay, at=at, price=Decimal("48500.00"))
    build.pay_in_full(stay, at=at)
    draft = draft_of(stay, on=at.date())
    assert draft is not None
    settlement = settling.approve_settlement(stay.pk, expected_due=draft.statement.due, by=owner, at=at)
    assert settlement.due == Decimal("31087.23")
    assert [line.amount for line in settlement.lines.all()] == [
        Decimal("48500.00"), Decimal("-4365.00"), Decimal("-612.40"), Decimal("-185.00"), Decimal("-12250.37"),
    ]  # fmt: skip


@pytest.mark.parametrize("state", list(State))
def test_every_state_can_be_reached(at: datetime, state: State) -> None:
    assert build.consignment(state, at=at).state == state


def test_settlement_waits_for_cleared_money(owner: Actor, at: datetime) -> None:
    stay = build.consignment(State.SOLD, at=at)
    with pytest.raises(Refused) as refusal:
        settling.approve_settlement(stay.pk, by=owner, at=at)
    assert refusal.value.code == "money_not_cleared"


def test_sold_twice_tells_by_whom_and_when(sales: Actor, at: datetime) -> None:
    stay = build.consignment(State.SOLD, at=at)
    with pytest.raises(Refused, match=r"sold \(by command tests|sold \(by tests"):
        selling.mark_sold(stay.pk, by=sales, at=at)
    assert SaleOutcome.objects.filter(consignment=stay).count() == 1


def test_stale_version_is_refused_and_writes_nothing(sales: Actor, at: datetime) -> None:
    stay = build.consignment(State.LISTED, at=at)
    with pytest.raises(TooLate) as refusal:
        selling.withdraw(stay.pk, reason="price", by=sales, at=at, version=stay.version - 1)
    assert refusal.value.got == stay.version
    assert Consignment.objects.get(pk=stay.pk).state == State.LISTED


def test_sales_staff_cannot_sell_below_ask_without_accepted_offer(sales: Actor, owner: Actor, at: datetime) -> None:
    stay = build.consignment(State.LISTED, at=at)
    bargain = selling.Bargain(price=Decimal("45000.00"), buyer="Bo Larkin")
    with pytest.raises(Refused) as refusal:
        selling.mark_sold(stay.pk, bargain=bargain, by=sales, at=at)
    assert refusal.value.code == "price_not_agreed"
    offer = build_offer(stay, amount="45000.00", by=sales, at=at)
    from_owner = offering.answer_offer(offer.pk, answer="accepted", by=owner, at=at)
    assert from_owner.answer == "accepted"
    assert selling.mark_sold(stay.pk, bargain=bargain, by=sales, at=at).price == Decimal("45000.00")


def test_below_floor_needs_consent_even_of_owner(owner: Actor, at: datetime) -> None:
    stay = build.consignment(State.LISTED, at=at)
    bargain = selling.Bargain(price=Decimal("29000.00"), buyer="Bo Larkin")
    with pytest.raises(Refused) as refusal:
        selling.mark_sold(stay.pk, bargain=bargain, by=owner, at=at)
    assert refusal.value.code == "below_floor"
    consent = selling.ConsentGiven(given_by="Ada Fenwick", how="by phone", text="I agree to 29,000.")
    assert selling.mark_sold(stay.pk, bargain=bargain, consent=consent, by=owner, at=at).price == Decimal("29000.00")


def test_unwound_sale_leaves_one_live_outcome_after_next_sale(owner: Actor, at: datetime) -> None:
    stay = build.consignment(State.SOLD, at=at)
    selling.unwind_sale(stay.pk, reason="buyer's loan refused", by=owner, at=at)
    assert not SaleOutcome.objects.live().filter(consignment=stay).exists()
    build.step_to(State.SOLD, stay, at=at, price=Decimal("48500.00"))
    assert SaleOutcome.objects.live().filter(consignment=stay).count() == 1
    assert SaleOutcome.objects.filter(consignment=stay).count() == 3


def test_second_stay_of_one_vehicle_is_refused_until_released(intake: Actor, at: datetime) -> None:
    first = build.consignment(State.ON_LOT, at=at)
    with pytest.raises(Refused) as refusal:
        build.consignment(State.ON_LOT, at=at, vin=first.vehicle.serial)
    assert refusal.value.code == "already_here"
    build.step_to(State.WITHDRAWN, first, at=at, price=Decimal(1))
    build.step_to(State.RELEASED, first, at=at, price=Decimal(1))
    again = build.consignment(State.ON_LOT, at=at, vin=first.vehicle.serial)
    assert again.vehicle_id == first.vehicle_id


def test_intake_may_not_sell(intake: Actor, at: datetime) -> None:
    stay = build.consignment(State.LISTED, at=at)
    with pytest.raises(NotAllowed):
        selling.mark_sold(stay.pk, by=intake, at=at)


def test_payment_clears_once(owner: Actor, at: datetime) -> None:
    stay = build.consignment(State.SOLD, at=at)
    receipt = paying.record_payment(stay.pk, payment=Payment(amount=Decimal("48500.00")), by=owner, at=at)
    paying.settle_payment(receipt.pk, event="cleared", by=owner, at=at)
    with pytest.raises(Refused):
        paying.settle_payment(receipt.pk, event="bounced", by=owner, at=at)


def build_offer(stay: Consignment, *, amount: str, by: Actor, at: datetime):  # type: ignore[no-untyped-def]
    return offering.log_offer(stay.pk, amount=Decimal(amount), bidder="Bo Larkin", by=by, at=at)
