"""The walk: graded, graded again, finished and frozen."""

import uuid
from dataclasses import replace
from datetime import datetime
from decimal import Decimal
from typing import Any

import pytest

from inventory.actions import figures, inspecting
from inventory.actions.inspecting import Finding
from inventory.errors import NotAllowed, NotFound, Refused
from inventory.models import CheckResult, IntakeInspection, ScorePolicy, StationVisit, VehicleFeature
from inventory.queries.flags import drives_stopped
from inventory.queries.walk import walk_of
from inventory.rules import scores
from inventory.rules.catalogue import CHECKS, STATION
from inventory.rules.roles import Actor
from inventory.rules.states import State
from tests import build

pytestmark = pytest.mark.django_db
ROAD_CHECK = STATION["road_test"].checks[0].code
FRONT = Finding(check_code="front.hood", grade=3, basis="seen")


def test_walk_ends_in_intervals_and_moves_the_vehicle(intake: Actor, at: datetime) -> None:
    stay = build.consignment(State.ON_LOT, at=at)
    inspecting.begin_inspection(stay.pk, by=intake, at=at)
    inspecting.record_check(stay.pk, finding=FRONT, by=intake, at=at)
    walk = inspecting.finish_inspection(stay.pk, by=intake, at=at)
    stay.refresh_from_db()
    assert stay.state == State.INSPECTED
    # One check of weight 4 in 460 seen at grade 3: 4 × 75 ÷ 460 = 0.7, (4 × 75 + 456 × 100) ÷ 460 = 99.8.
    assert sum(check.weight for check in CHECKS.values()) == 460
    assert (walk.condition_low, walk.condition_high) == (Decimal("0.7"), Decimal("99.8"))
    assert walk.asked == sorted(CHECKS)
    assert walk.originality_low is None


def test_latest_grade_counts_and_the_earlier_stays(intake: Actor, at: datetime) -> None:
    stay = build.consignment(State.ON_LOT, at=at)
    inspecting.begin_inspection(stay.pk, by=intake, at=at)
    for grade in (4, 1):
        inspecting.record_check(
            stay.pk, finding=Finding(check_code="front.hood", grade=grade, basis="seen"), by=intake, at=at
        )
    assert CheckResult.objects.count() == 2
    assert inspecting.finish_inspection(stay.pk, by=intake, at=at).condition_low == Decimal("0.2")


def test_check_sent_twice_counts_once(intake: Actor, at: datetime) -> None:
    stay = build.consignment(State.ON_LOT, at=at)
    inspecting.begin_inspection(stay.pk, by=intake, at=at)
    finding = Finding(
        check_code="tyres.tread_left_rear", grade=2, basis="measured", reading=Decimal("5"), client_key=uuid.UUID(int=1)
    )
    rows = [inspecting.record_check(stay.pk, finding=finding, by=intake, at=at) for _ in range(2)]
    assert rows[0].pk == rows[1].pk
    assert rows[0].unit == "32nds of an inch"


def test_begun_walk_is_found_again(intake: Actor, at: datetime) -> None:
    stay = build.consignment(State.ON_LOT, at=at)
    first, second = (inspecting.begin_inspection(stay.pk, by=intake, at=at) for _ in range(2))
    assert first.pk == second.pk
    assert ScorePolicy.objects.count() == 1


def test_walk_of_a_listed_vehicle_changes_no_state(intake: Actor, at: datetime) -> None:
    stay = build.consignment(State.LISTED, at=at)
    build.inspect(stay, at=at, grade=2)
    stay.refresh_from_db()
    assert stay.state == State.LISTED
    assert stay.inspections.count() == 2


@pytest.mark.parametrize(
    ("finding", "field"),
    [
        (Finding(check_code="nose.hood", grade=3, basis="seen"), "check_code"),
        (Finding(check_code="front.hood", grade=7, basis="seen"), "grade"),
        (Finding(check_code="front.hood", basis="seen"), ""),
        (Finding(check_code="front.hood", grade=3, basis="felt"), "basis"),
        (Finding(check_code="front.hood", grade=3, basis="measured", reading=Decimal(3)), "reading"),
        (Finding(check_code="front.overall", grade=3, basis="seen"), "check_code"),
    ],
)
def test_impossible_finding_is_refused(intake: Actor, at: datetime, finding: Finding, field: str) -> None:
    stay = build.consignment(State.ON_LOT, at=at)
    inspecting.begin_inspection(stay.pk, by=intake, at=at)
    with pytest.raises(Refused) as refusal:
        inspecting.record_check(stay.pk, finding=finding, by=intake, at=at)
    assert refusal.value.field == field
    assert not CheckResult.objects.exists()


def test_nothing_is_graded_without_an_open_walk(intake: Actor, at: datetime) -> None:
    stay = build.consignment(State.ON_LOT, at=at)
    with pytest.raises(Refused) as refusal:
        inspecting.record_check(stay.pk, finding=FRONT, by=intake, at=at)
    assert refusal.value.code == "no_open_inspection"
    inspecting.begin_inspection(stay.pk, by=intake, at=at)
    with pytest.raises(Refused) as refusal:
        inspecting.finish_inspection(stay.pk, by=intake, at=at)
    assert refusal.value.code == "nothing_graded"


def test_booked_vehicle_cannot_be_walked(intake: Actor, at: datetime) -> None:
    stay = build.consignment(State.BOOKED, at=at)
    with pytest.raises(Refused) as refusal:
        inspecting.begin_inspection(stay.pk, by=intake, at=at)
    assert refusal.value.code == "not_here"


def test_sales_staff_do_not_inspect(sales: Actor, at: datetime) -> None:
    stay = build.consignment(State.ON_LOT, at=at)
    with pytest.raises(NotAllowed):
        inspecting.begin_inspection(stay.pk, by=sales, at=at)


def test_lots_own_weights_stay_when_the_catalogue_grows(intake: Actor, at: datetime) -> None:
    """A policy from before, with one weight the lot set itself and a check that is no longer asked."""
    own = {**scores.FIRST_POLICY, "checks": {"front.hood": 9, "front.overall": 7}}
    ScorePolicy.objects.create(number=4, weights=own, by="owner", at=at)
    renewed = inspecting.current_policy(by=intake, at=at)
    assert renewed.number == 5
    assert renewed.weights["checks"]["front.hood"] == 9
    assert set(renewed.weights["checks"]) == set(CHECKS)
    assert inspecting.current_policy(by=intake, at=at).number == 5


def test_station_at_once_takes_all_or_nothing(intake: Actor, at: datetime) -> None:
    stay = build.consignment(State.ON_LOT, at=at)
    inspecting.begin_inspection(stay.pk, by=intake, at=at)
    bad = Finding(check_code="front.lamps", grade=9, basis="seen")
    with pytest.raises(Refused):
        inspecting.record_station(stay.pk, station="front", findings=[FRONT, bad], by=intake, at=at)
    assert not CheckResult.objects.exists()


@pytest.mark.parametrize(
    ("station", "findings", "code"),
    [
        ("roof", [FRONT], "no_such_station"), ("roof", [], "no_such_station"), ("rear", [FRONT], "other_station"),
        ("front", [FRONT, replace(FRONT, grade=1)], "said_twice"),
        ("front", [FRONT, replace(FRONT, check_code="front.nose")], "no_such_check"),
        ("front", [replace(FRONT, compared_with=Decimal(1))], "nothing_compared"),
    ],
)  # fmt: skip
def test_station_is_told_of_its_own_checks_and_each_once(
    intake: Actor, at: datetime, station: str, findings: list[Finding], code: str
) -> None:
    stay = build.consignment(State.ON_LOT, at=at)
    inspecting.begin_inspection(stay.pk, by=intake, at=at)
    with pytest.raises(Refused) as refusal:
        inspecting.record_station(stay.pk, station=station, findings=findings, rest="no_fault", by=intake, at=at)
    assert refusal.value.code == code
    assert not CheckResult.objects.exists()


def test_road_test_is_not_driven_by_the_name_of_another_station(intake: Actor, at: datetime) -> None:
    stay = build.consignment(State.ON_LOT, at=at)
    inspecting.begin_inspection(stay.pk, by=intake, at=at)
    loose = Finding(check_code="tyres.nuts", grade=0, basis="seen")
    inspecting.record_check(stay.pk, finding=loose, by=intake, at=at)
    drive = Finding(check_code=ROAD_CHECK, grade=4, basis="seen")
    with pytest.raises(Refused) as refusal:
        inspecting.record_station(stay.pk, station="front", findings=[drive], by=intake, at=at)
    assert refusal.value.code == "other_station"


def test_figure_that_is_none_is_told_by_check_and_field(intake: Actor, at: datetime) -> None:
    stay = build.consignment(State.ON_LOT, at=at)
    inspecting.begin_inspection(stay.pk, by=intake, at=at)
    disc = Finding(
        check_code="underside.discs", grade=3, basis="measured", reading=Decimal(1), compared_with=Decimal(0)
    )
    with pytest.raises(Refused, match=CHECKS["underside.discs"].wording) as refusal:
        inspecting.record_check(stay.pk, finding=disc, by=intake, at=at)
    assert (refusal.value.field, refusal.value.got) == ("compared_with", "0")


@pytest.mark.parametrize(("name", "given"), [("feature", {"feature": "wings", "present": True}),
                                             ("visit", {"station": "roof", "engine": "cold"})])  # fmt: skip
def test_unknown_feature_and_station_are_refused(intake: Actor, at: datetime, name: str, given: dict[str, Any]) -> None:
    stay = build.consignment(State.ON_LOT, at=at)
    inspecting.begin_inspection(stay.pk, by=intake, at=at)
    with pytest.raises(Refused) as refusal:
        getattr(inspecting, f"record_{name}")(stay.pk, **given, by=intake, at=at)
    assert refusal.value.field in {"feature", "station"}


def test_feature_and_visit_sent_twice_count_once(intake: Actor, at: datetime) -> None:
    stay = build.consignment(State.ON_LOT, at=at)
    inspecting.begin_inspection(stay.pk, by=intake, at=at)
    said = {"by": intake, "at": at}
    for _ in range(2):
        inspecting.record_feature(stay.pk, feature="soft_top", present=True, client_key=uuid.UUID(int=7), **said)
        inspecting.record_visit(stay.pk, station="front", engine="off", client_key=uuid.UUID(int=8), **said)
    assert (VehicleFeature.objects.count(), StationVisit.objects.count()) == (1, 1)


def test_flag_is_cleared_once_by_the_owner_with_a_reason(owner: Actor, intake: Actor, at: datetime) -> None:
    stay = build.consignment(State.ON_LOT, at=at)
    inspecting.begin_inspection(stay.pk, by=intake, at=at)
    sound = inspecting.record_check(stay.pk, finding=FRONT, by=intake, at=at)
    bad = Finding(check_code="tyres.nuts", grade=0, basis="seen")
    loose = inspecting.record_check(stay.pk, finding=bad, by=intake, at=at)
    key = f"check-{loose.pk}"
    with pytest.raises(NotFound):
        inspecting.clear_flag(stay.pk, key=f"check-{sound.pk}", reason="why", by=owner, at=at)
    with pytest.raises(Refused) as refusal:
        inspecting.clear_flag(stay.pk, key=key, reason=" ", by=owner, at=at)
    assert refusal.value.code == "no_reason"
    with pytest.raises(NotAllowed):
        inspecting.clear_flag(stay.pk, key=key, reason="tightened", by=intake, at=at)
    rows = [inspecting.clear_flag(stay.pk, key=key, reason="tightened", by=owner, at=at) for _ in range(2)]
    assert rows[0].pk == rows[1].pk


def test_figure_that_stops_drives_is_a_flag_like_any_other(owner: Actor, intake: Actor, at: datetime) -> None:
    """Two sizes on one axle: 49 CFR 570.9(b)."""
    stay = build.consignment(State.ON_LOT, at=at)
    inspecting.begin_inspection(stay.pk, by=intake, at=at)
    for position, size in (("left_rear", "P205/75R15"), ("right_rear", "P235/75R15")):
        measured = figures.Measured(figures={"size": size}, basis="seen")
        figures.record_tyre(stay.pk, position=position, measured=measured, by=intake, at=at)
    (line,) = drives_stopped(stay, today=at.date())
    assert "570.9(b)" in line.section
    drive = Finding(check_code="road_test.stop", grade=4, basis="seen")
    with pytest.raises(Refused) as refusal:
        inspecting.record_check(stay.pk, finding=replace(drive, check_code=ROAD_CHECK), by=intake, at=at)
    assert refusal.value.code == "flag_open"
    inspecting.clear_flag(stay.pk, key=line.key, reason="axle refitted, seen on the lift", by=owner, at=at)
    assert inspecting.record_check(stay.pk, finding=replace(drive, check_code=ROAD_CHECK), by=intake, at=at).grade == 4


def test_walk_begun_before_the_catalogue_grew_can_be_finished(intake: Actor, at: datetime) -> None:
    """Its policy knows one check a station; it is finished with the weights of today, and keeps what was graded."""
    stay = build.consignment(State.ON_LOT, at=at)
    earlier = {"checks": {"front.overall": 7}, "components": {"engine": 1}, "standings": {}, "slack": {}}
    policy = ScorePolicy.objects.create(number=1, weights=earlier, by="x", at=at)
    row = IntakeInspection.objects.create(consignment=stay, number=1, policy=policy, begun_at=at, begun_by="x")
    CheckResult.objects.create(
        inspection=row, check_code="front.overall", verdict="graded", grade=2, basis="seen", by="x", at=at
    )
    assert walk_of(stay, today=at.date()).condition is None
    inspecting.record_check(stay.pk, finding=FRONT, by=intake, at=at)
    finished = inspecting.finish_inspection(stay.pk, by=intake, at=at)
    assert finished.policy.number == 2
    assert finished.condition_low == Decimal("0.7")
