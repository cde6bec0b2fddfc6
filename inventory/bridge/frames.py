"""Rows of the history become the frame that `valuation` reads; floats become money."""

from collections.abc import Iterable, Mapping
from datetime import date
from decimal import Decimal
from typing import Any

import pandas as pd

from inventory.rules.modifications import kind_of
from inventory.rules.money import round_money
from valuation.schema import MODIFICATION_KINDS, mods_column

PLAIN = (
    "year", "make", "model", "trim", "body", "engine", "transmission", "build_class", "color", "mileage",
    "odometer_status", "condition_low", "condition_high", "originality_low", "originality_high", "title_brand",
    "channel", "ended_on",
)  # fmt: skip
NUMBERS = frozenset({"year", "mileage", "condition_low", "condition_high", "originality_low", "originality_high"})


def frame_of(rows: Iterable[Mapping[str, Any]]) -> pd.DataFrame:
    """Rows in the columns of the history (each may be missing) as the frame that `valuation` checks."""
    frame = pd.DataFrame([_frame_row(row) for row in rows], columns=[*PLAIN, *map(mods_column, MODIFICATION_KINDS)])
    for name in [*NUMBERS, *map(mods_column, MODIFICATION_KINDS)]:
        frame[name] = pd.to_numeric(frame[name])
    return frame


def _frame_row(row: Mapping[str, Any]) -> dict[str, Any]:
    plain = {name: _cell(name, row.get(name)) for name in PLAIN}
    said = row.get("modifications")
    kinds = None if said is None else [kind_of(str(text)) for text in said]
    counts = {
        mods_column(kind): None if kinds is None else sum(1 for said_kind in kinds if said_kind == kind)
        for kind in MODIFICATION_KINDS
    }
    return plain | counts


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
