"""The money ledger of one consignment: who holds what for whom. Every posting adds up to zero, and so do the accounts.

Amounts are signed as in double entry: what the trust account holds and what somebody owes it is positive, what it owes
is negative. When everything is paid, every account stands at zero. How other people's money must be kept differs by
place: check local law.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum
from itertools import combinations
from typing import NamedTuple

from inventory.rules.money import ZERO, total
from inventory.rules.terms import LineKind
from inventory.rules.words import BornBy, ExtraKind, Payee, TrustKind


class Account(StrEnum):
    BANK = "bank"  # in the trust account
    BUYER = "buyer"  # positive: still to pay; negative: held for them
    CONSIGNOR = "consignor"
    LENDER = "lender"
    VENDOR = "vendor"
    TAXES = "taxes"
    LOT = "lot"  # positive: the lot still pays in; negative: it may take out


@dataclass(frozen=True)
class Posting:
    """One thing that happened, as amounts on accounts that add up to zero."""

    on: date
    what: str
    lines: tuple[tuple[Account, Decimal], ...]

    @property
    def moved(self) -> tuple[tuple[Account, Decimal], ...]:
        """The accounts that it touches."""
        return tuple((account, amount) for account, amount in self.lines if amount)

    def __post_init__(self) -> None:
        rest = total(amount for _, amount in self.lines)
        if rest:
            raise ValueError(f"“{self.what}” of {self.on} is out by {rest}.")


Balances = dict[Account, Decimal]
PAYEE_ACCOUNT = {
    Payee.CONSIGNOR: Account.CONSIGNOR, Payee.LIEN_HOLDER: Account.LENDER, Payee.VENDOR: Account.VENDOR,
}  # fmt: skip


def transfer(on: date, what: str, *, to: Account, from_: Account, amount: Decimal) -> Posting:
    """`to` has more by the amount, `from_` less."""
    return Posting(on, what, ((to, amount), (from_, -amount)))


def buyer_paid(on: date, what: str, *, amount: Decimal) -> Posting:
    """Money of a buyer has cleared."""
    return transfer(on, what, to=Account.BANK, from_=Account.BUYER, amount=amount)


def returned_to_buyer(on: date, what: str, *, amount: Decimal) -> Posting:
    return transfer(on, what, to=Account.BUYER, from_=Account.BANK, amount=amount)


def sold(on: date, *, price: Decimal, trade: Decimal, extras: Sequence[tuple[ExtraKind, Decimal]] = ()) -> Posting:
    """The buyer owes the price and what stands beside it; the lot owes what it allowed for a trade."""
    owed = total([price, -trade, *(amount for _, amount in extras)])
    beside = [(Account.LOT if kind is ExtraKind.LOT_FEE else Account.TAXES, -amount) for kind, amount in extras]
    return Posting(on, "Sold", ((Account.BUYER, owed), (Account.CONSIGNOR, -price), (Account.LOT, trade), *beside))


def conceded(on: date, what: str, *, amount: Decimal, borne_by: BornBy) -> Posting:
    """Money off after the sale: the buyer owes less, and whoever bears it has less."""
    bears = Account.LOT if borne_by is BornBy.LOT else Account.CONSIGNOR
    return transfer(on, what, to=bears, from_=Account.BUYER, amount=amount)


def forfeited(on: date, *, amount: Decimal, to_consignor: Decimal) -> Posting:
    """A deposit that was kept belongs to consignor and lot from here on."""
    lines = ((Account.BUYER, amount), (Account.CONSIGNOR, -to_consignor), (Account.LOT, to_consignor - amount))
    return Posting(on, "Deposit forfeited", lines)


class StatedLine(NamedTuple):
    kind: str
    amount: Decimal
    vendor: str = ""


def stated(on: date, what: str, *, lines: Iterable[StatedLine]) -> Posting:
    """What a statement takes from or adds to the consignor. The price, shares of forfeited deposits and money off
    after the sale were posted when they happened."""
    posted: list[tuple[Account, Decimal]] = []
    for line in lines:
        against = _AGAINST.get(line.kind)
        if against is not None:
            other = Account.VENDOR if line.vendor else against
            posted += [(Account.CONSIGNOR, -line.amount), (other, line.amount)]
    return Posting(on, what, tuple(posted))


_AGAINST: dict[str, Account] = {
    LineKind.COMMISSION: Account.LOT, LineKind.TOP_UP: Account.LOT, LineKind.CHARGE: Account.LOT,
    LineKind.LIEN: Account.LENDER,
}  # fmt: skip


def paid_out(on: date, what: str, *, payee: Payee, amount: Decimal) -> Posting:
    return transfer(on, what, to=PAYEE_ACCOUNT[payee], from_=Account.BANK, amount=amount)


def consignor_paid(on: date, what: str, *, amount: Decimal) -> Posting:
    return transfer(on, what, to=Account.BANK, from_=Account.CONSIGNOR, amount=amount)


def moved(on: date, what: str, *, kind: TrustKind, amount: Decimal) -> Posting:
    """Between the trust account and the lot's own money, or taxes passed on."""
    if kind is TrustKind.FROM_LOT:
        return transfer(on, what, to=Account.BANK, from_=Account.LOT, amount=amount)
    to = Account.LOT if kind is TrustKind.TO_LOT else Account.TAXES
    return transfer(on, what, to=to, from_=Account.BANK, amount=amount)


def balances(postings: Iterable[Posting]) -> Balances:
    """What stands on each account. The sum over all accounts is zero, because it is of every posting."""
    sums: dict[Account, list[Decimal]] = {account: [] for account in Account}
    for posting in postings:
        for account, amount in posting.lines:
            sums[account].append(amount)
    return {account: total(amounts) for account, amounts in sums.items()}


def is_closed(standing: Balances) -> bool:
    """Everybody has what is theirs."""
    return not any(standing.values())


def still_to_come(standing: Balances) -> Decimal:
    """What buyer or consignor still owe."""
    return total(max(standing[account], ZERO) for account in _OTHERS)


_OTHERS = (Account.BUYER, Account.CONSIGNOR, Account.LENDER, Account.VENDOR, Account.TAXES)


class Item(NamedTuple):
    """One movement that the bank may know already, or not yet: signed as the bank would book it."""

    stock_number: str
    what: str
    amount: Decimal


MOST_ITEMS = 150


def explain(difference: Decimal, *, waiting: Sequence[Item]) -> tuple[Item, ...]:
    """One or two movements on the way that account for a difference to the bank, to the cent; else none.

    `waiting` are payments received that have not cleared (a bank may show them) and payments out that may not have
    been cashed. A match is a hint to look, not a proof.
    """
    if not difference:
        return ()
    for item in waiting:
        if item.amount == difference:
            return (item,)
    for pair in combinations(waiting[:MOST_ITEMS], 2):
        if pair[0].amount + pair[1].amount == difference:
            return pair
    return ()
