"""Settlements: the draft as it stands, what is left to pay of an approved one, and what a price would leave."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from inventory.errors import NotFound, Refused
from inventory.models import (
    Charge,
    Consignment,
    ConsignorPayment,
    Disbursement,
    SaleOutcome,
    Settlement,
    SettlementLine,
    SettlementPayee,
    Terms,
)
from inventory.queries import facts
from inventory.queries.history import live_outcome
from inventory.queries.trust import balance_of_consignor
from inventory.rules import money, states
from inventory.rules.agreement import clock_start
from inventory.rules.payouts import Payout, payouts
from inventory.rules.roles import Actor
from inventory.rules.states import State
from inventory.rules.terms import Line, LineKind, Statement, payment_due_on, statement_without_sale
from inventory.rules.words import BornBy, PayClock, Payee, Result


@dataclass(frozen=True)
class Draft:
    """A statement as it stands on a day, and who would be paid what of it."""

    terms: Terms
    statement: Statement
    payouts: tuple[Payout, ...]


def draft_of(consignment: Consignment, *, on: date) -> Draft | None:
    """The statement of a stay that ended, if it were paid out on a day; None without an end or terms."""
    outcome, terms = live_outcome(consignment), facts.terms_of(consignment)
    if outcome is None or terms is None or consignment.consignor.is_lot:
        return None
    charges = facts.live_charges(consignment)
    if outcome.result == Result.WITHDRAWN:
        statement = statement_without_sale(
            charges=facts.charge_lines(charges), forfeits=facts.forfeits_of(consignment), on=on
        )  # fmt: skip
    elif outcome.deal is not None:
        sale = facts.sale_of(consignment, deal=outcome.deal)
        statement = facts.statement_at(sale, terms=terms, charges=charges, on=on)
    else:
        return None
    lien = facts.lien_of(terms)
    paid = payouts(
        statement, consignor=consignment.consignor.name, lender=lien.holder if lien else "",
        shares=facts.beside(terms).payees,
    )  # fmt: skip
    return Draft(terms, statement, paid)


@dataclass(frozen=True)
class PayeeLeft:
    """What a payee of a settlement was owed, was paid and is still owed."""

    kind: str
    label: str
    name: str
    owed: Decimal
    left: Decimal
    share_id: int | None = None


def payees_of(settlement: Settlement) -> tuple[PayeeLeft, ...]:
    """Who is paid by a settlement and what is left of it, over all statements of the stay."""
    rows = list(settlement.payees.order_by("position")) or _payees_before_they_were_kept(settlement)
    paid = list(Disbursement.objects.filter(settlement__consignment_id=settlement.consignment_id))
    return tuple(_left(row, among=rows, paid=paid) for row in rows)


def _payees_before_they_were_kept(settlement: Settlement) -> list[SettlementPayee]:
    """Older statements name their payees by what they owe."""
    lien = -money.total(settlement.lines.filter(kind=LineKind.LIEN).values_list("amount", flat=True))
    owed = (
        (Payee.CONSIGNOR, settlement.consignment.consignor.name, max(settlement.due, money.ZERO)),
        (Payee.LIEN_HOLDER, settlement.terms.lien_holder, lien),
    )
    return [SettlementPayee(kind=kind, name=name, amount=amount) for kind, name, amount in owed if amount]


def _left(row: SettlementPayee, *, among: list[SettlementPayee], paid: list[Disbursement]) -> PayeeLeft:
    alone = sum(other.kind == row.kind for other in among) == 1
    gone = [done.amount for done in paid if done.payee_kind == row.kind and (alone or same_name(done.payee, row.name))]
    return PayeeLeft(row.kind, row.get_kind_display(), row.name, row.amount, row.amount - money.total(gone), row.pk)


def same_name(one: str, other: str) -> bool:
    return " ".join(one.split()).casefold() == " ".join(other.split()).casefold()


def left_to_pay(settlement: Settlement, *, payee_kind: str) -> Decimal:
    """What all payees of a kind have still to get."""
    return money.total(row.left for row in payees_of(settlement) if row.kind == payee_kind)


@dataclass(frozen=True)
class Check:
    """One thing that is looked at before a statement is approved."""

    what: str
    is_right: bool
    detail: str = ""


def checks_of(stay: Consignment, *, draft: Draft, pay_on: date) -> tuple[Check, ...]:
    """The payoff is still good on the pay date, and every charge was agreed, within the caps of the terms."""
    lien = facts.lien_of(draft.terms)
    checks = []
    if lien is not None:
        ran_out = lien.good_until is not None and pay_on > lien.good_until
        detail = f"quoted {lien.quoted_on}" + (f", good until {lien.good_until}" if lien.good_until else "")
        checks.append(Check(f"The payoff of {lien.holder} is good on {pay_on}", not ran_out, detail))
    beyond = _beyond_caps(stay, terms=draft.terms)
    checks.append(Check("Every charge is within its cap or was agreed to", not beyond, "; ".join(beyond)))
    if waiting := list(stay.work_orders.filter(closed_on__isnull=True, borne_by=BornBy.CONSIGNOR)):
        checks.append(Check("No work order waits to be charged", False, "; ".join(row.what for row in waiting)))
    return tuple(checks)


def _beyond_caps(stay: Consignment, *, terms: Terms) -> list[str]:
    borne = borne_by_consignor(facts.live_charges(stay))
    told = []
    for rule in facts.beside(terms).charge_rules:
        unasked = [row.amount for row in borne if row.kind == rule.kind and row.consent_id is None]
        limit = money.ZERO if rule.borne_by is BornBy.LOT else rule.cap
        if limit is not None and money.total(unasked) > limit:
            told.append(f"{rule.kind.label}: {money.show(money.total(unasked))}, cap {money.show(limit)}")
    return told


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
    draft: Draft | None
    checks: tuple[Check, ...]
    statements: tuple[Settlement, ...]
    owed_by_consignor: Decimal

    @property
    def may_be_approved(self) -> bool:
        return self.draft is not None and self.settlement is None and not self.blockers

    @property
    def to_pay(self) -> tuple[PayeeLeft, ...]:
        return tuple(payee for payee in self.payees if payee.left > 0)


def page(stay: Consignment, *, by: Actor, today: date) -> Page:
    outcome = _live_sale(stay)
    settlement = facts.settlement_of(stay)
    charges = facts.live_charges(stay)
    deal = facts.live_deal(stay)
    draft, question = _draft(stay, today=today) if settlement is None else (None, "")
    payees = payees_of(settlement) if settlement else ()
    pay_by = settlement.pay_by if settlement else pay_by_of(stay, outcome=outcome)
    paid = settlement is not None and not any(payee.left for payee in payees)
    statements = tuple(stay.settlements.select_related("terms").order_by("pk"))
    return Page(
        stay=stay,
        outcome=outcome,
        net=_draft_net(outcome, draft=draft, question=question),
        buyer=facts.buyer_money(deal),
        blockers=_blockers(stay, question=question, by=by, today=today),
        pay_by=pay_by,
        countdown="" if pay_by is None or paid else countdown(pay_by, today=today),
        settlement=settlement,
        lines=_lines(settlement, draft=draft),
        payees=payees,
        disbursements=tuple(Disbursement.objects.filter(settlement__in=statements).order_by("pk")),
        charges_unpaid=facts.charges_unpaid(stay, charges=charges),
        consignor_payments=tuple(ConsignorPayment.objects.filter(consignment=stay).order_by("pk")),
        draft=draft,
        checks=checks_of(stay, draft=draft, pay_on=today) if draft else (),
        statements=statements,
        owed_by_consignor=max(-balance_of_consignor(stay), money.ZERO),
    )


def _draft(stay: Consignment, *, today: date) -> tuple[Draft | None, str]:
    """The draft, or why nobody can say what is owed."""
    try:
        return draft_of(stay, on=today), ""
    except Refused as problem:
        return None, str(problem)


def pay_by_of(stay: Consignment, *, outcome: SaleOutcome | None) -> date | None:
    """The last day to pay by the lot's clock; None while what starts it has not happened."""
    if outcome is None:
        return None
    lot = facts.the_lot()
    start = clock_start(
        PayClock(lot.pay_clock), sold_on=outcome.ended_on, cleared_on=facts.cleared_in_full_on(stay),
        title_on=stay.title_sent_on,
    )  # fmt: skip
    return None if start is None else payment_due_on(start, days=lot.pay_within_days)


def _lines(settlement: Settlement | None, *, draft: Draft | None) -> tuple[Line | SettlementLine, ...]:
    if settlement is not None:
        return tuple(settlement.lines.order_by("position"))
    return draft.statement.lines if draft is not None else ()


def _live_sale(stay: Consignment) -> SaleOutcome | None:
    outcome = live_outcome(stay)
    return outcome if outcome is not None and outcome.result == Result.SOLD else None


def _draft_net(outcome: SaleOutcome | None, *, draft: Draft | None, question: str) -> Net | None:
    if outcome is None or outcome.price is None or (draft is None and not question):
        return None
    return Net("sale", outcome.price, draft.statement if draft else None, question)


def _blockers(stay: Consignment, *, question: str, by: Actor, today: date) -> tuple[str, ...]:
    """All that still keeps a draft from being approved."""
    if stay.state not in {State.SOLD, State.SETTLED, State.WITHDRAWN}:
        return ()
    known = facts.facts_of(stay, today=today, by=by, to=State.SETTLED)
    needs = () if stay.state == State.WITHDRAWN else (states.needs_cleared_money,)
    found = [str(refusal) for need in needs if (refusal := need(known)) is not None]
    return (*found, question) if question else tuple(found)


def countdown(pay_by: date, *, today: date) -> str:
    """How long is left to pay, in words."""
    days = (pay_by - today).days
    if days == 0:
        return "due today"
    unit = "day" if abs(days) == 1 else "days"
    return f"{days} {unit} left" if days > 0 else f"{-days} {unit} late"


def paid_with_proof(paid_id: int, *, stay: Consignment) -> Disbursement:
    row = Disbursement.objects.filter(pk=paid_id, settlement__consignment=stay).exclude(proof="").first()
    if row is None:
        raise NotFound("not_found", "There is no such proof of payment.", got=paid_id)
    return row


def borne_by_consignor(charges: list[Charge]) -> list[Charge]:
    return [charge for charge in charges if charge.borne_by == BornBy.CONSIGNOR]
