"""The price band of vehicles under a stored fit, in money."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from math import expm1
from typing import Any

from inventory.bridge.elsewhere import elsewhere_of, learned_of
from inventory.bridge.frames import frame_of, money_of, plain_of
from inventory.errors import Refused
from inventory.rules.money import total
from valuation import BadStore, NotConverged, PriceModel, from_dict, to_dict, vehicle_model
from valuation.schema import check


@dataclass(frozen=True)
class Learned:
    """One fit: plain numbers, how many sales it rests on, their hash, and what it says about itself.

    `elsewhere` is what it says of sales elsewhere; empty where there were none.
    """

    state: dict[str, Any]
    sales_used: int
    sales_hash: str
    notes: list[str]
    elsewhere: dict[str, Any] = field(default_factory=dict)


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


def learn(
    rows: Iterable[Mapping[str, Any]],
    *,
    prices: Iterable[Decimal],
    coverage_percent: int,
    elsewhere: Sequence[Mapping[str, Any]] = (),
) -> Learned:
    """Fit the price band to past sales: rows of the history and their effective prices.

    `elsewhere` are rows as of `queries.history.elsewhere_for_fit`: weighed apart, or left out where they do not help.
    """
    frame = frame_of(rows)
    check(frame)
    model = vehicle_model(coverage=coverage_percent / 100)
    try:
        model.fit(frame, [float(price) for price in prices], elsewhere=elsewhere_of(elsewhere))
    except NotConverged as problem:
        raise unsettled(problem) from problem
    told = (int(model.sales_used_), str(model.sales_hash_), list(model.notes_))
    return Learned(to_dict(model), *told, learned_of(model))


def unsettled(problem: NotConverged) -> Refused:
    return Refused(
        "fit_unsettled", f"The fit did not settle: {problem}.", field="fit", mend="The fit before it stays in use."
    )


def bands_of(rows: Iterable[Mapping[str, Any]], *, state: dict[str, Any]) -> list[Band | Thin]:
    """The band of each vehicle under one stored fit, or what is missing for one."""
    model = read_back(state)
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
    known = {str(name): plain_of(value) for name, value in evidence.items() if name != "reason"}
    if not evidence["enough"]:
        return Thin(str(evidence["reason"]), known)
    named = tuple(Part(str(name), money_of(amount)) for name, amount in parts.items())
    likely = money_of(band["likely"])
    if total(part.amount for part in named) != likely:
        raise ArithmeticError(f"The parts add up to {total(part.amount for part in named)}, not to {likely}.")
    return Band(money_of(band["low"]), likely, money_of(band["high"]), named, known, notes)


def drift_of(state: dict[str, Any], *, days: Sequence[date]) -> list[float]:
    """The market on each of the days under one stored fit, as percent against the last of them."""
    if not days:
        return []
    logs = [float(log) for log in read_back(state).drift([day.isoformat() for day in days])]
    return [100 * expm1(log - logs[-1]) for log in logs]


def read_back(state: dict[str, Any]) -> PriceModel:
    try:
        return from_dict(state)
    except BadStore as problem:
        raise Refused(
            "fit_unreadable", "The last fit was made by another version of the price band.", field="fit",
            mend="Fit it again: the button on the page of past sales, or manage.py fit.",
        ) from problem  # fmt: skip
