"""A suggested ask beside the one that is set."""

from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Any

FREE_PERCENT = 1  # a suggestion rounded to a plain figure is still the suggestion


@dataclass(frozen=True, kw_only=True)
class Suggested:
    """The ask that was suggested when the owner set one, what it was for, and what was expected of the ask set."""

    amount: Decimal
    objective: str
    because: str
    expected: dict[str, Any] = field(default_factory=dict)


def departs(amount: Decimal, *, suggested: Decimal) -> bool:
    """Whether an ask differs from the suggested one by more than 1 % of it."""
    return abs(amount - suggested) * 100 > suggested * FREE_PERCENT


def stored(value: Any) -> Any:
    """What was expected as JSON holds it: amounts and days as text, the rest as it is."""
    if isinstance(value, dict):
        return {str(name): stored(item) for name, item in value.items()}
    if isinstance(value, list | tuple):
        return [stored(item) for item in value]
    return str(value) if isinstance(value, Decimal | date) else value
