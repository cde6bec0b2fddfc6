"""What a buyer owes in money, line by line, and what of it is open, as the bill of sale adds it up."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from inventory.rules import money


@dataclass(frozen=True, kw_only=True)
class Bill:
    """The lines add up to `due`; `open` is what of it has not cleared."""

    lines: tuple[tuple[str, Decimal], ...]
    due: Decimal
    cleared: Decimal
    waiting: Decimal

    @property
    def open(self) -> Decimal:
        return self.due - self.cleared


def bill(
    price: Decimal, *, off: Sequence[tuple[str, Decimal]], trade_allowance: Decimal, trade_note: str,
    extras: Sequence[tuple[str, Decimal]], received: Decimal, cleared: Decimal,
) -> Bill:  # fmt: skip
    """The price, less what was taken off and allowed for a trade-in, plus taxes and fees.

    What a trade-in is worth to the lot is the lot's own matter and is not on the paper.
    """
    trade = f"Allowed for the vehicle taken in trade{f': {trade_note.strip()}' if trade_note.strip() else ''}"
    lines = [("Price", price), *((label, -amount) for label, amount in off)]
    if trade_allowance:
        lines.append((trade, -trade_allowance))
    lines += extras
    due = money.total(amount for _, amount in lines)
    return Bill(lines=tuple(lines), due=due, cleared=cleared, waiting=received - cleared)
