"""The demo's inspections: graded around each vehicle's own level, with the findings its file names."""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from inventory.actions import demo_ledger, inspecting
from inventory.actions.inspecting import Finding
from inventory.actions.writing import trade_day
from inventory.models import Consignment
from inventory.queries.flags import drives_stopped
from inventory.rules.catalogue import STATION, STATIONS, Check, Feature
from inventory.rules.flags import ROAD_TEST
from inventory.rules.roles import command
from inventory.rules.words import Basis, Verdict

BY = command("demo")


@dataclass(frozen=True)
class Visit:
    """One demo vehicle, what its file says of it, and when it is walked."""

    row: Consignment
    given: dict[str, Any]
    place: int
    at: datetime


def inspect(visit: Visit) -> None:
    """A whole walk and the ledger; a few things nobody has seen yet widen the intervals."""
    begin(visit, stations=list(STATION))
    demo_ledger.load_ledger(visit.row, place=visit.place, by=BY, at=visit.at)
    inspecting.finish_inspection(visit.row.pk, by=BY, at=visit.at)


def begin(visit: Visit, *, stations: list[str]) -> None:
    """Walk some stations, and leave the inspection open."""
    inspecting.begin_inspection(visit.row.pk, by=BY, at=visit.at)
    has = _has(visit.given)
    for feature in Feature:
        inspecting.record_feature(visit.row.pk, feature=feature, present=feature.value in has, by=BY, at=visit.at)
    for number, station in enumerate(STATIONS):
        if station.code == ROAD_TEST and drives_stopped(visit.row, today=trade_day(visit.at)):
            continue  # an open flag stops the road test: it stays not seen
        if station.code in stations:
            findings = [_finding(visit, check, number=number * 3 + place) for place, check in enumerate(station.checks)]
            inspecting.record_station(visit.row.pk, station=station.code, findings=findings, by=BY, at=visit.at)


def _has(given: dict[str, Any]) -> set[str]:
    """What a demo vehicle has, as its body and transmission tell; the rest is what most of that age had."""
    body, gearbox = given.get("body", "").lower(), given.get("transmission", "").lower()
    has = {Feature.CARBURETTOR, Feature.LIQUID_COOLED, Feature.BODY_ON_FRAME, Feature.FRONT_DISCS}
    has.add(Feature.AUTOMATIC if "auto" in gearbox else Feature.MANUAL)
    has.add(Feature.PICKUP_BED if "pickup" in body else Feature.TRUNK)
    if body == "open":
        has.add(Feature.SOFT_TOP)
    return {feature.value for feature in has}


def _finding(visit: Visit, check: Check, *, number: int) -> Finding:
    """One answer; what carries the vehicle is always looked at; nothing is rusted through unless its file says so."""
    told = visit.given.get("findings", {}).get(check.code)
    if told is not None:
        grade, reading, note = told
        measured = None if reading is None else Decimal(str(reading))
        basis = Basis.SEEN if reading is None else Basis.MEASURED
        return Finding(check_code=check.code, grade=grade, basis=basis, reading=measured, note=note)
    level = max(0, min(4, int(visit.given.get("grade", 3)) + (number * 7 + visit.place) % 3 - 1))
    if check.structural or check.criterion:
        return Finding(check_code=check.code, grade=max(2, level), basis=Basis.SEEN)
    if (number + visit.place) % 11 == 0 or check.unit:
        return Finding(check_code=check.code, verdict=Verdict.NOT_SEEN, basis=Basis.NOT_ESTABLISHED)
    return Finding(check_code=check.code, grade=max(1, level), basis=Basis.SEEN)
