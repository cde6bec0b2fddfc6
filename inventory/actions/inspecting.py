"""The intake inspection is walked: checks graded, components recorded, the walk finished and frozen."""

import uuid
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db import transaction

from inventory.actions import logbook
from inventory.actions.moving import move
from inventory.actions.writing import add, again, change, locked
from inventory.errors import Refused
from inventory.models import CheckResult, ComponentRecord, Consignment, IntakeInspection, ScorePolicy
from inventory.queries.facts import open_inspection
from inventory.queries.inspections import ledger_of, results_of
from inventory.rules import scores
from inventory.rules.roles import Act, Actor, require
from inventory.rules.scores import Interval
from inventory.rules.states import State
from inventory.rules.stations import CHECKS, COMPONENT_TITLES
from inventory.rules.words import Verdict


@dataclass(frozen=True, kw_only=True)
class Finding:
    """What one check found, as given by whoever looked."""

    check_code: str
    verdict: str = Verdict.GRADED
    grade: int | None = None
    basis: str
    reading: Decimal | None = None
    note: str = ""
    client_key: uuid.UUID | None = None


def current_policy(*, by: Actor, at: datetime) -> ScorePolicy:
    """The weights in force; the house's first version where the lot never set its own."""
    latest = ScorePolicy.objects.order_by("-number").first()
    return latest or add(ScorePolicy(number=1, weights=scores.FIRST_POLICY, by=by.name, at=at))


@transaction.atomic
def begin_inspection(consignment_id: int, *, by: Actor, at: datetime) -> IntakeInspection:
    """Open a walk, or return the one that is open."""
    require(by, Act.INSPECT)
    stay = locked(consignment_id)
    if stay.state in {State.BOOKED, State.RELEASED}:
        raise Refused(
            "not_here",
            f"{stay.stock_number} is {stay.get_state_display()}: it is not on the lot.",
            field="state",
            got=stay.state,
            mend="Inspect it when it has arrived.",
        )
    known = open_inspection(stay)
    if known is not None:
        return known
    row = add(
        IntakeInspection(
            consignment=stay, number=stay.inspections.count() + 1, policy=current_policy(by=by, at=at),
            begun_at=at, begun_by=by.name,
        )
    )  # fmt: skip
    logbook.record("inspection.begun", row, by=by, at=at, consignment=stay, number=row.number)
    return row


@transaction.atomic
def record_check(consignment_id: int, *, finding: Finding, by: Actor, at: datetime) -> CheckResult:
    """Grade one check of the open walk. The latest grade counts, the earlier ones stay."""
    require(by, Act.INSPECT)
    stay = locked(consignment_id)
    if (known := again(CheckResult, client_key=finding.client_key)) is not None:
        return known
    check = CHECKS.get(finding.check_code)
    if check is None:
        raise Refused(
            "no_such_check", f"There is no check {finding.check_code}.", field="check_code",
            got=finding.check_code, mend="Use a check of the catalogue.",
        )  # fmt: skip
    row = add(
        CheckResult(
            inspection=_open(stay), check_code=check.code, verdict=finding.verdict, grade=finding.grade,
            basis=finding.basis, reading=finding.reading, unit=check.unit if finding.reading is not None else "",
            note=finding.note.strip(), client_key=finding.client_key, by=by.name, at=at,
        )
    )  # fmt: skip
    logbook.record(
        "inspection.check", row, by=by, at=at, consignment=stay, check=check.wording,
        verdict=row.get_grade_display() if row.grade is not None else row.get_verdict_display(),
    )  # fmt: skip
    return row


@transaction.atomic
def record_component(
    consignment_id: int, *, component: str, standing: str, basis: str, as_found: str = "", as_built: str = "",
    as_built_basis: str = "not_established", by: Actor, at: datetime,
) -> ComponentRecord:  # fmt: skip
    """Write one line of the component ledger. The latest line of a component counts."""
    require(by, Act.INSPECT)
    stay = locked(consignment_id)
    if component not in COMPONENT_TITLES:
        raise Refused(
            "no_such_component", f"There is no component {component}.", field="component", got=component,
            mend=f"Use one of {', '.join(COMPONENT_TITLES)}.",
        )  # fmt: skip
    row = add(
        ComponentRecord(
            vehicle=stay.vehicle, component=component, standing=standing, basis=basis, as_found=as_found.strip(),
            as_built=as_built.strip(), as_built_basis=as_built_basis, by=by.name, at=at,
        )
    )  # fmt: skip
    logbook.record(
        "inspection.component", row, by=by, at=at, consignment=stay, component=COMPONENT_TITLES[component],
        standing=row.get_standing_display(), basis=row.get_basis_display(),
    )  # fmt: skip
    return row


@transaction.atomic
def finish_inspection(consignment_id: int, *, by: Actor, at: datetime) -> IntakeInspection:
    """Freeze the open walk with its two intervals; a vehicle that was only *on the lot* becomes *inspected*."""
    require(by, Act.INSPECT)
    stay = locked(consignment_id)
    row = _open(stay)
    condition = scores.condition(results_of(row), policy=row.policy.weights)
    if condition is None:
        raise Refused(
            "nothing_graded",
            "No station has been graded yet.",
            field="inspection",
            mend="Grade at least one, and leave the others as not seen.",
        )
    originality = scores.originality(ledger_of(stay.vehicle_id), policy=row.policy.weights)
    change(
        row, finished_at=at, finished_by=by.name, condition_low=condition.low, condition_high=condition.high,
        originality_low=originality.low if originality else None,
        originality_high=originality.high if originality else None,
    )  # fmt: skip
    logbook.record(
        "inspection.finished", row, by=by, at=at, consignment=stay, number=row.number,
        condition=_span(condition), originality=_span(originality),
    )  # fmt: skip
    if stay.state == State.ON_LOT:
        move(stay.pk, to=State.INSPECTED, by=by, at=at)
    return row


def _open(stay: Consignment) -> IntakeInspection:
    row = open_inspection(stay)
    if row is None:
        raise Refused(
            "no_open_inspection",
            f"{stay.stock_number} has no open inspection.",
            field="inspection",
            mend="Begin one.",
        )
    return row


def _span(interval: Interval | None) -> str:
    return "not known" if interval is None else f"{interval.low} to {interval.high}"
