"""Which asks a curve shows, and the words for chances and for what has moved a band."""

from collections.abc import Iterable, Mapping
from decimal import Decimal

from inventory.rules.money import ZERO, show_whole

COUNT = 33  # asks of a curve, before those that must be on it
BELOW_LOW, ABOVE = Decimal("0.9"), Decimal("1.02")  # of the low end; and above what must be seen whole
FARTHEST = Decimal("1.25")  # of the high end: far beyond it next to nobody buys, and the curve would be mostly that
STEPS = ((Decimal(20_000), 50), (Decimal(100_000), 100))  # below an amount: the step of a plain figure
LARGEST_STEP = 500
LEAST_MOVE = 0.0005  # of a price: less than that is told as nearly nothing


def step_of(amount: Decimal) -> int:
    return next((step for below, step in STEPS if amount < below), LARGEST_STEP)


def plain_figure(amount: Decimal) -> Decimal:
    """The nearest figure that people ask: in fifties, hundreds or five hundreds; never nothing."""
    step = step_of(amount)
    return step * max(int(amount / step + Decimal("0.5")), 1) + ZERO


def asks_to_show(
    *, low: Decimal, high: Decimal, asked: tuple[Decimal, Decimal], floor: Decimal | None, ask: Decimal | None
) -> list[Decimal]:
    """Plain asks from where it begins to be worth looking to where the lot has not asked, or nobody would buy; floor
    and ask among them.

    `low` and `high` are of the band now, `asked` the ends of what the lot's stays tell of.
    """
    least = max(amount for amount in (floor, BELOW_LOW * low, asked[0]) if amount is not None)
    most = max(min(asked[1], FARTHEST * high), ABOVE * high, ABOVE * (ask or ZERO), ABOVE * least)
    gap = (most - least) / (COUNT - 1)
    spread = (plain_figure(least + gap * place) for place in range(COUNT))
    among = {amount for amount in (floor, ask) if amount is not None and amount > 0}
    return sorted({amount for amount in spread if amount >= least} | among)


def lowered(ask: Decimal, *, percent: int, floor: Decimal | None) -> Decimal | None:
    """What an ask is lowered to: a plain figure, not below the floor; None where that is no lower."""
    to = plain_figure(ask * percent / 100)
    to = to if floor is None else max(to, floor)
    return to if to < ask else None


def counters_between(offer: Decimal, *, ask: Decimal, floor: Decimal | None) -> tuple[Decimal, ...]:
    """One or two plain prices between an offer and an ask, not below the floor."""
    thirds = (plain_figure(offer + (ask - offer) * share / 3) for share in (1, 2))
    return tuple(sorted({price for price in thirds if offer < price < ask and (floor is None or price >= floor)}))


def why_moved(
    by: Mapping[str, float], *, weeks: int, best_offer: Decimal | None, asked: bool, interest: int | None = None
) -> tuple[str, ...]:
    """One sentence for each kind of evidence that there is, with what it moved the likely price by."""
    told = []
    if asked:
        told.append(
            f"The ask itself: {_moved(by['asked'])}. This lot's asks have known more than the columns: a dear ask has "
            "often been of a better vehicle."
        )
    if weeks:
        told.append(
            f"{weeks} week{'' if weeks == 1 else 's'} for sale at these asks without a sale: {_moved(by['weeks'])}."
        )
    if interest is not None and weeks and by["interest"] != 1:  # exactly 1 where the lot has counted too few to tell
        told.append(f"{interest_said(interest, weeks=weeks)}: {_moved(by['interest'])}.")
    if best_offer is not None:
        told.append(f"The best offer that was not taken, {show_whole(best_offer)}: {_moved(by['offers'])}.")
    return tuple(told)


def interest_said(count: int, *, weeks: int) -> str:
    """How many inquired and were shown a vehicle, in how long."""
    many = {0: "No inquiries or showings", 1: "1 inquiry or showing"}.get(count, f"{count} inquiries and showings")
    return f"{many} in {weeks} week{'' if weeks == 1 else 's'}"


def _moved(factor: float) -> str:
    change = factor - 1
    if abs(change) < LEAST_MOVE:
        return "less than 0.1 % either way"
    return f"{'+' if change > 0 else '−'}{abs(change) * 100:.1f} %"


def axis_values(values: Iterable[Decimal], *, about: int = 4) -> list[Decimal]:
    """Round values for an axis that hold all the given ones between them: steps of 1, 2 or 5 and noughts."""
    known = list(values)
    least, most = min(known), max(known)
    rough = (most - least) / about or Decimal(1)
    ten = Decimal(10) ** rough.adjusted()
    step = next(ten * times for times in (1, 2, 5, 10) if ten * times >= rough)
    first = int(least // step) - (1 if least % step < 0 else 0)
    last = int(most // step) + (1 if most % step > 0 else 0)
    return [step * place + ZERO for place in range(first, max(last, first + 1) + 1)]
