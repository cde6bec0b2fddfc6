"""One story of other people's money from the listing to the last cent, every step a record and no calculator.

A first buyer forfeits a deposit; a second pays part by wire, part by a cheque that bounces and is made good, and gives
a vehicle in trade; the lender's quote runs out in between; two owners of the title share; money is given off after the
sale. At every step the books equal the bank. The figures are worked by hand beside each step.
"""

from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from inventory.actions import (
    agreeing,
    asking,
    charging,
    consenting,
    extras,
    paying,
    recording,
    releasing,
    selling,
    settling,
    trading_in,
    trusting,
)
from inventory.actions.consenting import Question
from inventory.actions.intake import Arrival
from inventory.actions.paying import Payment
from inventory.actions.selling import Bargain
from inventory.actions.writing import trade_day
from inventory.errors import Refused
from inventory.models import Consignment
from inventory.queries import trust
from inventory.rules.roles import Actor
from inventory.rules.states import State
from inventory.rules.trust import is_closed
from inventory.rules.words import Basis, IdentityKind, PaperStanding, TitleKind
from tests import build

pytestmark = pytest.mark.django_db
D = Decimal


class Story:
    """The lot's days, and the bank account as the bank itself would keep it."""

    def __init__(self, *, owner: Actor, at: datetime) -> None:
        self.by, self.at, self.bank = owner, at, D("0.00")
        self.steps = 0

    @property
    def who(self) -> dict[str, Any]:
        return {"by": self.by, "at": self.at}

    def later(self, days: int) -> None:
        self.at += timedelta(days=days)

    def books_equal_the_bank(self, *, moved: str = "0.00") -> None:
        """Enter what the bank says and hold the report against it; by consignment the parts make up what is held."""
        self.bank += D(moved)
        trusting.enter_balance(amount=self.bank, **self.who)
        report = trust.report(on=trade_day(self.at))
        assert (report.bank, report.difference) == (self.bank, D("0.00"))
        for row in report.rows:
            held = row.buyer_held + row.consignor_held + row.payees_held + row.lot_takes
            assert row.bank == held - row.to_come - row.lot_pays_in
        self.steps += 1


def listed(story: Story) -> Consignment:
    """A title of two names joined by AND, both of whom signed; a lien with a quote good for twenty days."""
    stay = build.consignment(State.INSPECTED, at=story.at, consignor_name="Ada Fenwick")
    agreed = build.terms(
        story.at, rate=D(9), floor=D(40000), signed_by="Ada Fenwick and Bo Fenwick", forfeit_percent=D(60),
        payees=(("Ada Fenwick", D(50)), ("Bo Fenwick", D(50))), lien_holder="Tarn Valley Credit Union",
        lien_amount=D("12250.37"), lien_quoted_on=trade_day(story.at),
        lien_good_until=trade_day(story.at) + timedelta(days=20),
    )  # fmt: skip
    agreeing.agree_terms(stay.pk, terms=agreed, **story.who)
    recording.add_identity_number(
        stay.pk, kind=IdentityKind.TITLE, value=stay.vehicle.serial, basis=Basis.DOCUMENTED, **story.who
    )
    recording.add_title_paper(
        stay.pk, kind=TitleKind.TITLE, standing=PaperStanding.READ, number="T-77", name_on_paper="Ada Fenwick",
        more_names="Bo Fenwick", names_joined="and", **story.who,
    )  # fmt: skip
    asking.set_ask(stay.pk, amount=D(48500), **story.who)
    asking.list_vehicle(stay.pk, **story.who)
    return stay


def test_story_from_listing_to_the_last_cent(owner: Actor, at: datetime) -> None:
    story = Story(owner=owner, at=at)
    stay = listed(story)
    story.books_equal_the_bank()
    first_buyer_forfeits(story, stay)
    second_buyer_pays(story, stay)
    settle(story, stay)
    close(story, stay)
    assert story.steps == 16


def first_buyer_forfeits(story: Story, stay: Consignment) -> None:
    """A deposit of 1,000.01 is kept: 60 % is 600.006, so 600.01 for the consignor and 400.00 for the lot."""
    deal = selling.take_deposit(
        stay.pk, bargain=Bargain(price=D(48500), buyer="Al Mott"), deposit=Payment(amount=D("1000.01")),
        hold_until=trade_day(story.at) + timedelta(days=7), refundable=False, **story.who,
    )  # fmt: skip
    story.books_equal_the_bank()
    paying.settle_payment(deal.payments.get().pk, event="cleared", **story.who)
    story.books_equal_the_bank(moved="1000.01")
    story.later(8)
    deal = selling.end_deal(stay.pk, reason="never came back", deposit_fate="kept", **story.who)
    assert (deal.forfeited, deal.forfeited_to_consignor) == (D("1000.01"), D("600.01"))
    story.books_equal_the_bank()


def second_buyer_pays(story: Story, stay: Consignment) -> None:
    """47,000.00 with 9,000.00 allowed for a trade worth 8,000.00; tax of 2,350.00 beside it: 40,350.00 in money."""
    bargain = Bargain(
        price=D(47000), buyer="Bea Larkin", address="1 Weir Lane", trade_allowance=D(9000), trade_value=D(8000)
    )  # fmt: skip
    selling.mark_sold(stay.pk, bargain=bargain, **story.who)
    extras.add_extra(stay.pk, kind="sales_tax", amount=D(2350), **story.who)
    own = trading_in.log_trade(stay.pk, vehicle=Arrival(year=1985, make="Pell", model="Reed"), **story.who)
    assert own.consignor.is_lot
    story.books_equal_the_bank()
    wire = paying.record_payment(stay.pk, payment=Payment(amount=D(30000), method="wire"), **story.who)
    cheque = paying.record_payment(stay.pk, payment=Payment(amount=D(10350), method="cheque"), **story.who)
    story.books_equal_the_bank()
    paying.settle_payment(wire.pk, event="cleared", **story.who)
    story.books_equal_the_bank(moved="30000.00")
    paying.settle_payment(cheque.pk, event="bounced", **story.who)
    story.books_equal_the_bank()
    for deed in (releasing.release, releasing.send_title):
        with pytest.raises(Refused, match="cleared"):
            deed(stay.pk, **({"signed_for_by": "Bea Larkin"} if deed is releasing.release else {}), **story.who)
    with pytest.raises(Refused, match="cleared"):
        settling.approve_settlement(stay.pk, **story.who)
    story.later(6)
    draft = paying.record_payment(stay.pk, payment=Payment(amount=D(10350), method="draft"), **story.who)
    paying.settle_payment(draft.pk, event="cleared", **story.who)
    story.books_equal_the_bank(moved="10350.00")


def settle(story: Story, stay: Consignment) -> None:
    """500.00 off that the consignor agrees to bear goes back to the buyer. The quote has run out, a new one is
    12,310.02 and 2.11 a day: 4 days on 12,318.46.

    47,000.00 − 9 % 4,230.00 + 600.01 − 500.00 − 12,318.46 = 30,551.55: 15,275.78 and 15,275.77.
    """
    question = Question(kind="concession", amount=D(500), what="a cracked lens found on collection")
    asked = consenting.ask_consent(stay.pk, question=question, **story.who)
    story.books_equal_the_bank()
    consenting.record_answer(asked.pk, agreed=True, given_by="Ada Fenwick", how="by phone", **story.who)
    wire = stay.deals.get(end="sold").payments.get(event="received", method="wire")
    paying.settle_payment(wire.pk, event="returned", amount=D(500), **story.who)
    story.books_equal_the_bank(moved="-500.00")
    story.later(10)
    with pytest.raises(Refused) as refusal:
        settling.approve_settlement(stay.pk, **story.who)
    assert refusal.value.code == "lien_stale"
    agreeing.record_lien_quote(
        stay.pk, holder="Tarn Valley Credit Union", amount=D("12310.02"), quoted_on=trade_day(story.at),
        per_day=D("2.11"), **story.who,
    )  # fmt: skip
    pay_on = trade_day(story.at) + timedelta(days=4)
    row = settling.approve_settlement(stay.pk, pay_on=pay_on, expected_due=D("30551.55"), **story.who)
    assert [(payee.name, payee.amount) for payee in row.payees.all()] == [
        ("Tarn Valley Credit Union", D("12318.46")), ("Ada Fenwick", D("15275.78")), ("Bo Fenwick", D("15275.77")),
    ]  # fmt: skip
    story.books_equal_the_bank()
    story.later(4)
    lender, ada, bo = row.payees.all()
    for payee in (lender, ada):
        pay(story, row.pk, payee)
    story.books_equal_the_bank(moved="-27594.24")
    lot_pays_in_for_the_trade(story, stay, row.pk, bo)


def lot_pays_in_for_the_trade(story: Story, stay: Consignment, settlement_id: int, last: Any) -> None:
    """The trade of 9,000.00 is the lot's to pay in; it has earned 4,230.00 and 400.00 of the deposit: 4,370.00 more.

    Of 40,850.01 that cleared and stayed, 13,255.77 are left: less than the last owner's 15,275.77.
    """
    with pytest.raises(Refused, match=r"than the \$13,255.77 .* First the lot pays in \$4,370.00"):
        pay(story, settlement_id, last)
    trusting.move_money(stay.pk, kind="from_lot", amount=D(4370), method="wire", **story.who)
    story.books_equal_the_bank(moved="4370.00")
    pay(story, settlement_id, last)
    story.books_equal_the_bank(moved="-15275.77")


def pay(story: Story, settlement_id: int, payee: Any) -> None:
    settling.record_disbursement(
        settlement_id, payee_kind=payee.kind, payee=payee.name, amount=payee.amount, method="wire", **story.who
    )


def close(story: Story, stay: Consignment) -> None:
    """The tax of 2,350.00 is passed on; nothing is left on any account."""
    trusting.move_money(stay.pk, kind="to_authority", amount=D(2350), method="wire", **story.who)
    story.books_equal_the_bank(moved="-2350.00")
    releasing.release(stay.pk, signed_for_by="Bea Larkin", **story.who)
    ledger = trust.ledger_of(stay)
    assert is_closed(ledger.standing)
    assert story.bank == D("0.00")
    assert charging.balance_of_consignor(stay) == D("0.00")
    report = trust.report(on=trade_day(story.at))
    assert report.rows == ()
