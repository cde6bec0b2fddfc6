"""Rows of the history become the frame that `valuation` reads; floats become money."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import Any

import pandas as pd

from inventory.rules.modifications import kind_of
from inventory.rules.money import round_money
from inventory.rules.words import ModificationKind
from valuation.schema import MODIFICATION_KINDS, mods_column

PLAIN = (
    "year", "make", "model", "trim", "body", "engine", "transmission", "build_class", "color", "mileage",
    "odometer_status", "condition_low", "condition_high", "originality_low", "originality_high", "title_brand",
    "channel", "ended_on",
)  # fmt: skip
NUMBERS = frozenset({"year", "mileage", "condition_low", "condition_high", "originality_low", "originality_high"})


def frame_of(rows: Iterable[Mapping[str, Any]]) -> pd.DataFrame:
    """Rows in the columns of the history (each may be missing) as the frame that `valuation` checks."""
    some = list(rows)
    plain = {name: [_cell(name, row.get(name)) for row in some] for name in PLAIN}
    frame = pd.DataFrame({**plain, **_counted([row.get("modifications") for row in some])})
    for name in [*NUMBERS, *map(mods_column, MODIFICATION_KINDS)]:
        frame[name] = pd.to_numeric(frame[name])
    return frame


def _counted(told: Sequence[Sequence[Any] | None]) -> dict[str, list[int | None]]:
    """How many modifications of each kind; what many rows say alike is understood once."""
    texts = {str(text) for said in told if said for text in said}
    kinds = {text: kind_of(text) for text in texts}
    counts = [None if said is None else Counter(kinds[str(text)] for text in said) for said in told]
    return {
        mods_column(kind): [None if found is None else found[ModificationKind(kind)] for found in counts]
        for kind in MODIFICATION_KINDS
    }


def _cell(name: str, value: Any) -> Any:
    if value is None or value == "":
        return None
    if name in NUMBERS:
        return float(value)
    return value.isoformat() if isinstance(value, date) else value


def cells_of(changes: Mapping[str, Any]) -> dict[str, Any]:
    """Some columns of the history, modifications aside, as the frame holds them."""
    return {name: _cell(name, value) for name, value in changes.items()}


def money_of(amount: float) -> Decimal:
    return round_money(Decimal(f"{float(amount):.2f}"))


def plain_of(value: Any) -> Any:
    """A number of numpy as Python's own."""
    return value.item() if hasattr(value, "item") else value
