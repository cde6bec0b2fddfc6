"""The intake inspection is walked: checks graded, the walk finished and frozen."""

import uuid
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db import transaction

from inventory.actions import logbook
from inventory.actions.moving import move
from inventory.actions.writing import add, add_all, again, change, locked, trade_day
from inventory.errors import Refused
from inventory.models import (
    CheckResult,
    Consignment,
    FlagClearance,
    IntakeInspection,
    ScorePolicy,
    StationVisit,
    VehicleFeature,
    WorkOrder,
)
from inventory.queries.facts import finished_inspection, open_inspection
from inventory.queries.flags import drives_stopped, flag_line
from inventory.queries.inspections import answers_of, kind_of, latest_results, results_of, wording_of
from inventory.queries.ledger import ledger_of
from inventory.rules import catalogue, scores
from inventory.rules.catalogue import CHECKS, STATION_OF, Check, Feature, Station, asked, asked_codes
from inventory.rules.flags import ROAD_TEST, compared_label, flag_of
from inventory.rules.roles import Act, Actor, require
from inventory.rules.scores import Interval
from inventory.rules.states import State
from inventory.rules.walk import Answered, rest_of
from inventory.rules.words import Verdict

RENEWED = "brought to the checks and components that are asked now"


@dataclass(frozen=True, kw_only=True)
class Finding:
    """What one check found, as given by whoever looked."""

    check_code: str
    verdict: str = Verdict.GRADED
    grade: int | None = None
    basis: str
    reading: Decimal | None = None
    compared_with: Decimal | None = None
    note: str = ""
    client_key: uuid.UUID | None = None
    told_at: datetime | None = None  # by a device, in the house's time
    made_at: datetime | None = None  # in the device's own
    device: str = ""


def current_policy(*, by: Actor, at: datetime) -> ScorePolicy:
    """The weights in force. When the catalogue has changed since, they are brought to it as a version of their own."""
    latest = ScorePolicy.objects.order_by("-number").first()
    weights = scores.renewed(latest.weights if latest else {})
    if latest is not None and latest.weights == weights:
        return latest
    number = latest.number + 1 if latest else 1
    row = add(ScorePolicy(number=number, weights=weights, reason=RENEWED if latest else "", by=by.name, at=at))
    if latest is not None:
        logbook.record("policy.changed", row, by=by, at=at, number=number, because=logbook.because(RENEWED))
    return row


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


def begin_regrade(order: WorkOrder, *, by: Actor, at: datetime) -> IntakeInspection:
    """Open a walk of what was worked on, inside the caller's transaction; what else was found is carried over."""
    require(by, Act.INSPECT)
    stay = locked(order.consignment_id)
    known, last = open_inspection(stay), finished_inspection(stay)
    if known is not None and known.work_order_id == order.pk:
        return known
    if known is not None or last is None:
        raise Refused(
            "inspection_open", f"{stay.stock_number} is being inspected, or never was to the end.", field="inspection",
            mend="Finish that inspection first.",
        )  # fmt: skip
    row = add(
        IntakeInspection(
            consignment=stay, number=last.number + 1, policy=current_policy(by=by, at=at), begun_at=at,
            begun_by=by.name, work_order=order,
        )
    )  # fmt: skip
    kept = add_all([_carried(was, to=row) for code, was in latest_results(last).items() if code not in order.checks])
    logbook.record(
        "inspection.regrade", row, by=by, at=at, consignment=stay, number=row.number, what=order.what,
        carried=len(kept), was=last.number,
    )  # fmt: skip
    return row


def _carried(was: CheckResult, *, to: IntakeInspection) -> CheckResult:
    """The same statement, by whom and when it was made."""
    same = ("check_code", "verdict", "grade", "basis", "reading", "unit", "compared_with", "note", "told_at", "device",
            "by", "at")  # fmt: skip
    return CheckResult(inspection=to, carried_from=was, **{name: getattr(was, name) for name in same})


@transaction.atomic
def record_check(consignment_id: int, *, finding: Finding, by: Actor, at: datetime) -> CheckResult:
    """Grade one check of the open walk. The latest told grade counts, the others stay."""
    require(by, Act.INSPECT)
    stay = locked(consignment_id)
    if (known := again(CheckResult, client_key=finding.client_key)) is not None:
        return known
    if not finding.device:  # what a device kept has happened already: it is taken as it is
        _refuse_drive(stay, station=finding.check_code.partition(".")[0], at=at)
    row = add(_result(_open(stay), finding, by=by, at=at))
    logbook.record("inspection.check", row, by=by, at=at, consignment=stay, **_told(row))
    return row


@transaction.atomic
def record_station(
    consignment_id: int, *, station: str, findings: Sequence[Finding] = (), rest: str = "", by: Actor, at: datetime
) -> list[CheckResult]:
    """Grade several checks of one station at once, then what `rest` says of those without an answer."""
    require(by, Act.INSPECT)
    _refuse_elsewhere(station, findings=findings)
    stay = locked(consignment_id)
    inspection = _open(stay)
    if findings or rest:
        _refuse_drive(stay, station=station, at=at)
    rows = [_result(inspection, finding, by=by, at=at) for finding in findings]
    if rest:
        rows += [
            _result(inspection, finding, by=by, at=at)
            for finding in _rest(stay, inspection, station=station, rest=rest, given=findings)
        ]
    kept = add_all(rows)
    logbook.record_all("inspection.check", [(row, stay, _told(row)) for row in kept], by=by, at=at)
    return kept


def _refuse_elsewhere(station: str, *, findings: Sequence[Finding]) -> None:
    """What is said of one station is about its own checks, each said once. An unknown check is told by `_result`."""
    here = _station(station)
    said: set[str] = set()
    for finding in findings:
        code = finding.check_code
        if code in CHECKS and STATION_OF[code] is not here:
            raise Refused(
                "other_station", f"{CHECKS[code].wording} belongs to {STATION_OF[code].title}, not to {here.title}.",
                field="check_code", got=code, mend="Send it with its own station.",
            )  # fmt: skip
        if code in said:
            raise Refused(
                "said_twice", f"{code} is answered twice here.", field="check_code", got=code,
                mend="Send one answer for each check.",
            )  # fmt: skip
        said.add(code)


def _station(code: str) -> Station:
    if code not in catalogue.STATION:
        raise Refused(
            "no_such_station", f"There is no station {code}.", field="station", got=code,
            mend=f"Use one of {', '.join(catalogue.STATION)}.",
        )  # fmt: skip
    return catalogue.STATION[code]


def _rest(
    stay: Consignment, inspection: IntakeInspection, *, station: str, rest: str, given: Sequence[Finding]
) -> list[Finding]:
    known = answers_of(latest_results(inspection))
    fresh = {row.check_code: Answered(row.verdict, row.grade, row.basis) for row in given}
    questions = asked(catalogue.STATION[station], **kind_of(stay.vehicle))
    answers = rest_of(rest, asked=questions, answered={**known, **fresh}, other_side=known)
    return [
        Finding(check_code=code, verdict=row.verdict, grade=row.grade, basis=row.basis) for code, row in answers.items()
    ]


def _result(inspection: IntakeInspection, finding: Finding, *, by: Actor, at: datetime) -> CheckResult:
    check = CHECKS.get(finding.check_code)
    if check is None:
        raise Refused(
            "no_such_check", f"There is no check {finding.check_code}.", field="check_code",
            got=finding.check_code, mend="Use a check of the catalogue.",
        )  # fmt: skip
    if finding.reading is not None and not check.unit:
        raise Refused(
            "no_reading", f"{check.wording}: nothing is measured here.", field="reading", got=str(finding.reading),
            mend="Leave the reading out, and say it in the note.",
        )  # fmt: skip
    if finding.compared_with is not None and not compared_label(check):
        raise Refused(
            "nothing_compared", f"{check.wording}: the limit depends on no other figure.", field="compared_with",
            got=str(finding.compared_with), mend="Leave the figure out, and say it in the note.",
        )  # fmt: skip
    _refuse_nonsense(check, finding)
    return CheckResult(
        inspection=inspection, check_code=check.code, verdict=finding.verdict, grade=finding.grade,
        basis=finding.basis, reading=finding.reading, unit=check.unit if finding.reading is not None else "",
        compared_with=finding.compared_with, note=finding.note.strip(), told_at=finding.told_at,
        made_at=finding.made_at, device=finding.device, client_key=finding.client_key, by=by.name, at=at,
    )  # fmt: skip


def _refuse_nonsense(check: Check, finding: Finding) -> None:
    """Whatever cannot be held against its limit, by the names that figures have here."""
    try:
        flag_of(check, grade=finding.grade, reading=finding.reading, compared_with=finding.compared_with)
    except Refused as problem:
        field = "compared_with" if problem.field in {"maker_figure", "size_in"} else problem.field
        said = f"{check.wording}: {problem.message}"
        raise Refused(problem.code, said, field=field, got=str(problem.got), mend=problem.mend) from problem


def _refuse_drive(stay: Consignment, *, station: str, at: datetime) -> None:
    """An open flag on brakes, steering or tyres stops the road test."""
    if station != ROAD_TEST:
        return
    for line in drives_stopped(stay, today=trade_day(at)):
        raise Refused(
            "flag_open", f"Do not drive it: {line.where}. {line.message}", field="check_code", got=line.where,
            mend="The owner clears the flag with a reason, or it is mended and graded anew.",
        )  # fmt: skip


def _told(row: CheckResult) -> dict[str, str]:
    """What the log says of one result."""
    verdict = row.get_grade_display() if row.grade is not None else row.get_verdict_display()
    reading = "" if row.reading is None else f", {row.reading.normalize():f} {row.unit}"
    return {"check": CHECKS[row.check_code].wording, "verdict": f"{verdict}{reading}"}


@transaction.atomic
def record_feature(
    consignment_id: int, *, feature: str, present: bool, client_key: uuid.UUID | None = None, by: Actor, at: datetime
) -> VehicleFeature:
    """Say whether the vehicle has something that decides which questions are asked."""
    require(by, Act.INSPECT)
    stay = locked(consignment_id)
    if (known := again(VehicleFeature, client_key=client_key)) is not None:
        return known
    if feature not in Feature.values:
        raise Refused(
            "no_such_feature", f"There is no feature {feature}.", field="feature", got=feature,
            mend=f"Use one of {', '.join(Feature.values)}.",
        )  # fmt: skip
    row = add(
        VehicleFeature(vehicle=stay.vehicle, feature=feature, present=present, client_key=client_key, by=by.name, at=at)
    )
    logbook.record(
        "inspection.feature", row, by=by, at=at, consignment=stay,
        feature=Feature(feature).label, present="yes" if present else "no",
    )  # fmt: skip
    return row


@transaction.atomic
def record_visit(
    consignment_id: int, *, station: str, engine: str, client_key: uuid.UUID | None = None, by: Actor, at: datetime
) -> StationVisit:
    """Say that somebody stands at a station now, and whether the engine is cold."""
    require(by, Act.INSPECT)
    stay = locked(consignment_id)
    if (known := again(StationVisit, client_key=client_key)) is not None:
        return known
    here = _station(station)
    row = add(
        StationVisit(inspection=_open(stay), station=station, engine=engine, client_key=client_key, by=by.name, at=at)
    )
    logbook.record(
        "inspection.visit", row, by=by, at=at, consignment=stay,
        station=here.title, engine=row.get_engine_display(),
    )  # fmt: skip
    return row


@transaction.atomic
def clear_flag(consignment_id: int, *, key: str, reason: str, by: Actor, at: datetime) -> FlagClearance:
    """The owner clears one safety flag. Said twice, it is cleared once."""
    require(by, Act.CLEAR_FLAG)
    stay = locked(consignment_id)
    line = flag_line(stay, key=key, today=trade_day(at))
    if line.clearance is not None:
        return line.clearance
    if not reason.strip():
        raise Refused("no_reason", "No reason was given.", field="reason", got="", mend="Say why it is cleared.")
    row = add(FlagClearance(consignment=stay, key=key, flag=line.message, reason=reason.strip(), by=by.name, at=at))
    logbook.record(
        "flag.cleared", row, by=by, at=at, consignment=stay, check=line.where, section=line.section,
        reason=row.reason,
    )  # fmt: skip
    return row


@transaction.atomic
def finish_inspection(consignment_id: int, *, by: Actor, at: datetime) -> IntakeInspection:
    """Freeze the open walk with its two intervals; a vehicle that was only *on the lot* becomes *inspected*."""
    require(by, Act.INSPECT)
    stay = locked(consignment_id)
    row = _open(stay)
    if scores.renewed(row.policy.weights) != row.policy.weights:  # begun before the catalogue grew
        change(row, policy=current_policy(by=by, at=at))
    applying = asked_codes(**kind_of(stay.vehicle))
    _refuse_unanswered(row, asked=applying)
    condition = scores.condition(results_of(row), policy=row.policy.weights, asked=applying)
    if condition is None:
        raise Refused(
            "nothing_graded",
            "No station has been graded yet.",
            field="inspection",
            mend="Grade at least one, and leave the others as not seen.",
        )
    originality = ledger_of(stay.vehicle_id, until=at).originality(policy=row.policy.weights)
    change(
        row, finished_at=at, finished_by=by.name, asked=sorted(applying),
        condition_low=condition.low, condition_high=condition.high,
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


def _refuse_unanswered(row: IntakeInspection, *, asked: Collection[str]) -> None:
    """A look at what was worked on answers each of it; *not seen* is an answer too."""
    if row.work_order is None:
        return
    known = latest_results(row)
    left = [wording_of(code) for code in row.work_order.checks if code in asked and code not in known]
    if left:
        raise Refused(
            "not_graded_again", f"Not graded again yet: {', '.join(left)}.", field="inspection",
            mend="Grade them, or say that they were not seen.",
        )  # fmt: skip


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
