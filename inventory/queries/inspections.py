"""Inspections as the walk and the vehicle file read them."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any

from django.db.models import QuerySet

from inventory.models import CheckResult, IntakeInspection, Vehicle, VehicleFeature
from inventory.rules.catalogue import CHECKS, EARLIER, STATION_OF, STATIONS, Check, Feature, Station
from inventory.rules.flags import flag_of
from inventory.rules.limits import Flag
from inventory.rules.scores import Graded
from inventory.rules.walk import Answered, by_eye
from inventory.rules.words import Grade, Verdict


def latest_results(inspection: IntakeInspection) -> dict[str, CheckResult]:
    """The row that counts of each check: the one told last, whichever reached the house first."""
    rows = CheckResult.objects.filter(inspection=inspection)
    return {row.check_code: row for row in sorted(rows, key=lambda row: row.told_order)}


def latest_result(inspection: IntakeInspection, *, code: str) -> CheckResult:
    """The row that counts of one check that has an answer."""
    rows = CheckResult.objects.filter(inspection=inspection, check_code=code)
    return max(rows, key=lambda row: row.told_order)


def graded_of(results: Mapping[str, CheckResult]) -> list[Graded]:
    return [Graded(row.check_code, row.verdict, row.grade, row.basis) for row in results.values()]


def answers_of(results: Mapping[str, CheckResult]) -> dict[str, Answered]:
    return {code: Answered(row.verdict, row.grade, row.basis, row.reading) for code, row in results.items()}


def results_of(inspection: IntakeInspection) -> list[Graded]:
    return graded_of(latest_results(inspection))


def features_of(vehicle: Vehicle) -> dict[str, bool]:
    """What the vehicle is known to have, or to lack. What nobody said is not in it."""
    rows = VehicleFeature.objects.filter(vehicle=vehicle).order_by("pk")
    return {row.feature: row.present for row in rows if row.feature in Feature.values}


def kind_of(vehicle: Vehicle) -> dict[str, Any]:
    """What decides which checks apply, as `catalogue.asked` takes it."""
    return _kind(vehicle, features_of(vehicle))


def _kind(vehicle: Vehicle, known: Mapping[str, bool]) -> dict[str, Any]:
    return {
        "has": {feature for feature, present in known.items() if present},
        "lacks": {feature for feature, present in known.items() if not present},
        "build_class": vehicle.build_class,
    }


def kinds_of(vehicles_by_key: Mapping[int, Vehicle], *, vehicles: QuerySet[Any]) -> dict[int, dict[str, Any]]:
    """`kind_of` for many vehicles in one query. `vehicles` selects their ids."""
    known: dict[int, dict[str, bool]] = {}
    rows = VehicleFeature.objects.filter(vehicle__in=vehicles, feature__in=Feature.values).order_by("pk")
    for vehicle_id, feature, present in rows.values_list("vehicle_id", "feature", "present"):
        known.setdefault(vehicle_id, {})[feature] = present
    return {key: _kind(vehicle, known.get(vehicle.pk, {})) for key, vehicle in vehicles_by_key.items()}


@dataclass(frozen=True)
class CheckFound:
    """One check of the catalogue and what was found, if anybody looked."""

    check: Check
    result: CheckResult | None

    @property
    def reading(self) -> str:
        """The reading without the zeros that the column keeps behind it: 10.000 is 10, not 1E+1."""
        return _plain(self.result.reading if self.result else None)

    @property
    def compared_with(self) -> str:
        return _plain(self.result.compared_with if self.result else None)

    @property
    def told_ms(self) -> int:
        """When the answer that counts was told, for a device that compares it with what it keeps; 0: no answer."""
        row = self.result
        return 0 if row is None else int((row.told_at or row.at).timestamp() * 1000)

    @property
    def by_eye(self) -> bool:
        return by_eye(self.check)

    @property
    def is_fault(self) -> bool:
        grade = self.result.grade if self.result else None
        return grade is not None and grade <= Grade.NEEDS_REPAIR

    @property
    def flag(self) -> Flag | None:
        row = self.result
        if row is None:
            return None
        return flag_of(self.check, grade=row.grade, reading=row.reading, compared_with=row.compared_with)


def _plain(given: Any) -> str:
    return "" if given is None else f"{given.normalize():f}"


@dataclass(frozen=True)
class StationFound:
    station: Station
    checks: list[CheckFound]

    @property
    def answered(self) -> int:
        return sum(found.result is not None for found in self.checks)

    @property
    def left(self) -> list[CheckFound]:
        return [found for found in self.checks if found.result is None]

    @property
    def is_done(self) -> bool:
        """Whether every check has an answer; *not seen* is one."""
        return not self.left

    @property
    def faults(self) -> list[CheckFound]:
        return [found for found in self.checks if found.is_fault]

    @property
    def not_seen(self) -> int:
        return sum(found.result is None or found.result.verdict == Verdict.NOT_SEEN for found in self.checks)

    @property
    def last(self) -> CheckResult | None:
        """The answer given last: by whom and when somebody was here."""
        rows = [found.result for found in self.checks if found.result is not None]
        return max(rows, key=lambda row: row.told_order) if rows else None


def stations_found(results: Mapping[str, CheckResult], *, asked: Collection[str]) -> list[StationFound]:
    """All stations in walking order, each with its checks that apply; an answer to an earlier check is shown too."""
    earlier = [EARLIER[code] for code in results if code in EARLIER]
    return [
        StationFound(
            station,
            [CheckFound(check, results.get(check.code)) for check in station.checks if check.code in asked]
            + [CheckFound(check, results[check.code]) for check in earlier if STATION_OF[check.code] is station],
        )
        for station in STATIONS
    ]


def asked_of(inspection: IntakeInspection, *, now: Collection[str]) -> Collection[str]:
    """The checks that apply to an inspection: as they did when it was finished, else as they do `now`.

    An inspection finished before that was written down shows its answers alone.
    """
    if inspection.is_open:
        return now
    return inspection.asked if inspection.asked is not None else ()


def wording_of(code: str) -> str:
    """What a check is called, also one that is no longer asked."""
    check = CHECKS.get(code) or EARLIER.get(code)
    return check.wording if check else code
