"""What of the lot's commission goes to whom of the staff, to the cent."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from inventory.errors import Refused
from inventory.rules.money import ZERO, apportion

WHOLE = Decimal(100)


@dataclass(frozen=True)
class Split:
    """The parts, in the order of the percents, and what is left to the lot: together the commission."""

    parts: tuple[Decimal, ...]
    left: Decimal


def check_percent(percent: Decimal, *, of_others: Decimal) -> Decimal:
    """The percent of one share beside what others hold; all together at most 100, none finer than 0.01."""
    if not percent.is_finite() or not 0 <= percent <= WHOLE:
        raise Refused(
            "share_percent", f"A share of {percent} % is not between 0 and 100.", field="percent", got=str(percent),
            mend="Give a percent of the commission; 0 takes the share back.",
        )  # fmt: skip
    if percent.as_tuple().exponent < -2:  # type: ignore[operator]  # finite: a number
        raise Refused(
            "share_too_fine", f"A share of {percent} % is too fine.", field="percent", got=str(percent),
            mend="Give at most two decimals.",
        )  # fmt: skip
    if percent + of_others > WHOLE:
        raise Refused(
            "shares_above_whole",
            f"{percent} % beside the {of_others} % that others hold is more than the whole commission.",
            field="percent", got=str(percent), mend=f"Give at most {WHOLE - of_others} %.",
        )  # fmt: skip
    return percent


def split(commission: Decimal, *, percents: Sequence[Decimal]) -> Split:
    """Each share of a commission in cents. What is taken back (negative) is split exactly as it was given."""
    left_over = WHOLE - sum(percents, ZERO)
    if left_over < 0:
        raise ValueError(f"the shares add up to {WHOLE - left_over} %")
    cents = apportion(abs(commission), weights=[*percents, left_over])
    *parts, left = cents if commission >= 0 else [ZERO - part for part in cents]
    return Split(tuple(parts), left)
