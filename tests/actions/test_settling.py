"""The settlement: approved to the cent, then paid out and never beyond."""

import uuid
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from inventory.actions import outcomes, paying, settling
from inventory.actions.paying import Payment
from inventory.errors import NotAllowed, NotFound, Refused, TooLate
from inventory.models import Consignment, Deal, Disbursement, Lot, Settlement
from inventory.queries import settlements
from inventory.rules.roles import Actor
from inventory.rules.states import State
from tests import build

pytestmark = pytest.mark.django_db


def sold(at: datetime, *, price: str, **terms: Any) -> Consignment:
    """Sold at a price and paid in full, on terms of its own."""
    stay = build.consignment(State.INSPECTED, at=at)
    build.make_listable(stay, at=at, ask=Decimal(price), **{"floor": None, **terms})
    build.asking.list_vehicle(stay.pk, by=build.BUILDER, at=at)
    build.step_to(State.SOLD, stay, at=at, price=Decimal(price))
    build.pay_in_full(stay, at=at)
    return stay


TIERS = ((Decimal(25000), Decimal(10)), (Decimal(60000), Decimal(8)), (None, Decimal("5.5")))


@pytest.mark.parametrize(
    ("price", "terms", "due"),
    [
        # Standards, section 13: half-up at the line, 12.5 % of 41,333.00 is 5,166.63 (half-even 5,166.62).
        ("41333.00", {"rate": Decimal("12.5")}, "36166.37"),
        # 10 % of 25,000.05 is 2,500.01 (half-even 2,500.00).
        ("25000.05", {"rate": Decimal(10)}, "22500.04"),
        # By hand: 9 % of 12,000.00 is 1,080.00, so the minimum of 1,500.00 counts.
        ("12000.00", {"plan_kind": "percent_with_minimum", "minimum": Decimal(1500)}, "10500.00"),
        # By hand: 2,500 + 2,800 + 5.5 % of 11,234.50, which is 617.8975: 5,917.90.
        ("71234.50", {"plan_kind": "tiered", "rate": None, "tiers": TIERS}, "65316.60"),
        ("48500.00", {"plan_kind": "flat", "rate": None, "flat": Decimal(2500)}, "46000.00"),
        ("48500.00", {"plan_kind": "guaranteed_net", "rate": None, "guaranteed_net": Decimal(40000)}, "40000.00"),
        # The lot adds 3,000.00 to reach the guaranteed net.
        ("37000.00", {"plan_kind": "guaranteed_net", "rate": None, "guaranteed_net": Decimal(40000)}, "40000.00"),
    ],
)
def test_due_equals_the_figure_worked_by_hand(
    owner: Actor, at: datetime, price: str, terms: dict[str, Any], due: str
) -> None:
    row = settling.approve_settlement(sold(at, price=price, **terms).pk, by=owner, at=at)
    assert row.due == Decimal(due)
    assert sum(line.amount for line in row.lines.all()) == Decimal(due)


@pytest.mark.parametrize(("days", "pay_by"), [(10, date(2026, 2, 24)), (20, date(2026, 3, 6))])
def test_pay_by_counts_the_lots_days_from_the_sale(owner: Actor, days: int, pay_by: date) -> None:
    """Standards, section 6: sold 2026-02-14, 10 days (Washington) 2026-02-24, 20 days (California) 2026-03-06."""
    at = datetime(2026, 2, 14, 18, 0, tzinfo=UTC)
    Lot.objects.update_or_create(pk=1, defaults={"pay_within_days": days})
    row = settling.approve_settlement(sold(at, price="40000.00").pk, by=owner, at=at)
    assert row.pay_by == pay_by


def test_approval_refuses_another_amount_or_an_older_page(owner: Actor, at: datetime) -> None:
    stay = sold(at, price="48500.00")
    stay.refresh_from_db()
    with pytest.raises(Refused) as refusal:
        settling.approve_settlement(stay.pk, expected_due=Decimal("44135.01"), by=owner, at=at)
    assert (refusal.value.code, refusal.value.field) == ("draft_changed", "expected_due")
    with pytest.raises(TooLate):
        settling.approve_settlement(stay.pk, by=owner, at=at, version=stay.version - 1)
    stay.refresh_from_db()
    assert stay.state == State.SOLD
    assert not Settlement.objects.exists()


def test_approval_is_the_owners_and_once(owner: Actor, sales: Actor, at: datetime) -> None:
    stay = sold(at, price="48500.00")
    with pytest.raises(NotAllowed):
        settling.approve_settlement(stay.pk, by=sales, at=at)
    row = settling.approve_settlement(stay.pk, by=owner, at=at)
    assert (row.number, row.sequence) == ("S-00001", 1)
    with pytest.raises(Refused, match="cannot become settled"):
        settling.approve_settlement(stay.pk, by=owner, at=at)


def test_lien_that_ran_out_stops_the_approval_and_leaves_it_sold(owner: Actor, at: datetime) -> None:
    stay = sold(
        at, price="48500.00", lien_holder="Tarn Valley Credit Union", lien_amount=Decimal(100), lien_quoted_on=at.date()
    )
    with pytest.raises(Refused) as refusal:
        settling.approve_settlement(stay.pk, by=owner, at=at + timedelta(days=1))
    assert refusal.value.code == "lien_stale"
    assert Consignment.objects.get(pk=stay.pk).state == State.SOLD


def test_sale_without_terms_cannot_be_settled(owner: Actor, at: datetime) -> None:
    """The table lists nothing without terms; rows brought in round the house are still refused."""
    stay = build.consignment(State.ON_LOT, at=at)
    Consignment.objects.filter(pk=stay.pk).update(state=State.SOLD)
    deal = Deal.objects.create(
        consignment=stay, buyer="Bo Larkin", price=Decimal(100), began_on=at.date(), ended_on=at.date(), end="sold",
        by="tests", at=at,
    )  # fmt: skip
    receipt = paying.record_payment(stay.pk, payment=Payment(amount=Decimal(100)), by=owner, at=at)
    paying.settle_payment(receipt.pk, event="cleared", by=owner, at=at)
    with pytest.raises(Refused) as refusal:
        settling.approve_settlement(stay.pk, by=owner, at=at)
    assert refusal.value.code == "no_terms"
    outcomes.append_sale(stay, deal=deal, on=at.date(), channel="lot", arms_length=True, by=owner, at=at)
    with pytest.raises(Refused) as refusal:
        settling.approve_settlement(stay.pk, by=owner, at=at)
    assert refusal.value.code == "no_terms"


def pay(settlement: Settlement, amount: str, *, by: Actor, at: datetime, **more: Any) -> Disbursement:
    given = {"payee_kind": "consignor", "payee": "Ada Fenwick", "method": "wire", **more}
    return settling.record_disbursement(settlement.pk, amount=Decimal(amount), by=by, at=at, **given)


def test_each_payee_is_paid_up_to_what_is_owed(owner: Actor, at: datetime) -> None:
    """48,500.00 less 4,365.00 less a lien of 12,250.37 leaves 31,884.63."""
    stay = sold(
        at, price="48500.00", lien_holder="Tarn Valley Credit Union", lien_amount=Decimal("12250.37"),
        lien_quoted_on=at.date(),
    )  # fmt: skip
    row = settling.approve_settlement(stay.pk, by=owner, at=at)
    pay(row, "31000.00", by=owner, at=at)
    with pytest.raises(Refused, match=r"\$884.64 is more than the \$884.63 left"):
        pay(row, "884.64", by=owner, at=at)
    pay(row, "884.63", by=owner, at=at)
    pay(row, "12250.37", by=owner, at=at, payee_kind="lien_holder", payee="Tarn Valley Credit Union")
    assert [settlements.left_to_pay(row, payee_kind=kind) for kind in ("consignor", "lien_holder")] == [0, 0]


def test_payment_sent_twice_is_one(owner: Actor, at: datetime) -> None:
    row = settling.approve_settlement(sold(at, price="48500.00").pk, by=owner, at=at)
    key = uuid.uuid4()
    assert pay(row, "1.00", by=owner, at=at, client_key=key) == pay(row, "1.00", by=owner, at=at, client_key=key)
    assert Disbursement.objects.count() == 1


def test_payment_that_cannot_be_is_refused(owner: Actor, sales: Actor, at: datetime) -> None:
    row = settling.approve_settlement(sold(at, price="48500.00").pk, by=owner, at=at)
    tomorrow = at.date() + timedelta(days=1)
    refused: list[tuple[str, dict[str, Any]]] = [
        ("on", {"on": tomorrow}), ("payee", {"payee": " "}), ("method", {"method": "shells"}),
    ]  # fmt: skip
    for field, more in refused:
        with pytest.raises(Refused) as refusal:
            pay(row, "1.00", by=owner, at=at, **more)
        assert refusal.value.field == field
    for amount, kind in (("0.00", "consignor"), ("1.00", "lien_holder")):
        with pytest.raises(Refused) as refusal:
            pay(row, amount, by=owner, at=at, payee_kind=kind)
        assert refusal.value.field == "amount"
    with pytest.raises(NotAllowed):
        pay(row, "1.00", by=sales, at=at)
    with pytest.raises(NotFound):
        settling.record_disbursement(
            row.pk + 1, payee_kind="consignor", payee="x", amount=Decimal(1), method="wire", by=owner, at=at
        )
    assert not Disbursement.objects.exists()


def test_negative_settlement_pays_the_consignor_nothing(owner: Actor, at: datetime) -> None:
    """12,000.00 less the minimum 1,500.00 and a lien of 12,250.37 is −1,750.37."""
    stay = sold(
        at, price="12000.00", plan_kind="percent_with_minimum", minimum=Decimal(1500),
        lien_holder="Tarn Valley Credit Union", lien_amount=Decimal("12250.37"), lien_quoted_on=at.date(),
    )  # fmt: skip
    row = settling.approve_settlement(stay.pk, by=owner, at=at)
    assert row.due == Decimal("-1750.37")
    with pytest.raises(Refused, match=r"\$0.00 left to pay"):
        pay(row, "0.01", by=owner, at=at)
