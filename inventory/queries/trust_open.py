"""Which stays have money of somebody in the trust account, or owed to it: found by sums in the database, so that the
report reads the books of these alone, and not of every stay there ever was.

What money does to the accounts is asked of `rules.trust`, once for each kind: every posting is a sum of what it is made
of. The sums only choose whose books are read; whatever is shown is added up of the postings themselves.
"""

from collections.abc import Iterable, Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from django.db import connection
from django.db.models import Case, DecimalField, Exists, F, OuterRef, Q, QuerySet, Value, When
from django.db.models.functions import Cast

from inventory.models import (
    BuyerPayment,
    Charge,
    Concession,
    Consignment,
    ConsignorPayment,
    Deal,
    DealExtra,
    Disbursement,
    SaleOutcome,
    SettlementLine,
    TrustMovement,
)
from inventory.rules import trust
from inventory.rules.money import ZERO
from inventory.rules.states import State
from inventory.rules.terms import LineKind
from inventory.rules.trust import Account, Posting, StatedLine
from inventory.rules.words import BornBy, DealEnd, ExtraKind, Payee, PaymentEvent, Result, TrustKind

Flows = QuerySet[Any]
Kinds = Sequence[tuple[Q, Posting]]  # which rows, and how one unit of their money is posted
ONE, THEN = Decimal(1), date.min
HALF_A_CENT = "0.005"  # sums on SQLite are of floats: what is not zero is a cent at least


def open_stays(*, on: date) -> list[int]:
    """The stays with an account that is not zero at the end of a day, in one query."""
    first, *others = (leg.values_list("stay", *COLUMNS.values()) for leg in _legs(on))
    sql, params = first.union(*others, all=True).order_by().query.sql_with_params()
    is_open = " OR ".join(f"ABS(SUM({column})) > {HALF_A_CENT}" for column in COLUMNS.values())
    whole = f"SELECT stay FROM ({sql}) AS flows GROUP BY stay HAVING {is_open}"  # noqa: S608 no word of others in it
    with connection.cursor() as cursor:
        cursor.execute(whole, params)
        return [stay for (stay,) in cursor.fetchall()]


COLUMNS = {account: f"on_{account}" for account in Account}


def charges_of_withdrawn(stays: QuerySet[Consignment]) -> QuerySet[Charge]:
    """Charges that are owed as they are: on a vehicle that was taken back, without a statement."""
    return Charge.objects.filter(
        consignment__in=stays, consignment__state__in=[State.WITHDRAWN, State.RELEASED], borne_by=BornBy.CONSIGNOR,
        consignment__settlements__isnull=True, sets_aside__isnull=True, set_aside_by__isnull=True,
    )  # fmt: skip


def extras_of_sold(stays: QuerySet[Consignment]) -> QuerySet[DealExtra]:
    """Taxes and fees that stand."""
    return DealExtra.objects.filter(
        deal__consignment__in=stays, deal__end=DealEnd.SOLD, sets_aside__isnull=True, set_aside_by__isnull=True
    )


def _legs(on: date) -> Iterable[Flows]:
    """Every movement of money up to a day, as the sources of `queries.trust` have it."""
    yield from _of_buyers(BuyerPayment.objects.filter(on__lte=on))
    yield from _of_deals(Deal.objects.filter(Q(ended_on__lte=on) | Q(ended_on__isnull=True, began_on__lte=on)))
    extras = extras_of_sold(Consignment.objects.all()).filter(deal__ended_on__lte=on)
    yield _leg(extras, of="deal__consignment", kinds=EXTRAS)
    off = Concession.objects.filter(deal__end=DealEnd.SOLD, on__lte=on)
    yield _leg(off, of="deal__consignment", kinds=CONCESSIONS)
    yield _leg(SettlementLine.objects.filter(settlement__on__lte=on), of="settlement__consignment", kinds=LINES)
    yield _leg(_charges(on), of="consignment", kinds=CHARGES)
    yield _leg(Disbursement.objects.filter(on__lte=on), of="settlement__consignment", kinds=PAYEES)
    yield _leg(ConsignorPayment.objects.filter(on__lte=on), of="consignment", kinds=CONSIGNORS)
    yield _leg(TrustMovement.objects.filter(on__lte=on), of="consignment", kinds=MOVEMENTS)


def _of_buyers(paid: QuerySet[BuyerPayment]) -> Iterable[Flows]:
    cleared = paid.filter(event=PaymentEvent.CLEARED)
    yield _leg(cleared, of="deal__consignment", kinds=[(Q(), trust.buyer_paid(THEN, "", amount=ONE))])
    returned = paid.filter(Exists(cleared.filter(of=OuterRef("of"))), event=PaymentEvent.RETURNED)
    yield _leg(returned, of="deal__consignment", kinds=[(Q(), trust.returned_to_buyer(THEN, "", amount=ONE))])


def _of_deals(deals: QuerySet[Deal]) -> Iterable[Flows]:
    """Each amount that a deal fixes by itself: its posting is the sum of these."""
    sold, kept = deals.filter(end=DealEnd.SOLD), deals.filter(forfeited__gt=0)
    for rows, flow, posting in (
        (sold, "price", trust.sold(THEN, price=ONE, trade=ZERO)),
        (sold.filter(trade_allowance__gt=0), "trade_allowance", trust.sold(THEN, price=ZERO, trade=ONE)),
        (kept, "forfeited", trust.forfeited(THEN, amount=ONE, to_consignor=ZERO)),
        (kept, "forfeited_to_consignor", trust.forfeited(THEN, amount=ZERO, to_consignor=ONE)),
    ):
        yield _leg(rows, of="consignment", flow=flow, kinds=[(Q(), posting)])


def _charges(on: date) -> QuerySet[Charge]:
    """They count from the day on which the vehicle was taken back."""
    later = SaleOutcome.objects.live().filter(
        consignment=OuterRef("consignment"), result=Result.WITHDRAWN, ended_on__gt=on
    )
    return charges_of_withdrawn(Consignment.objects.all()).filter(~Exists(later), on__lte=on)


def _leg(rows: Flows, *, of: str, kinds: Kinds, flow: str = "amount") -> Flows:
    accounts = {column: _on(account, kinds=kinds, flow=flow) for account, column in COLUMNS.items()}
    flows: Flows = rows.annotate(stay=F(of), **accounts).order_by()
    return flows


def _on(account: Account, *, kinds: Kinds, flow: str) -> Any:
    """What a row puts on an account; nothing rather than zero, for sums pass over it."""
    weights = [(which, trust.balances([posting])[account]) for which, posting in kinds]
    cases = [When(which, then=F(flow) * Value(weight)) for which, weight in weights if weight and which]
    always = [F(flow) * Value(weight) for which, weight in weights if weight and not which]
    nothing = Cast(Value(None), DecimalField(max_digits=14, decimal_places=2))
    return Case(*cases, default=nothing) if cases else always[0] if always else nothing


def _line(kind: LineKind, *, vendor: str) -> Posting:
    return trust.stated(THEN, "", lines=[StatedLine(kind, ONE, vendor)])


EXTRAS: Kinds = [(Q(kind=kind), trust.sold(THEN, price=ZERO, trade=ZERO, extras=[(kind, ONE)])) for kind in ExtraKind]
CONCESSIONS: Kinds = [(Q(borne_by=who), trust.conceded(THEN, "", amount=ONE, borne_by=who)) for who in BornBy]
LINES: Kinds = [
    *((Q(kind=kind, vendor=""), _line(kind, vendor="")) for kind in LineKind),
    *((Q(kind=kind) & ~Q(vendor=""), _line(kind, vendor="somebody")) for kind in LineKind),
]
CHARGES: Kinds = [
    (Q(vendor=""), trust.stated(THEN, "", lines=[StatedLine(LineKind.CHARGE, -ONE)])),
    (~Q(vendor=""), trust.stated(THEN, "", lines=[StatedLine(LineKind.CHARGE, -ONE, "somebody")])),
]
PAYEES: Kinds = [(Q(payee_kind=payee), trust.paid_out(THEN, "", payee=payee, amount=ONE)) for payee in Payee]
CONSIGNORS: Kinds = [(Q(), trust.consignor_paid(THEN, "", amount=ONE))]
MOVEMENTS: Kinds = [(Q(kind=kind), trust.moved(THEN, "", kind=kind, amount=ONE)) for kind in TrustKind]
