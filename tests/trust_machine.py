"""Random histories of other people's money, made through the actions, beside a bank account kept by hand.

The shadow knows nothing of the ledger: it adds what clears and takes away what is paid out, as a bank would.
"""

from collections import Counter
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

from django.db import transaction
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from inventory.actions import (
    charging,
    conceding,
    consenting,
    extras,
    paying,
    selling,
    settling,
    trusting,
)
from inventory.actions.consenting import Question
from inventory.actions.paying import Payment
from inventory.actions.selling import Bargain
from inventory.actions.writing import trade_day
from inventory.errors import Refused
from inventory.models import BuyerPayment, Consignment, Settlement
from inventory.queries import facts, trust
from inventory.queries.settlements import payees_of
from inventory.queries.trust_open import open_stays
from inventory.rules.money import total
from inventory.rules.trust import Account
from tests import build

AT = datetime(2026, 3, 16, 15, 0, tzinfo=UTC)
ZERO = Decimal("0.00")
cents = st.integers(1, 900_000).map(lambda count: Decimal(count).scaleb(-2))
which = st.integers(0, 1)
done: Counter[str] = Counter()  # what was accepted, over all histories: a machine that only refuses proves nothing


def two_listed() -> list[int]:
    """Two stays under terms of different kinds, both with a lien on one side; every history begins here."""
    plans: list[dict[str, Any]] = [
        {"rate": Decimal("8.125"), "forfeit_percent": Decimal("33.3"), "commission_base": "effective",
         "lien_holder": "Tarn Valley Credit Union", "lien_amount": Decimal("1210.37"), "lien_quoted_on": trade_day(AT)},
        {"plan_kind": "guaranteed_net", "rate": None, "guaranteed_net": Decimal(7000), "forfeit_percent": Decimal(50),
         "payees": (("Ada Fenwick", Decimal("66.667")), ("Bo Fenwick", Decimal("33.333")))},
    ]  # fmt: skip
    made = []
    for plan in plans:
        stay = build.consignment(build.State.INSPECTED, at=AT)
        build.make_listable(stay, at=AT, ask=Decimal(9000), **{"floor": None, **plan})
        build.asking.list_vehicle(stay.pk, by=build.BUILDER, at=AT)
        made.append(stay.pk)
    return made


class TrustMachine(RuleBasedStateMachine):
    """One history of two vehicles; undone at its end."""

    stays: list[int] = []
    who: dict[str, Any] = {"by": build.BUILDER, "at": AT}

    def __init__(self) -> None:
        super().__init__()
        self.bank = ZERO
        self.undo = transaction.atomic()
        self.undo.__enter__()

    def teardown(self) -> None:
        """Whatever happened, the sums in the database find the open books. Once a history, since it reads all."""
        on = trade_day(AT)
        books = trust.ledgers_of(Consignment.objects.all(), until=on)
        assert set(open_stays(on=on)) == {stay_id for stay_id, ledger in books.items() if not ledger.is_closed}
        transaction.set_rollback(True)
        self.undo.__exit__(None, None, None)

    def stay(self, index: int) -> Consignment:
        return Consignment.objects.get(pk=self.stays[index])

    def attempt(self, name: str, deed: Any) -> Any:
        """Do it, or be refused: then nothing may have changed, which the invariants see."""
        try:
            with transaction.atomic():
                row = deed()
        except Refused:
            return None
        done[name] += 1
        return row

    @initialize()
    def begin(self) -> None:
        self.bank = ZERO

    @rule(index=which, price=st.integers(5000, 9500), amount=cents, refundable=st.booleans())
    def deposit(self, index: int, price: int, amount: Decimal, refundable: bool) -> None:
        bargain = Bargain(price=Decimal(price), buyer="Al Mott")
        self.attempt("deposit", lambda: selling.take_deposit(
            self.stays[index], bargain=bargain, deposit=Payment(amount=amount), hold_until=trade_day(AT),
            refundable=refundable, **self.who,
        ))  # fmt: skip

    @rule(index=which, price=st.integers(1500, 9500), trade=st.integers(0, 3), extra=st.booleans())
    def sell(self, index: int, price: int, trade: int, extra: bool) -> None:
        bargain = Bargain(
            price=Decimal(price), buyer="Bo Larkin", trade_allowance=Decimal(trade * 400),
            trade_value=Decimal(trade * 300),
        )  # fmt: skip
        if self.attempt("sold", lambda: selling.mark_sold(self.stays[index], bargain=bargain, **self.who)) and extra:
            for kind, amount in (("sales_tax", "412.35"), ("lot_fee", "75.00")):
                self.attempt("extra", lambda kind=kind, amount=amount: extras.add_extra(
                    self.stays[index], kind=kind, amount=Decimal(amount), **self.who
                ))  # fmt: skip

    @rule(index=which, price=st.integers(1500, 9500), trade=st.integers(0, 3))
    def sell_and_clear(self, index: int, price: int, trade: int) -> None:
        """The way most sales go, so that what comes after a sale is reached often."""
        self.sell(index=index, price=price, trade=trade, extra=True)
        self.buyer_pays(index=index, amount=Decimal(1), whole=True)
        self.fate(index=index, event="cleared", part=Decimal(1))

    @rule(index=which, price=st.integers(5000, 9500), amount=cents, kept=st.booleans())
    def deposit_and_nothing_more(self, index: int, price: int, amount: Decimal, kept: bool) -> None:
        self.deposit(index=index, price=price, amount=min(amount, Decimal(4000)), refundable=not kept)
        self.fate(index=index, event="cleared", part=Decimal(1))
        self.falls_through(index=index, kept=kept)
        if not kept:
            self.fate(index=index, event="returned", part=Decimal(4001))

    @rule(index=which)
    def settle_and_pay(self, index: int) -> None:
        self.approve(index=index)
        for kind in ("from_lot", "to_authority"):
            self.move(index=index, kind=kind, amount=Decimal(1), whole=True)
        self.consignor_pays(index=index, amount=Decimal(1), whole=True)
        self.pay_out(index=index, amount=Decimal(1), whole=True)
        self.move(index=index, kind="to_lot", amount=Decimal(1), whole=True)

    @rule(index=which, amount=cents, whole=st.booleans())
    def buyer_pays(self, index: int, amount: Decimal, whole: bool) -> None:
        owed = facts.buyer_money(facts.live_deal(self.stay(index)))
        left = owed.owed - owed.received
        given = left if whole and left > 0 else amount
        self.attempt("paid in", lambda: paying.record_payment(
            self.stays[index], payment=Payment(amount=given), **self.who
        ))  # fmt: skip

    @rule(index=which, event=st.sampled_from(["cleared", "cleared", "cleared", "bounced", "returned"]), part=cents)
    def fate(self, index: int, event: str, part: Decimal) -> None:
        receipts = BuyerPayment.objects.filter(deal__consignment=self.stays[index], event="received").order_by("-pk")
        for receipt in receipts[:2]:
            amount = part if event == "returned" and part < receipt.amount else None
            has_cleared = receipt.events.filter(event="cleared").exists()
            row = self.attempt(event, lambda receipt=receipt, amount=amount: paying.settle_payment(
                receipt.pk, event=event, amount=amount, **self.who
            ))  # fmt: skip
            if row is not None and event == "cleared":
                returned = receipt.events.filter(event="returned").first()
                self.bank += row.amount - (returned.amount if returned else ZERO)
            elif row is not None and event == "returned" and has_cleared:
                self.bank -= row.amount

    @rule(index=which, kept=st.booleans())
    def falls_through(self, index: int, kept: bool) -> None:
        self.attempt("kept" if kept else "fell through", lambda: selling.end_deal(
            self.stays[index], reason="never came", deposit_fate="kept" if kept else "returned", **self.who
        ))  # fmt: skip

    @rule(index=which)
    def unwind(self, index: int) -> None:
        self.attempt("unwound", lambda: selling.unwind_sale(self.stays[index], reason="wrong buyer", **self.who))

    @rule(index=which)
    def withdraw(self, index: int) -> None:
        self.attempt("withdrawn", lambda: selling.withdraw(self.stays[index], reason="changed_mind", **self.who))

    @rule(index=which, amount=cents, vendor=st.sampled_from(["", "Tarn Upholstery"]), lot=st.booleans())
    def charge(self, index: int, amount: Decimal, vendor: str, lot: bool) -> None:
        self.attempt("charged", lambda: charging.add_charge(
            self.stays[index], kind="repair", what="Work", amount=amount, agreed_by="Ada Fenwick", vendor=vendor,
            borne_by="lot" if lot else "consignor", **self.who,
        ))  # fmt: skip

    @rule(index=which, amount=cents, by_consignor=st.booleans())
    def concede(self, index: int, amount: Decimal, by_consignor: bool) -> None:
        if not by_consignor:
            self.attempt("conceded", lambda: conceding.concede(
                self.stays[index], amount=amount, reason="a worn clutch", **self.who
            ))  # fmt: skip
            return
        question = Question(kind="concession", amount=amount, what="a worn clutch")
        asked = self.attempt("asked", lambda: consenting.ask_consent(self.stays[index], question=question, **self.who))
        if asked is not None:
            self.attempt("agreed", lambda: consenting.record_answer(
                asked.pk, agreed=True, given_by="Ada Fenwick", how="by phone", **self.who
            ))  # fmt: skip

    @rule(index=which)
    def approve(self, index: int) -> None:
        self.attempt("approved", lambda: settling.approve_settlement(self.stays[index], **self.who))

    @rule(index=which)
    def reverse(self, index: int) -> None:
        row = facts.settlement_of(self.stay(index))
        if row is not None:
            self.attempt("reversed", lambda: settling.reverse_settlement(row.pk, reason="a slip", **self.who))

    @rule(index=which, amount=cents, whole=st.booleans())
    def pay_out(self, index: int, amount: Decimal, whole: bool) -> None:
        row = facts.settlement_of(self.stay(index))
        for payee in payees_of(row) if row is not None else ():
            given = payee.left if whole and payee.left > 0 else amount
            if self.attempt("paid out", lambda payee=payee, given=given, row=row: settling.record_disbursement(
                row.pk, payee_kind=payee.kind, payee=payee.name, amount=given, method="wire", **self.who
            )):  # fmt: skip
                self.bank -= given

    @rule(index=which, amount=cents, whole=st.booleans())
    def consignor_pays(self, index: int, amount: Decimal, whole: bool) -> None:
        owed = -trust.balance_of_consignor(self.stay(index))
        given = owed if whole and owed > 0 else amount
        if self.attempt("consignor paid", lambda: charging.record_consignor_payment(
            self.stays[index], amount=given, method="cheque", **self.who
        )):  # fmt: skip
            self.bank += given

    @rule(index=which, kind=st.sampled_from(["to_lot", "from_lot", "to_authority"]), amount=cents, whole=st.booleans())
    def move(self, index: int, kind: str, amount: Decimal, whole: bool) -> None:
        standing = trust.ledger_of(self.stay(index)).standing
        most = abs(standing[Account.TAXES if kind == "to_authority" else Account.LOT])
        given = most if whole and most else amount
        if self.attempt(kind, lambda: trusting.move_money(
            self.stays[index], kind=kind, amount=given, method="wire", **self.who
        )):  # fmt: skip
            self.bank += given if kind == "from_lot" else -given

    @invariant()
    def books_equal_the_bank_and_the_sum_of_their_parts(self) -> None:
        report = trust.report(on=trade_day(AT))
        assert report.bank == self.bank
        assert total(row.bank for row in report.rows) == report.bank
        for row in report.rows:
            held = row.buyer_held + row.consignor_held + row.payees_held + row.lot_takes
            assert row.bank == held - row.to_come - row.lot_pays_in
            assert total(row.standing.values()) == ZERO
            assert row.bank >= ZERO  # no vehicle's money ever paid for another

    @precondition(lambda self: Settlement.objects.exists())
    @invariant()
    def statements_are_numbered_without_gaps_and_add_up(self) -> None:
        rows = list(Settlement.objects.order_by("sequence").prefetch_related("lines"))
        assert [row.sequence for row in rows] == list(range(1, len(rows) + 1))
        for row in rows:
            assert total(line.amount for line in row.lines.all()) == row.due
