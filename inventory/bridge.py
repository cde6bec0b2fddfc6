"""The only importer of `valuation`: rows become a frame, floats become money, a fit becomes JSON."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

import pandas as pd

from inventory.rules.modifications import kind_of
from inventory.rules.money import round_money, total
from valuation import LEAST_SALES, from_dict, to_dict, vehicle_model
from valuation.schema import MODIFICATION_KINDS, check, mods_column

__all__ = ["LEAST_SALES", "Band", "Learned", "Thin", "band_of", "bands_of", "learn"]

PLAIN = (
    "year", "make", "model", "trim", "body", "engine", "transmission", "build_class", "color", "mileage",
    "odometer_status", "condition_low", "condition_high", "originality_low", "originality_high", "title_brand",
    "channel", "ended_on",
)  # fmt: skip
NUMBERS = frozenset({"year", "mileage", "condition_low", "condition_high", "originality_low", "originality_high"})


@dataclass(frozen=True)
class Learned:
    """One fit: plain numbers, how many sales it rests on, their hash, and what it says about itself."""

    state: dict[str, Any]
    sales_used: int
    sales_hash: str
    notes: list[str]


@dataclass(frozen=True)
class Part:
    name: str
    amount: Decimal


@dataclass(frozen=True)
class Band:
    """One vehicle's band in money, with its parts (they add up to `likely`) and its evidence."""

    low: Decimal
    likely: Decimal
    high: Decimal
    parts: tuple[Part, ...]
    evidence: dict[str, float | int | str | bool]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class Thin:
    """No band: the evidence for this very vehicle is not enough, and why."""

    reason: str
    evidence: dict[str, float | int | str | bool]


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


def learn(rows: Iterable[Mapping[str, Any]], *, prices: Iterable[Decimal], coverage_percent: int) -> Learned:
    """Fit the price band to past sales: rows of the history and their effective prices."""
    frame = frame_of(rows)
    check(frame)
    model = vehicle_model(coverage=coverage_percent / 100)
    model.fit(frame, [float(price) for price in prices])
    return Learned(to_dict(model), int(model.sales_used_), str(model.sales_hash_), list(model.notes_))


def bands_of(rows: Iterable[Mapping[str, Any]], *, state: dict[str, Any]) -> list[Band | Thin]:
    """The band of each vehicle under one stored fit, or what is missing for one."""
    model = from_dict(state)
    frame = frame_of(rows)
    check(frame)
    bands, evidence, parts = model.band(frame), model.evidence(frame), model.parts(frame)
    notes = tuple(model.notes_)
    return [_band(bands.iloc[i], evidence.iloc[i], parts.iloc[i], notes=notes) for i in range(len(frame))]


def band_of(row: Mapping[str, Any], *, state: dict[str, Any]) -> Band | Thin:
    return bands_of([row], state=state)[0]


def _band(band: Any, evidence: Any, parts: Any, *, notes: tuple[str, ...]) -> Band | Thin:
    known = {str(name): _plain(value) for name, value in evidence.items() if name != "reason"}
    if not evidence["enough"]:
        return Thin(str(evidence["reason"]), known)
    named = tuple(Part(str(name), _money(amount)) for name, amount in parts.items())
    likely = _money(band["likely"])
    if total(part.amount for part in named) != likely:
        raise ArithmeticError(f"The parts add up to {total(part.amount for part in named)}, not to {likely}.")
    return Band(_money(band["low"]), likely, _money(band["high"]), named, known, notes)


def _money(amount: float) -> Decimal:
    return round_money(Decimal(f"{float(amount):.2f}"))


def _plain(value: Any) -> Any:
    return value.item() if hasattr(value, "item") else value
