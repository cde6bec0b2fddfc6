"""Twenty settlements worked by hand, line by line, and recorded through the actions: equal to the cent.

The arithmetic stands beside each. Half a cent goes away from zero at the line: 12.5 % of 41,333.00 = 5,166.625 is
5,166.63. The plans, caps and payoffs are common practice, no source.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from inventory.actions import agreeing, charging, consenting, paying, selling, settling, trusting
from inventory.actions.consenting import Question
from inventory.actions.paying import Payment
from inventory.actions.selling import Bargain
from inventory.actions.writing import trade_day
from inventory.errors import Refused
from inventory.models import Consignment, Settlement
from inventory.queries.trust import ledger_of
from inventory.rules.roles import Actor
from inventory.rules.states import State
from inventory.rules.trust import Account
from tests import build

pytestmark = pytest.mark.django_db
D = Decimal
TIERS = ((D(25000), D(10)), (D(60000), D(8)), (None, D("5.5")))


@dataclass(frozen=True)
class Case:
    price: str
    due: str
    terms: dict[str, Any] = field(default_factory=dict)
    charges: Sequence[tuple[str, str, str]] = ()  # amount, borne by, vendor
    sale: dict[str, Any] = field(default_factory=dict)
    lien: tuple[str, str, int] | None = None  # amount, each further day, days until it is paid
    conceded: str = ""  # money off after the sale that the consignor agreed to bear
    forfeited: str = ""  # deposit of an earlier buyer
    payees: dict[str, str] = field(default_factory=dict)
    lot: str = ""  # what the lot has of it in the end


def percent(rate: str, **more: Any) -> dict[str, Any]:
    return {"plan_kind": "percent", "rate": D(rate), **more}


CASES = {
    # 48,500 − 9 % 4,365 − 612.40 − 185.00 − 12,250.37 = 31,087.23 (the worked statement of the house's standards).
    "percent, charges, lien": Case(
        "48500.00", "31087.23", percent("9"), [("612.40", "consignor", ""), ("185.00", "consignor", "")],
        lien=("12250.37", "", 0), lot="5162.40",
    ),
    # 41,333 × 12.5 % = 5,166.625, up to 5,166.63.
    "half a cent up": Case("41333.00", "36166.37", percent("12.5"), lot="5166.63"),
    # 25,000.05 × 10 % = 2,500.005, up to 2,500.01.
    "half a cent of five": Case("25000.05", "22500.04", percent("10"), lot="2500.01"),
    # 12,000 × 9 % = 1,080, so the least, 1,500.
    "minimum": Case(
        "12000.00", "10500.00", {"plan_kind": "percent_with_minimum", "rate": D(9), "minimum": D(1500)}, lot="1500.00"
    ),
    # 90,000 × 9 % = 8,100, so the most, 6,000.
    "maximum": Case("90000.00", "84000.00", percent("9", maximum=D(6000)), lot="6000.00"),
    # 2,500 + 2,800 + 5.5 % of 11,234.50 = 617.8975; 5,917.8975, up to 5,917.90.
    "tiered": Case("71234.50", "65316.60", {"plan_kind": "tiered", "rate": None, "tiers": TIERS}, lot="5917.90"),
    # 2,500 + 8 % of 0.05 = 0.004: 2,500.004, down to 2,500.00.
    "tiered, a cent below half": Case(
        "25000.05", "22500.05", {"plan_kind": "tiered", "rate": None, "tiers": TIERS}, lot="2500.00"
    ),
    "flat": Case("48500.00", "46000.00", {"plan_kind": "flat", "rate": None, "flat": D(2500)}, lot="2500.00"),
    # A flat fee above what is left: 2,000 − 2,500 = −500: the consignor owes it.
    "flat beyond the price": Case(
        "2000.00", "-500.00", {"plan_kind": "flat", "rate": None, "flat": D(2500)}, lot="2500.00"
    ),
    "guaranteed net": Case(
        "48500.00", "40000.00", {"plan_kind": "guaranteed_net", "rate": None, "guaranteed_net": D(40000)}, lot="8500.00"
    ),
    # The lot adds 3,000; the charge of 250.10 the consignor bears still comes off: 40,000 − 250.10.
    "guaranteed net, topped up": Case(
        "37000.00", "39749.90", {"plan_kind": "guaranteed_net", "rate": None, "guaranteed_net": D(40000)},
        [("250.10", "consignor", "")], lot="-2749.90",
    ),
    # What the lot bears is no line: 30,000 − 3,000.
    "charge borne by the lot": Case("30000.00", "27000.00", percent("10"), [("900.00", "lot", "")], lot="3000.00"),
    # 12,000 − 1,500 − 12,250.37 = −1,750.37.
    "lien above the rest": Case(
        "12000.00", "-1750.37", {"plan_kind": "percent_with_minimum", "rate": D(9), "minimum": D(1500)},
        lien=("12250.37", "", 0), lot="1500.00",
    ),
    # Paid 6 days after the quote at 3.07 a day: 12,250.37 + 18.42 = 12,268.79; 48,500 − 4,365 − 12,268.79.
    "lien by the day": Case("48500.00", "31866.21", percent("9"), lien=("12250.37", "3.07", 6), lot="4365.00"),
    # On the effective price: 48,500 − 500 given − (10,000 − 9,000) = 47,000 × 9 % = 4,230.
    "commission of the effective price": Case(
        "48500.00", "44270.00", percent("9", commission_base="effective"),
        sale={"concessions": D(500), "trade_allowance": D(10000), "trade_value": D(9000)}, lot="4230.00",
    ),
    # Money off of 750.25 that the consignor bears; commission of the price agreed: 30,000 − 3,000 − 750.25.
    "concession after the sale": Case("30000.00", "26249.75", percent("10"), conceded="750.25", lot="3000.00"),
    # The same, commission of the effective price: 29,249.75 × 10 % = 2,924.975, up to 2,924.98.
    "concession lowers the base": Case(
        "30000.00", "26324.77", percent("10", commission_base="effective"), conceded="750.25", lot="2924.98"
    ),
    # Of a deposit of 1,001.01 forfeited before, half: 500.505, up to 500.51; the lot 500.50. 20,000 − 2,000 + 500.51.
    "forfeited deposit": Case(
        "20000.00", "18500.51", percent("10", forfeit_percent=D(50)), forfeited="1001.01", lot="2500.50"
    ),
    # 30,000 − 3,000 − 0.01 = 26,999.99 to three owners: 33.334 % is 9,000.1766666, 33.333 % is 8,999.9066667
    # twice. Taken down that is 9,000.17 + 8,999.90 + 8,999.90; two cents are left, for the two
    # larger remainders, .66667.
    "three owners": Case(
        "30000.00", "26999.99",
        percent("10", payees=(("Ada Fenwick", D("33.334")), ("Bo Fenwick", D("33.333")), ("Cy Fenwick", D("33.333")))),
        [("0.01", "consignor", "")],
        payees={"Ada Fenwick": "9000.17", "Bo Fenwick": "8999.91", "Cy Fenwick": "8999.91"}, lot="3000.01",
    ),
    # A vendor is paid out of the sale: 30,000 − 3,000 − 1,234.56; the lot has its commission only.
    "vendor": Case(
        "30000.00", "25765.44", percent("10"), [("1234.56", "consignor", "Tarn Upholstery")],
        payees={"Tarn Upholstery": "1234.56", "Ada Fenwick": "25765.44"}, lot="3000.00",
    ),
}  # fmt: skip


def test_there_are_twenty_and_every_plan_is_among_them() -> None:
    assert len(CASES) == 20
    plans = {case.terms.get("plan_kind") for case in CASES.values()}
    assert plans == {"percent", "percent_with_minimum", "tiered", "flat", "guaranteed_net"}


@pytest.mark.parametrize("name", CASES)
def test_settlement_equals_the_one_worked_by_hand(owner: Actor, at: datetime, name: str) -> None:
    case = CASES[name]
    stay = sold(case, by=owner, at=at)
    pay_on = trade_day(at) + timedelta(days=case.lien[2] if case.lien else 0)
    row = settling.approve_settlement(stay.pk, pay_on=pay_on, by=owner, at=at)
    assert row.due == D(case.due)
    assert sum(line.amount for line in row.lines.all()) == row.due
    assert D(case.due) > 0 or not row.payees.filter(kind="consignor").exists()
    if case.payees:
        assert {payee.name: payee.amount for payee in row.payees.all()} == {k: D(v) for k, v in case.payees.items()}
    if row.due < 0:
        charging.record_consignor_payment(stay.pk, amount=-row.due, method="cheque", by=owner, at=at)
    paid_in = max(ledger_of(stay).standing[Account.LOT], D(0))
    if paid_in:
        trusting.move_money(stay.pk, kind="from_lot", amount=paid_in, method="wire", by=owner, at=at)
    pay_out(row, at=at + timedelta(days=case.lien[2] if case.lien else 0), by=owner)
    standing = ledger_of(stay).standing
    trade = case.sale.get("trade_allowance", D(0))
    assert -standing[Account.LOT] - paid_in == D(case.lot) - trade
    assert standing[Account.BANK] == D(case.lot) - trade + paid_in
    assert not any(standing[account] for account in Account if account not in {Account.LOT, Account.BANK})


def sold(case: Case, *, by: Actor, at: datetime) -> Consignment:
    stay = build.consignment(State.INSPECTED, at=at)
    lien = {}
    if case.lien is not None:
        lien = {
            "lien_holder": "Tarn Valley Credit Union", "lien_amount": D(case.lien[0]), "lien_quoted_on": trade_day(at),
            "lien_per_day": D(case.lien[1]) if case.lien[1] else None,
        }  # fmt: skip
    build.make_listable(stay, at=at, ask=D(case.price), **{"floor": None, **case.terms, **lien})
    build.asking.list_vehicle(stay.pk, by=build.BUILDER, at=at)
    for amount, borne_by, vendor in case.charges:
        charging.add_charge(
            stay.pk, kind="repair", what="Work", amount=D(amount), agreed_by="Ada Fenwick", borne_by=borne_by,
            vendor=vendor, by=by, at=at,
        )  # fmt: skip
    if case.forfeited:
        forfeit(stay, amount=case.forfeited, price=case.price, by=by, at=at)
    selling.mark_sold(stay.pk, bargain=Bargain(price=D(case.price), buyer="Bo Larkin", **case.sale), by=by, at=at)
    if case.conceded:
        question = Question(kind="concession", amount=D(case.conceded), what="a worn clutch")
        asked = consenting.ask_consent(stay.pk, question=question, by=by, at=at)
        consenting.record_answer(asked.pk, agreed=True, given_by="Ada Fenwick", how="by phone", by=by, at=at)
    build.pay_in_full(stay, at=at)
    stay.refresh_from_db()
    return stay


def forfeit(stay: Consignment, *, amount: str, price: str, by: Actor, at: datetime) -> None:
    deal = selling.take_deposit(
        stay.pk, bargain=Bargain(price=D(price), buyer="Al Mott"), deposit=Payment(amount=D(amount)), refundable=False,
        hold_until=trade_day(at), by=by, at=at,
    )  # fmt: skip
    paying.settle_payment(deal.payments.get().pk, event="cleared", by=by, at=at)
    selling.end_deal(stay.pk, reason="never came back", deposit_fate="kept", by=by, at=at)


def pay_out(row: Settlement, *, at: datetime, by: Actor) -> None:
    for payee in row.payees.all():
        settling.record_disbursement(
            row.pk, payee_kind=payee.kind, payee=payee.name, amount=payee.amount, method="wire", by=by, at=at
        )


def test_caps_hold_back_a_charge_until_the_consignor_agreed(owner: Actor, at: datetime) -> None:
    """A cap of 500.00 for repairs: 300.00 goes through, 200.01 more does not, and does once it was agreed to."""
    stay = build.consignment(State.INSPECTED, at=at)
    capped = build.terms(at, charge_rules=(("repair", "consignor", D(500)), ("detail", "lot", None)), floor=None)
    agreeing.agree_terms(stay.pk, terms=capped, by=owner, at=at)
    given = {"what": "Work", "agreed_by": "Ada Fenwick", "by": owner, "at": at}
    charging.add_charge(stay.pk, kind="repair", amount=D(300), **given)
    for kind, amount in (("repair", "200.01"), ("detail", "1.00")):
        with pytest.raises(Refused) as refusal:
            charging.add_charge(stay.pk, kind=kind, amount=D(amount), **given)
        assert refusal.value.code == "consent_needed"
    question = Question(kind="charge", charge_kind="repair", amount=D("200.01"), what="Work")
    asked = consenting.ask_consent(stay.pk, question=question, by=owner, at=at)
    consenting.record_answer(asked.pk, agreed=True, given_by="Ada Fenwick", how="by phone", by=owner, at=at)
    assert [charge.amount for charge in stay.charges.all()] == [D(300), D("200.01")]
