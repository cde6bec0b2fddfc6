"""Money as the API reads it: questions to the consignor, deals, statements, and the trust account.

Whoever may not see money gets none of it. Each list has a fixed number of queries.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import Exists, OuterRef, Q, QuerySet, Subquery

from inventory.errors import NotFound
from inventory.models import (
    BankBalance,
    Concession,
    ConsentRequest,
    Consignment,
    ConsignorQuestion,
    Deal,
    DealExtra,
    LienQuote,
    Settlement,
    SettlementLine,
    Terms,
    TrustMovement,
)
from inventory.queries import facts, questions_asked, settlements, trust
from inventory.queries.records import nothing_here
from inventory.queries.settlements import Check, PayeeLeft
from inventory.queries.trust import Ledger, TrustReport
from inventory.rules import money
from inventory.rules.plausibility import check_not_future
from inventory.rules.roles import Act, Actor, require
from inventory.rules.terms import Line
from inventory.rules.words import Payee


def terms(stay: Consignment, *, by: Actor) -> QuerySet[Terms]:
    """All versions, with whether both sides accepted each, and which is in effect."""
    require(by, Act.SEE_MONEY)
    ranked = Terms.objects.filter(consignment=stay).ranked()
    return ranked.annotate(in_effect=Q(pk=Subquery(ranked.values("pk")[:1])))


def lien_quotes(stay: Consignment, *, by: Actor) -> QuerySet[LienQuote]:
    require(by, Act.SEE_MONEY)
    return LienQuote.objects.filter(consignment=stay)


def consent_requests(stay: Consignment, *, by: Actor) -> QuerySet[ConsentRequest]:
    require(by, Act.SEE_MONEY)
    return ConsentRequest.objects.filter(consignment=stay).select_related("answer", "terms")


def consent_request(stay: Consignment, *, request_id: int, by: Actor) -> ConsentRequest:
    row = consent_requests(stay, by=by).filter(pk=request_id).first()
    if row is None:
        raise nothing_here()
    return row


def deals(stay: Consignment, *, by: Actor) -> QuerySet[Deal]:
    require(by, Act.SEE_MONEY)
    return Deal.objects.filter(consignment=stay).select_related("trade_stay").prefetch_related("later_concessions")


def effective_price(deal: Deal) -> Decimal:
    """The price less concessions, trade over-allowance and money off after the sale."""
    over = max(deal.trade_allowance - deal.trade_value, money.ZERO)
    off = money.total(row.amount for row in deal.later_concessions.all())
    return money.total([deal.price, -deal.concessions, -over, -off])


def deal_extras(stay: Consignment, *, by: Actor) -> QuerySet[DealExtra]:
    """Of all deals, those set aside and those that set one aside too; `stands` says which count."""
    require(by, Act.SEE_MONEY)
    aside = DealExtra.objects.filter(sets_aside=OuterRef("pk"))
    rows = DealExtra.objects.filter(deal__consignment=stay)
    return rows.annotate(stands=~Exists(aside) & Q(sets_aside__isnull=True))


def deal_extra(stay: Consignment, *, extra_id: int, by: Actor) -> DealExtra:
    row = deal_extras(stay, by=by).filter(pk=extra_id).first()
    if row is None:
        raise nothing_here()
    return row


def concessions(stay: Consignment, *, by: Actor) -> QuerySet[Concession]:
    require(by, Act.SEE_MONEY)
    return Concession.objects.filter(deal__consignment=stay)


def questions(stay: Consignment, *, by: Actor) -> QuerySet[ConsignorQuestion]:
    require(by, Act.ANSWER_QUESTION)
    return questions_asked.questions_of(stay)


def question(stay: Consignment, *, question_id: int, by: Actor) -> ConsignorQuestion:
    row = questions(stay, by=by).filter(pk=question_id).first()
    if row is None:
        raise nothing_here()
    return row


@dataclass(frozen=True)
class StatementLine:
    kind: str
    label: str
    amount: Decimal
    vendor: str


@dataclass(frozen=True)
class StatementPayee:
    kind: str
    name: str
    amount: Decimal
    left: Decimal | None


@dataclass(frozen=True, kw_only=True)
class SettlementRead:
    """A statement as it was approved or taken back, or as it would be if it were paid out on a day."""

    status: str
    on: date
    pay_on: date | None
    due: Decimal
    lines: tuple[StatementLine, ...]
    payees: tuple[StatementPayee, ...] = ()
    checks: tuple[Check, ...] = ()
    number: str = ""
    sequence: int | None = None
    follows: str = ""
    reason: str = ""
    pay_by: date | None = None
    left_to_consignor: Decimal | None = None
    left_to_lien_holder: Decimal | None = None
    by: str = ""

    @property
    def is_reversal(self) -> bool:
        return self.status == "reversal"


def settlement(stay: Consignment, *, pay_on: date, by: Actor) -> SettlementRead:
    """The statement that stands, else the draft as of a pay date; refused where no stay has ended."""
    require(by, Act.SEE_MONEY)
    approved = facts.settlement_of(stay)
    return _draft_read(stay, pay_on=pay_on) if approved is None else settlement_read(approved)


def _draft_read(stay: Consignment, *, pay_on: date) -> SettlementRead:
    draft = settlements.draft_of(stay, on=pay_on)
    if draft is None:
        raise NotFound(
            "no_settlement", f"{stay.stock_number} is {stay.get_state_display()}: there is nothing to settle.",
            mend="A settlement is drafted once the vehicle is sold.",
        )  # fmt: skip
    last = facts.last_statement(stay)
    return SettlementRead(
        status="draft", on=pay_on, pay_on=pay_on, due=draft.statement.due, lines=_lines(draft.statement.lines),
        payees=tuple(StatementPayee(paid.kind, paid.name, paid.amount, None) for paid in draft.payouts),
        checks=settlements.checks_of(stay, draft=draft, pay_on=pay_on), follows=last.number if last else "",
    )  # fmt: skip


def settlement_read(row: Settlement) -> SettlementRead:
    """One statement; what was taken back is owed to nobody on it."""
    payees = () if row.is_reversal else settlements.payees_of(row)
    return SettlementRead(
        status="reversal" if row.is_reversal else "approved", on=row.on, pay_on=row.pay_on, due=row.due,
        lines=_lines(row.lines.order_by("position")),
        payees=tuple(StatementPayee(payee.kind, payee.name, payee.owed, payee.left) for payee in payees),
        number=row.number, sequence=row.sequence, follows=row.follows.number if row.follows else "",
        reason=row.reason, pay_by=row.pay_by, by=row.by,
        left_to_consignor=None if row.is_reversal else _left(payees, kind=Payee.CONSIGNOR),
        left_to_lien_holder=None if row.is_reversal else _left(payees, kind=Payee.LIEN_HOLDER),
    )  # fmt: skip


def _lines(rows: Iterable[Line | SettlementLine]) -> tuple[StatementLine, ...]:
    return tuple(StatementLine(str(row.kind), row.label, row.amount, row.vendor) for row in rows)


def _left(payees: tuple[PayeeLeft, ...], *, kind: str) -> Decimal:
    return money.total(payee.left for payee in payees if payee.kind == kind)


def statements(stay: Consignment, *, by: Actor) -> QuerySet[Settlement]:
    """Every statement that was approved, and every one that takes one back."""
    require(by, Act.SEE_MONEY)
    return Settlement.objects.filter(consignment=stay).select_related("follows").prefetch_related("lines", "payees")


def ledger(stay: Consignment, *, by: Actor) -> Ledger:
    require(by, Act.SEE_MONEY)
    return trust.ledger_of(stay)


def movements(stay: Consignment, *, by: Actor) -> QuerySet[TrustMovement]:
    require(by, Act.SEE_MONEY)
    return TrustMovement.objects.filter(consignment=stay)


def trust_report(*, on: date, today: date, by: Actor) -> TrustReport:
    """What the account should hold at the end of a day that has come."""
    require(by, Act.SEE_TRUST)
    return trust.report(on=check_not_future(on, today=today, field="on"))


def balances(*, by: Actor) -> QuerySet[BankBalance]:
    require(by, Act.SEE_TRUST)
    return BankBalance.objects.all()
