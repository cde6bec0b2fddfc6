"""The only importer of `valuation`: rows become a frame, floats become money, a fit becomes JSON."""

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

import pandas as pd

from inventory.errors import Refused
from inventory.rules.modifications import kind_of
from inventory.rules.money import round_money, total
from inventory.rules.track_record import Plan
from valuation import (
    LEAST_SALES,
    BacktestSummary,
    BadStore,
    PriceModel,
    backtest,
    from_dict,
    honest_share,
    to_dict,
    vehicle_model,
)
from valuation.schema import MODIFICATION_KINDS, check, mods_column

__all__ = [
    "LEAST_SALES", "Band", "Learned", "Tested", "Thin", "back_test", "band_of", "bands_of", "drift_of", "learn",
]  # fmt: skip

Progress = Callable[[int, int], None]

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
class Tested:
    """A back-test as JSON takes it: figures (null where there is none) and one row per sale, oldest first."""

    figures: dict[str, float | int | None]
    sales: list[dict[str, Any]]
    expected: list[tuple[float, float]]  # share inside an honest band after 1, 2, … sales with a band


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
    model = _read_back(state)
    frame = frame_of(rows)
    check(frame)
    told = (model.band(frame), model.evidence(frame), model.parts(frame))
    notes = tuple(model.notes_)
    rows_told = zip(*(answers.to_dict("records") for answers in told), strict=True)
    return [_band(band, evidence, parts, notes=notes) for band, evidence, parts in rows_told]


def band_of(row: Mapping[str, Any], *, state: dict[str, Any]) -> Band | Thin:
    return bands_of([row], state=state)[0]


def _band(
    band: Mapping[Any, Any], evidence: Mapping[Any, Any], parts: Mapping[Any, Any], *, notes: tuple[str, ...]
) -> Band | Thin:
    known = {str(name): _plain(value) for name, value in evidence.items() if name != "reason"}
    if not evidence["enough"]:
        return Thin(str(evidence["reason"]), known)
    named = tuple(Part(str(name), _money(amount)) for name, amount in parts.items())
    likely = _money(band["likely"])
    if total(part.amount for part in named) != likely:
        raise ArithmeticError(f"The parts add up to {total(part.amount for part in named)}, not to {likely}.")
    return Band(_money(band["low"]), likely, _money(band["high"]), named, known, notes)


def back_test(
    rows: Sequence[Mapping[str, Any]],
    *,
    prices: Iterable[Decimal],
    plan: Plan,
    coverage_percent: int,
    progress: Progress | None = None,
) -> Tested:
    """What the band would have been for each of the last sales, from the sales before it alone.

    `rows` are rows of the history with their `id`. Money comes back as text, to the cent.
    """
    frame = frame_of(rows)
    check(frame)
    past = backtest(
        vehicle_model(coverage=coverage_percent / 100), frame, [float(price) for price in prices], date="ended_on",
        start=plan.start, step=plan.step, progress=progress,
    )  # fmt: skip
    tested = past.frame.reset_index(names="place").to_dict("records")
    sales = [_tested_sale(found, outcome=rows[found["place"]]["id"]) for found in tested]
    figures, errors = past.summary(), int(past.frame["fitted_on"].median())
    banded = figures.coverage.count if figures.coverage else 0
    expected = [honest_share(count, coverage=past.stated, errors=errors) for count in range(1, banded + 1)]
    return Tested(_figures(figures, expected=expected[-1] if expected else (None, None)), sales, expected)


def _tested_sale(found: Mapping[Any, Any], *, outcome: int) -> dict[str, Any]:
    return {
        "outcome": outcome, "ended_on": str(found["date"]), "fitted_on": int(found["fitted_on"]),
        **{name: _shown(found[name]) for name in ("low", "likely", "high", "actual")},
        "inside": bool(found["inside"]),
    }  # fmt: skip


def _shown(amount: float) -> str | None:
    return None if math.isnan(amount) else str(_money(amount))


def _figures(
    found: BacktestSummary, *, expected: tuple[float, float] | tuple[None, None]
) -> dict[str, float | int | None]:
    """Counts, shares and ratios, null where there is none."""
    held, ratios = found.coverage, found.ratios
    figures: dict[str, float | int | None] = {
        "count": found.count, "hit_rate": found.hit_rate, "stated": found.stated,
        "banded": held.count if held else 0, "inside": held.inside if held else 0,
        "share": held.share if held else None, "share_low": held.low if held else None,
        "share_high": held.high if held else None, "expected_low": expected[0], "expected_high": expected[1],
        "median_error": found.median_error, "interval_score": found.interval_score,
        **{name: getattr(ratios, name) if ratios else None for name in RATIO_FIGURES},
        "prd_low": found.prd_low, "prd_high": found.prd_high,
    }  # fmt: skip
    return {name: None if isinstance(value, float) and math.isnan(value) else value for name, value in figures.items()}


RATIO_FIGURES = ("median_ratio", "mean_ratio", "weighted_ratio", "cod", "prd", "prb", "within_10")


def drift_of(state: dict[str, Any], *, days: Sequence[date]) -> list[float]:
    """The market on each of the days under one stored fit, as percent against the last of them."""
    if not days:
        return []
    logs = [float(log) for log in _read_back(state).drift([day.isoformat() for day in days])]
    return [100 * math.expm1(log - logs[-1]) for log in logs]


def _read_back(state: dict[str, Any]) -> PriceModel:
    try:
        return from_dict(state)
    except BadStore as problem:
        raise Refused(
            "fit_unreadable", "The last fit was made by another version of the price band.", field="fit",
            mend="Fit it again: the button on the page of past sales, or manage.py fit.",
        ) from problem  # fmt: skip


def _money(amount: float) -> Decimal:
    return round_money(Decimal(f"{float(amount):.2f}"))


def _plain(value: Any) -> Any:
    return value.item() if hasattr(value, "item") else value
