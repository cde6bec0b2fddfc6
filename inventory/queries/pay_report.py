"""The pay report of a month: what of the commissions settled in it goes to whom of the staff.

A reckoning, not wages. Shares count as they stood at the end of the month in which the statement was approved, so that
a month that is over stays as it is. What takes a statement back takes back exactly what that one gave.
"""

from calendar import monthrange
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import Prefetch

from inventory.models import SaleOutcome, Settlement, SettlementLine, StaffShare
from inventory.rules import money
from inventory.rules.shares import split
from inventory.rules.terms import LineKind
from inventory.rules.words import Result


@dataclass(frozen=True)
class PayLine:
    """One share in one statement."""

    settlement: Settlement
    share: StaffShare
    commission: Decimal
    amount: Decimal


@dataclass(frozen=True)
class PersonPay:
    """One member of staff, with the lines that add up to their total."""

    name: str
    lines: tuple[PayLine, ...]

    @property
    def total(self) -> Decimal:
        return money.total(line.amount for line in self.lines)


@dataclass(frozen=True)
class Reckoned:
    """One statement of the month: its commission is what is shared and what is left."""

    settlement: Settlement
    commission: Decimal
    lines: tuple[PayLine, ...]
    left: Decimal

    @property
    def shared(self) -> Decimal:
        return money.total(line.amount for line in self.lines)


@dataclass(frozen=True)
class PayReport:
    first: date
    people: tuple[PersonPay, ...]
    statements: tuple[Reckoned, ...]
    own_stock: tuple[SaleOutcome, ...]

    @property
    def commission(self) -> Decimal:
        return money.total(row.commission for row in self.statements)

    @property
    def shared(self) -> Decimal:
        return money.total(row.shared for row in self.statements)

    @property
    def left(self) -> Decimal:
        return money.total(row.left for row in self.statements)


def month_end(first: date) -> date:
    return first.replace(day=monthrange(first.year, first.month)[1])


def months(most: int = 12) -> list[date]:
    """The latest months with statements, each by its first day."""
    return list(Settlement.objects.order_by().dates("on", "month", order="DESC")[:most])


def report(first: date) -> PayReport:
    """The month that begins on `first`, in a constant number of queries."""
    last = month_end(first)
    rows = list(
        Settlement.objects.filter(on__gte=first, on__lte=last)
        .select_related("consignment__vehicle", "follows")
        .prefetch_related(Prefetch("lines", queryset=SettlementLine.objects.filter(kind=LineKind.COMMISSION)))
        .order_by("on", "pk")
    )
    shares = _chains([row.consignment_id for row in rows])
    statements = tuple(_reckoned(row, chains=shares[row.consignment_id]) for row in rows if _commission(row))
    by_person: defaultdict[int, list[PayLine]] = defaultdict(list)
    for line in (line for statement in statements for line in statement.lines):
        by_person[line.share.user_id].append(line)
    people = [PersonPay(str(lines[0].share.user), tuple(lines)) for lines in by_person.values()]
    return PayReport(first, tuple(sorted(people, key=lambda one: one.name)), statements, _own_stock(first, last=last))


Chains = dict[tuple[int, str], list[StaffShare]]


def _chains(stay_ids: list[int]) -> defaultdict[int, Chains]:
    found: defaultdict[int, Chains] = defaultdict(dict)
    rows = StaffShare.objects.filter(consignment__in=stay_ids).select_related("user").order_by("pk")
    for row in rows:
        found[row.consignment_id].setdefault((row.user_id, row.part), []).append(row)
    return found


def _reckoned(row: Settlement, *, chains: Chains) -> Reckoned:
    stated = row.follows if row.is_reversal and row.follows else row
    held = list(_held_on(month_end(stated.on.replace(day=1)), chains=chains))
    commission = _commission(row)
    parts = split(commission, percents=[share.percent for share in held])
    lines = tuple(PayLine(row, share, commission, part) for share, part in zip(held, parts.parts, strict=True))
    return Reckoned(row, commission, lines, parts.left)


def _held_on(day: date, *, chains: Chains) -> Iterator[StaffShare]:
    for chain in chains.values():
        until = [row for row in chain if row.on <= day]
        if until and until[-1].percent:
            yield until[-1]


def _commission(row: Settlement) -> Decimal:
    """What the lot earned by the statement; negative where it takes one back. Its lines are those of the commission."""
    return -money.total(line.amount for line in row.lines.all())


def _own_stock(first: date, *, last: date) -> tuple[SaleOutcome, ...]:
    rows = SaleOutcome.objects.live().filter(
        consignment__consignor__is_lot=True, result=Result.SOLD, ended_on__gte=first, ended_on__lte=last
    )
    return tuple(rows.select_related("consignment__vehicle").order_by("ended_on", "pk"))
