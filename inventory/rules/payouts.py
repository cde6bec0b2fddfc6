"""Who is paid what on a statement: the lender, the vendors, and the owners by their shares."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from inventory.rules.agreement import Share
from inventory.rules.money import ZERO, apportion, total
from inventory.rules.terms import LineKind, Statement
from inventory.rules.words import Payee


@dataclass(frozen=True, kw_only=True)
class Payout:
    kind: Payee
    name: str
    amount: Decimal


def payouts(statement: Statement, *, consignor: str, lender: str, shares: Sequence[Share] = ()) -> tuple[Payout, ...]:
    """Every payee with an amount above zero.

    The lender is paid the payoff line and each vendor its charges, whatever the consignor is due: those lines
    reduce what the consignor gets. What is due is split by the agreed shares in cents that add up to it; a
    negative amount is owed by the consignor and paid to nobody.
    """
    rows = [Payout(kind=Payee.LIEN_HOLDER, name=lender, amount=-statement.sum_of(LineKind.LIEN))]
    rows += [Payout(kind=Payee.VENDOR, name=name, amount=amount) for name, amount in _by_vendor(statement).items()]
    rows += _owners(max(statement.due, ZERO), consignor=consignor, shares=shares)
    return tuple(row for row in rows if row.amount > 0)


def _by_vendor(statement: Statement) -> dict[str, Decimal]:
    owed: dict[str, list[Decimal]] = {}
    for line in statement.lines:
        if line.vendor:
            owed.setdefault(line.vendor, []).append(-line.amount)
    return {name: total(amounts) for name, amounts in owed.items()}


def _owners(due: Decimal, *, consignor: str, shares: Sequence[Share]) -> list[Payout]:
    if not shares:
        return [Payout(kind=Payee.CONSIGNOR, name=consignor, amount=due)]
    parts = apportion(due, weights=[share.percent for share in shares])
    return [
        Payout(kind=Payee.CONSIGNOR, name=share.name, amount=part) for share, part in zip(shares, parts, strict=True)
    ]
