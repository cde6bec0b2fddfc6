"""The money ledger by consignment, and the report of what the trust account holds for whom."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from django.db.models import Q, QuerySet

from inventory.errors import Refused
from inventory.models import (
    BankBalance,
    BuyerPayment,
    Concession,
    Consignment,
    ConsignorPayment,
    Deal,
    Disbursement,
    SaleOutcome,
    SettlementLine,
    TrustMovement,
)
from inventory.queries.trust_open import charges_of_withdrawn, extras_of_sold, open_stays
from inventory.rules import money, trust
from inventory.rules.money import show
from inventory.rules.terms import LineKind
from inventory.rules.trust import Account, Balances, Item, Posting, StatedLine
from inventory.rules.words import BornBy, DealEnd, ExtraKind, Payee, PaymentEvent, Result, TrustKind

CASHED_WITHIN = timedelta(days=30)  # a payment out older than this is taken to have reached the bank's books


@dataclass(frozen=True)
class Ledger:
    """The postings of one consignment in order, and what stands on each account."""

    postings: tuple[Posting, ...]
    standing: Balances

    @property
    def is_closed(self) -> bool:
        return trust.is_closed(self.standing)


def ledger_of(stay: Consignment, *, until: date | None = None) -> Ledger:
    return ledgers_of(Consignment.objects.filter(pk=stay.pk), until=until).get(stay.pk, _ledger([], until=until))


def balance_of_consignor(stay: Consignment) -> Decimal:
    """What the lot holds for the consignor as the books stand; negative: they owe it."""
    return -ledger_of(stay).standing[Account.CONSIGNOR]


def refuse_beyond_held(stay: Consignment, *, amount: Decimal) -> None:
    """Money of one consignment never pays for another: what leaves the account must be there for this one."""
    standing = ledger_of(stay).standing
    held = max(standing[Account.BANK], money.ZERO)
    if amount <= held:
        return
    owes = standing[Account.LOT] if standing[Account.LOT] > 0 else max(standing[Account.CONSIGNOR], money.ZERO)
    who = "the lot" if standing[Account.LOT] > 0 else "the consignor"
    raise Refused(
        "not_enough_held",
        f"{show(amount)} is more than the {show(held)} that the trust account holds for {stay.stock_number}.",
        field="amount", got=str(amount),
        mend=f"First {who} pays in {show(owes)}: record it." if owes else "Look at the ledger of the vehicle.",
    )  # fmt: skip


def ledgers_of(stays: QuerySet[Consignment], *, until: date | None = None) -> dict[int, Ledger]:
    """The ledger of each consignment with any money in it, in a constant number of queries."""
    found: defaultdict[int, list[Posting]] = defaultdict(list)
    for gather in _SOURCES:
        for stay_id, posting in gather(stays):
            found[stay_id].append(posting)
    return {stay_id: _ledger(postings, until=until) for stay_id, postings in found.items()}


def _ledger(postings: Sequence[Posting], *, until: date | None) -> Ledger:
    counted = sorted(
        (posting for posting in postings if until is None or posting.on <= until), key=lambda posting: posting.on
    )
    return Ledger(tuple(counted), trust.balances(counted))


Source = Iterator[tuple[int, Posting]]


def _of_buyers(stays: QuerySet[Consignment]) -> Source:
    rows = list(BuyerPayment.objects.filter(deal__consignment__in=stays).select_related("deal").order_by("pk"))
    cleared = {row.of_id: row for row in rows if row.event == PaymentEvent.CLEARED}
    for row in rows:
        stay_id, told = row.deal.consignment_id, f"{row.deal.buyer}, {row.get_method_display()}"
        if row.event == PaymentEvent.CLEARED:
            yield stay_id, trust.buyer_paid(row.on, f"Cleared from {told}", amount=row.amount)
        elif row.event == PaymentEvent.RETURNED and row.of_id in cleared:
            on = max(row.on, cleared[row.of_id].on)
            yield stay_id, trust.returned_to_buyer(on, f"Returned to {told}", amount=row.amount)


def _of_deals(stays: QuerySet[Consignment]) -> Source:
    deals = Deal.objects.filter(Q(end=DealEnd.SOLD) | Q(forfeited__gt=0), consignment__in=stays).order_by("pk")
    extras: defaultdict[int, list[tuple[ExtraKind, Decimal]]] = defaultdict(list)
    for row in extras_of_sold(stays).order_by("pk"):
        extras[row.deal_id].append((ExtraKind(row.kind), row.amount))
    for deal in deals:
        if deal.end == DealEnd.SOLD:
            beside = extras[deal.pk]
            yield (
                deal.consignment_id,
                trust.sold(_ended(deal), price=deal.price, trade=deal.trade_allowance, extras=beside),
            )
        if deal.forfeited:
            posting = trust.forfeited(_ended(deal), amount=deal.forfeited, to_consignor=deal.forfeited_to_consignor)
            yield deal.consignment_id, posting


def _ended(deal: Deal) -> date:
    return deal.ended_on or deal.began_on


def _of_concessions(stays: QuerySet[Consignment]) -> Source:
    rows = Concession.objects.filter(deal__consignment__in=stays, deal__end=DealEnd.SOLD).select_related("deal")
    for row in rows.order_by("pk"):
        posting = trust.conceded(row.on, f"Money off: {row.reason}", amount=row.amount, borne_by=BornBy(row.borne_by))
        yield row.deal.consignment_id, posting


def _of_statements(stays: QuerySet[Consignment]) -> Source:
    lines: defaultdict[int, list[SettlementLine]] = defaultdict(list)
    for line in (
        SettlementLine.objects.filter(settlement__consignment__in=stays)
        .select_related("settlement")
        .order_by("settlement", "position")
    ):
        lines[line.settlement_id].append(line)
    for rows in lines.values():
        statement = rows[0].settlement
        stated = [StatedLine(row.kind, row.amount, row.vendor) for row in rows]
        yield statement.consignment_id, trust.stated(statement.on, f"Statement {statement.number}", lines=stated)


def _of_charges_on_withdrawn(stays: QuerySet[Consignment]) -> Source:
    """Without a statement, charges on a vehicle that was taken back are owed as they are."""
    ended = dict(
        SaleOutcome.objects.live()
        .filter(consignment__in=stays, result=Result.WITHDRAWN)
        .values_list("consignment_id", "ended_on")
    )
    for row in charges_of_withdrawn(stays).order_by("pk"):
        line = StatedLine(LineKind.CHARGE, -row.amount, row.vendor)
        on = max(row.on, ended.get(row.consignment_id, row.on))
        yield row.consignment_id, trust.stated(on, f"Charge: {row.what}", lines=[line])


def _of_payments_out(stays: QuerySet[Consignment]) -> Source:
    rows = Disbursement.objects.filter(settlement__consignment__in=stays).select_related("settlement").order_by("pk")
    for row in rows:
        posting = trust.paid_out(row.on, f"Paid to {row.payee}", payee=Payee(row.payee_kind), amount=row.amount)
        yield row.settlement.consignment_id, posting


def _of_consignors(stays: QuerySet[Consignment]) -> Source:
    for row in ConsignorPayment.objects.filter(consignment__in=stays).order_by("pk"):
        yield row.consignment_id, trust.consignor_paid(row.on, "Paid by the consignor", amount=row.amount)


def _of_movements(stays: QuerySet[Consignment]) -> Source:
    for row in TrustMovement.objects.filter(consignment__in=stays).order_by("pk"):
        told = row.get_kind_display().capitalize()
        yield row.consignment_id, trust.moved(row.on, told, kind=TrustKind(row.kind), amount=row.amount)


_SOURCES = (
    _of_buyers, _of_deals, _of_concessions, _of_statements, _of_charges_on_withdrawn, _of_payments_out, _of_consignors,
    _of_movements,
)  # fmt: skip


@dataclass(frozen=True)
class Held:
    """What the trust account holds for one consignment, and for whom. All that the lot has to get is `lot_takes`."""

    stay: Consignment
    standing: Balances
    uncleared: Decimal

    @property
    def cells(self) -> tuple[tuple[str, Decimal], ...]:
        """Heading and amount of each column."""
        return tuple((heading, getattr(self, name)) for name, heading in COLUMNS.items())

    @property
    def bank(self) -> Decimal:
        return self.standing[Account.BANK]

    @property
    def buyer_held(self) -> Decimal:
        return max(-self.standing[Account.BUYER], money.ZERO)

    @property
    def consignor_held(self) -> Decimal:
        return max(-self.standing[Account.CONSIGNOR], money.ZERO)

    @property
    def payees_held(self) -> Decimal:
        return money.total(
            max(-self.standing[account], money.ZERO) for account in (Account.LENDER, Account.VENDOR, Account.TAXES)
        )

    @property
    def to_come(self) -> Decimal:
        """From buyer or consignor."""
        return trust.still_to_come(self.standing)

    @property
    def lot_takes(self) -> Decimal:
        return max(-self.standing[Account.LOT], money.ZERO)

    @property
    def lot_pays_in(self) -> Decimal:
        return max(self.standing[Account.LOT], money.ZERO)


@dataclass(frozen=True)
class TrustReport:
    """The whole account on a day. Each total is the sum of its column."""

    on: date
    rows: tuple[Held, ...]
    bank: Decimal
    balance: BankBalance | None
    explained_by: tuple[Item, ...]

    @property
    def difference(self) -> Decimal | None:
        """What the bank has beyond the books; negative: what it lacks."""
        return None if self.balance is None else self.balance.amount - self.bank

    def sum_of(self, name: str) -> Decimal:
        return money.total(getattr(row, name) for row in self.rows)

    @property
    def totals(self) -> tuple[tuple[str, Decimal], ...]:
        """Heading and sum of each column."""
        return tuple((heading, self.sum_of(name)) for name, heading in COLUMNS.items())

    @property
    def sums(self) -> dict[str, Decimal]:
        """The same by the name of the column."""
        return {name: self.sum_of(name) for name in COLUMNS}

    @property
    def drawn(self) -> tuple["DrawnShare", ...]:
        """For whom the money is, as lengths of a bar of 1,000; what is still to come is part of what they are owed."""
        owed = [(word, heading, self.sum_of(name)) for word, name, heading in _DRAWN]
        whole = money.total(amount for _, _, amount in owed)
        shares, start = [], 0
        for word, heading, amount in owed:
            width = int(amount * 1000 / whole) if whole else 0
            shares.append(DrawnShare(word, heading, amount, start, width))
            start += width
        return tuple(shares)

    @property
    def short(self) -> tuple[Held, ...]:
        """Where the lot has to pay in: money of others is owed that no payment of the buyer will bring."""
        return tuple(row for row in self.rows if row.lot_pays_in)


COLUMNS = {
    "bank": "Held", "buyer_held": "For buyers", "consignor_held": "For the consignor",
    "payees_held": "For lender, vendors, authorities", "lot_takes": "For the lot", "to_come": "Still to come",
    "lot_pays_in": "Lot pays in", "uncleared": "Received, not cleared",
}  # fmt: skip
_DRAWN = (
    ("buyers", "buyer_held", "Buyers"), ("consignors", "consignor_held", "Consignors"),
    ("payees", "payees_held", "Lenders, vendors, authorities"), ("lot", "lot_takes", "The lot"),
)  # fmt: skip


@dataclass(frozen=True)
class DrawnShare:
    """One part of the bar."""

    word: str
    heading: str
    amount: Decimal
    start: int
    width: int


def report(*, on: date) -> TrustReport:
    """What the trust account should hold at the end of a day, by consignment, beside what the bank says."""
    stays = Consignment.objects.filter(consignor__is_lot=False)
    of_others = list(stays.filter(pk__in=open_stays(on=on)).values_list("pk", flat=True))
    ledgers = ledgers_of(Consignment.objects.filter(pk__in=of_others), until=on)
    receipts = list(_not_cleared(stays, on=on))
    uncleared: defaultdict[str, list[Decimal]] = defaultdict(list)
    for item in receipts:
        uncleared[item.stock_number].append(item.amount)
    named = Consignment.objects.filter(pk__in=ledgers) | Consignment.objects.filter(stock_number__in=uncleared)
    rows = tuple(
        Held(stay, _ledger_or_none(ledgers, stay.pk).standing, money.total(uncleared[stay.stock_number]))
        for stay in named.select_related("vehicle", "consignor").order_by("stock_number")
    )
    open_rows = tuple(row for row in rows if not trust.is_closed(row.standing) or row.uncleared)
    bank = money.total(row.bank for row in rows)
    balance = BankBalance.objects.filter(on__lte=on).order_by("-on", "-pk").first()
    difference = money.ZERO if balance is None else balance.amount - bank
    waiting = [*receipts, *_not_cashed(stays, on=on)] if difference else []
    return TrustReport(on, open_rows, bank, balance, trust.explain(difference, waiting=waiting))


def _ledger_or_none(ledgers: dict[int, Ledger], stay_id: int) -> Ledger:
    return ledgers.get(stay_id) or _ledger([], until=None)


def _not_cleared(stays: QuerySet[Consignment], *, on: date) -> Iterator[Item]:
    """Money of buyers that the bank may show and the books do not yet."""
    receipts = BuyerPayment.objects.filter(
        deal__consignment__in=stays, event=PaymentEvent.RECEIVED, on__lte=on
    ).exclude(events__on__lte=on)
    for row in receipts.select_related("deal__consignment").order_by("pk"):
        what = f"{show(row.amount)} of {row.deal.buyer}, received {row.on}, not cleared"
        yield Item(row.deal.consignment.stock_number, what, row.amount)


def _not_cashed(stays: QuerySet[Consignment], *, on: date) -> Iterator[Item]:
    """Money that the books have paid out and the bank may still show."""
    out = Disbursement.objects.filter(settlement__consignment__in=stays, on__lte=on, on__gt=on - CASHED_WITHIN)
    for paid in out.select_related("settlement__consignment").order_by("-pk"):
        what = f"{show(paid.amount)} to {paid.payee}, {paid.on}, perhaps not cashed"
        yield Item(paid.settlement.consignment.stock_number, what, paid.amount)
