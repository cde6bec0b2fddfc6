"""What a vehicle is asked now: the checks and photos that apply to it, each with its weight in the condition."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from inventory.models import Consignment
from inventory.queries.inspections import kind_of
from inventory.queries.shots import shots_wanted
from inventory.queries.weights import score_policy
from inventory.rules.catalogue import STATIONS, Check, Shot, asked
from inventory.rules.flags import compared_label
from inventory.rules.limits import limit_text
from inventory.rules.roles import Actor


@dataclass(frozen=True, kw_only=True)
class CheckAsked:
    code: str
    wording: str
    hint: str
    unit: str
    limit: str  # the published limit of its reading, in words
    compared_with: str  # what else is read for that limit
    structural: bool
    weight: int | None  # None: the weights in force are older than the check


@dataclass(frozen=True, kw_only=True)
class StationAsked:
    code: str
    title: str
    hint: str
    caution: str
    checks: list[CheckAsked]
    shots: tuple[Shot, ...]


@dataclass(frozen=True)
class Asked:
    policy: int | None  # version of the weights
    stations: list[StationAsked]


def asked_now(stay: Consignment, *, by: Actor) -> Asked:
    """All stations in walking order, with the checks and shots that apply to this vehicle."""
    policy = score_policy(by=by)
    kind = kind_of(stay.vehicle)
    stations = [
        StationAsked(
            code=station.code, title=station.title, hint=station.hint, caution=station.caution, shots=wanted.shots,
            checks=[_check(check, weights=policy.weights["checks"]) for check in asked(station, **kind)],
        )
        for station, wanted in zip(STATIONS, shots_wanted(lacks=kind["lacks"]), strict=True)
    ]  # fmt: skip
    return Asked(policy.number, stations)


def _check(check: Check, *, weights: Mapping[str, Any]) -> CheckAsked:
    return CheckAsked(
        code=check.code, wording=check.wording, hint=check.hint, unit=check.unit,
        limit=limit_text(check.limit) if check.limit else "", compared_with=compared_label(check),
        structural=check.structural, weight=weights.get(check.code),
    )  # fmt: skip
