"""Inspections as the walk and the vehicle file read them."""

from inventory.models import CheckResult, ComponentRecord, IntakeInspection
from inventory.rules.scores import Graded, Stood


def latest_results(inspection: IntakeInspection) -> dict[str, CheckResult]:
    """The row that counts of each check."""
    rows = CheckResult.objects.filter(inspection=inspection).order_by("pk")
    return {row.check_code: row for row in rows}


def latest_components(vehicle_id: int) -> dict[str, ComponentRecord]:
    """The line of the ledger that counts of each component."""
    rows = ComponentRecord.objects.filter(vehicle_id=vehicle_id).order_by("pk")
    return {row.component: row for row in rows}


def results_of(inspection: IntakeInspection) -> list[Graded]:
    return [Graded(row.check_code, row.verdict, row.grade, row.basis) for row in latest_results(inspection).values()]


def ledger_of(vehicle_id: int) -> list[Stood]:
    return [Stood(row.component, row.standing, row.basis) for row in latest_components(vehicle_id).values()]
