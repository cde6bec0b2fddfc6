"""Inspections as the walk and the vehicle file read them."""

from collections.abc import Mapping
from dataclasses import dataclass

from inventory.models import CheckResult, ComponentRecord, IntakeInspection
from inventory.rules.scores import Graded, Stood
from inventory.rules.stations import COMPONENTS, STATIONS, Check, Component, Station


def latest_results(inspection: IntakeInspection) -> dict[str, CheckResult]:
    """The row that counts of each check."""
    rows = CheckResult.objects.filter(inspection=inspection).order_by("pk")
    return {row.check_code: row for row in rows}


def latest_components(vehicle_id: int) -> dict[str, ComponentRecord]:
    """The line of the ledger that counts of each component."""
    rows = ComponentRecord.objects.filter(vehicle_id=vehicle_id).order_by("pk")
    return {row.component: row for row in rows}


def graded_of(results: Mapping[str, CheckResult]) -> list[Graded]:
    return [Graded(row.check_code, row.verdict, row.grade, row.basis) for row in results.values()]


def stood_of(components: Mapping[str, ComponentRecord]) -> list[Stood]:
    return [Stood(row.component, row.standing, row.basis) for row in components.values()]


def results_of(inspection: IntakeInspection) -> list[Graded]:
    return graded_of(latest_results(inspection))


def ledger_of(vehicle_id: int) -> list[Stood]:
    return stood_of(latest_components(vehicle_id))


@dataclass(frozen=True)
class CheckFound:
    """One check of the catalogue and what was found, if anybody looked."""

    check: Check
    result: CheckResult | None

    @property
    def reading(self) -> str:
        """The reading without the zeros that the column keeps behind it: 10.000 is 10, not 1E+1."""
        given = self.result.reading if self.result else None
        return "" if given is None else f"{given.normalize():f}"


@dataclass(frozen=True)
class StationFound:
    station: Station
    checks: list[CheckFound]

    @property
    def is_done(self) -> bool:
        """Whether every check has an answer; *not seen* is one."""
        return all(found.result is not None for found in self.checks)


def stations_found(results: Mapping[str, CheckResult]) -> list[StationFound]:
    """All stations in walking order, each with what was found."""
    return [
        StationFound(station, [CheckFound(check, results.get(check.code)) for check in station.checks])
        for station in STATIONS
    ]


@dataclass(frozen=True)
class LedgerLine:
    component: Component
    record: ComponentRecord | None


def ledger_lines(components: Mapping[str, ComponentRecord]) -> list[LedgerLine]:
    """All components of the catalogue, each with the line that counts."""
    return [LedgerLine(component, components.get(component.code)) for component in COMPONENTS]
