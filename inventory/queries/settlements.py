"""Settlements: the draft as it stands, what is left to pay of an approved one, and what a price would leave."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from inventory.errors import Refused
from inventory.models import (
    Charge,
    Consignment,
    ConsignorPayment,
    Disbursement,
    SaleOutcome,
    Settlement,
    SettlementLine,
    Terms,
)
from inventory.queries import facts
from inventory.queries.history import live_outcome
from inventory.rules import money, states
from inventory.rules.roles import Actor
from inventory.rules.states import State
from inventory.rules.terms import Line, LineKind, Statement, payment_due_on
from inventory.rules.words import BornBy, Payee, Result


@dataclass(frozen=True)
class Draft:
    terms: Terms
    statement: Statement


def draft_of(consignment: Consignment, *, on: date) -> Draft | None:
    """The statement of a sold vehicle if it were approved on a day; None without a sale or terms."""
    outcome = live_outcome(consignment)
    terms = facts.terms_of(consignment)
    if outcome is None or outcome.price is None or terms is None:
        return None
    charges = facts.live_charges(consignment)
    return Draft(terms, facts.statement_at(outcome.price, terms=terms, charges=charges, on=on))


def owed_to(settlement: Settlement, *, payee_kind: str) -> Decimal:
    """What the settlement owes a payee: the consignor its due, the lien holder the payoff."""
    if payee_kind == Payee.CONSIGNOR:
        due: Decimal = settlement.due
        return max(due, money.ZERO)
    lien = settlement.lines.filter(kind=LineKind.LIEN).values_list("amount", flat=True)
    return -money.total(lien)


def left_to_pay(settlement: Settlement, *, payee_kind: str) -> Decimal:
    paid = Disbursement.objects.filter(settlement=settlement, payee_kind=payee_kind)
    return owed_to(settlement, payee_kind=payee_kind) - money.total(paid.values_list("amount", flat=True))


@dataclass(frozen=True)
class Net:
    """What the consignor would be paid at one price on a day, or why nobody can say."""

    label: str
    price: Decimal
    statement: Statement | None = None
    question: str = ""

    @property
    def commission(self) -> Decimal | None:
        return self._sum(LineKind.COMMISSION)

    @property
    def top_up(self) -> Decimal | None:
        return self._sum(LineKind.TOP_UP)

    @property
    def charges(self) -> Decimal | None:
        return self._sum(LineKind.CHARGE)

    @property
    def lien(self) -> Decimal | None:
        return self._sum(LineKind.LIEN)

    @property
    def due(self) -> Decimal | None:
        return None if self.statement is None else self.statement.due

    def _sum(self, kind: LineKind) -> Decimal | None:
        return None if self.statement is None else self.statement.sum_of(kind)


def net_at(price: Decimal, *, label: str, terms: Terms, charges: list[Charge], on: date) -> Net:
    try:
        return Net(label, price, facts.statement_at(price, terms=terms, charges=charges, on=on))
    except Refused as problem:
        return Net(label, price, question=str(problem))


@dataclass(frozen=True)
class Floor:
    """The floor as a price and as a net in hand on a day, or why it cannot be worked out."""

    price: Decimal | None = None
    net: Decimal | None = None
    question: str = ""


def floor_on(day: date, *, terms: Terms | None, charges: list[Charge]) -> Floor:
    if terms is None or terms.floor is None:
        return Floor()
    try:
        price = facts.floor_price(terms, charges=charges, on=day)
    except Refused as problem:
        return Floor(question=str(problem))
    if price is None:
        return Floor()
    net = net_at(price, label="floor", terms=terms, charges=charges, on=day)
    return Floor(price, net.due, net.question)


@dataclass(frozen=True)
class PayeeLeft:
    """What a payee of a settlement was owed, was paid and is still owed."""

    kind: str
    label: str
    name: str
    owed: Decimal
    left: Decimal


@dataclass(frozen=True)
class Page:
    """All that the settlement page shows of one stay."""

    stay: Consignment
    outcome: SaleOutcome | None
    net: Net | None
    buyer: facts.BuyerMoney
    blockers: tuple[str, ...]
    pay_by: date | None
    countdown: str
    settlement: Settlement | None
    lines: tuple[Line | SettlementLine, ...]
    payees: tuple[PayeeLeft, ...]
    disbursements: tuple[Disbursement, ...]
    charges_unpaid: Decimal
    consignor_payments: tuple[ConsignorPayment, ...]

    @property
    def may_be_approved(self) -> bool:
        return self.net is not None and self.settlement is None and not self.blockers

    @property
    def to_pay(self) -> tuple[PayeeLeft, ...]:
        return tuple(payee for payee in self.payees if payee.left > 0)


def page(stay: Consignment, *, by: Actor, today: date) -> Page:
    outcome = _live_sale(stay)
    settlement = facts.settlement_of(stay)
    charges = facts.live_charges(stay)
    net = _draft_net(stay, outcome=outcome, charges=charges, today=today) if settlement is None else None
    payees = payees_of(settlement) if settlement else ()
    pay_by = settlement.pay_by if settlement else _pay_by(outcome)
    paid = settlement is not None and not any(payee.left for payee in payees)
    return Page(
        stay=stay,
        outcome=outcome,
        net=net,
        buyer=facts.buyer_money(facts.live_deal(stay)),
        blockers=_blockers(stay, net=net, by=by, today=today),
        pay_by=pay_by,
        countdown="" if pay_by is None or paid else countdown(pay_by, today=today),
        settlement=settlement,
        lines=_lines(settlement, net=net),
        payees=payees,
        disbursements=tuple(settlement.disbursements.order_by("pk")) if settlement else (),
        charges_unpaid=facts.charges_unpaid(stay, charges=charges),
        consignor_payments=tuple(ConsignorPayment.objects.filter(consignment=stay).order_by("pk")),
    )


def _lines(settlement: Settlement | None, *, net: Net | None) -> tuple[Line | SettlementLine, ...]:
    if settlement is not None:
        return tuple(settlement.lines.order_by("position"))
    return net.statement.lines if net is not None and net.statement is not None else ()


def _live_sale(stay: Consignment) -> SaleOutcome | None:
    outcome = live_outcome(stay)
    return outcome if outcome is not None and outcome.result == Result.SOLD else None


def _draft_net(stay: Consignment, *, outcome: SaleOutcome | None, charges: list[Charge], today: date) -> Net | None:
    terms = facts.terms_of(stay)
    if outcome is None or outcome.price is None or terms is None:
        return None
    return net_at(outcome.price, label="sale", terms=terms, charges=charges, on=today)


def _pay_by(outcome: SaleOutcome | None) -> date | None:
    return None if outcome is None else payment_due_on(outcome.ended_on, days=facts.the_lot().pay_within_days)


def _blockers(stay: Consignment, *, net: Net | None, by: Actor, today: date) -> tuple[str, ...]:
    """All that still keeps a draft from being approved."""
    move = states.move_of(State(stay.state), State.SETTLED)
    if move is None:
        return ()
    known = facts.facts_of(stay, today=today, by=by, to=State.SETTLED)
    found = [str(refusal) for need in move.needs if (refusal := need(known)) is not None]
    return (*found, net.question) if net is not None and net.question else tuple(found)


def countdown(pay_by: date, *, today: date) -> str:
    """How long is left to pay, in words."""
    days = (pay_by - today).days
    if days == 0:
        return "due today"
    unit = "day" if abs(days) == 1 else "days"
    return f"{days} {unit} left" if days > 0 else f"{-days} {unit} late"


def payees_of(settlement: Settlement) -> tuple[PayeeLeft, ...]:
    """Who is paid by a settlement: the consignor, and the lien holder where there is a lien."""
    names = {Payee.CONSIGNOR: settlement.consignment.consignor.name, Payee.LIEN_HOLDER: settlement.terms.lien_holder}
    rows = (
        PayeeLeft(
            payee.value, payee.label, names[payee], owed_to(settlement, payee_kind=payee),
            left_to_pay(settlement, payee_kind=payee),
        )
        for payee in Payee
    )  # fmt: skip
    return tuple(row for row in rows if row.owed)


def borne_by_consignor(charges: list[Charge]) -> list[Charge]:
    return [charge for charge in charges if charge.borne_by == BornBy.CONSIGNOR]
