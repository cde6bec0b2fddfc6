"""The walk: graded, graded again, finished and frozen."""

import uuid
from datetime import datetime
from decimal import Decimal

import pytest

from inventory.actions import inspecting
from inventory.actions.inspecting import Finding
from inventory.errors import NotAllowed, Refused
from inventory.models import CheckResult, ScorePolicy
from inventory.rules.roles import Actor
from inventory.rules.states import State
from tests import build

pytestmark = pytest.mark.django_db
FRONT = Finding(check_code="front.overall", grade=3, basis="seen")


def test_walk_ends_in_intervals_and_moves_the_vehicle(intake: Actor, at: datetime) -> None:
    stay = build.consignment(State.ON_LOT, at=at)
    inspecting.begin_inspection(stay.pk, by=intake, at=at)
    inspecting.record_check(stay.pk, finding=FRONT, by=intake, at=at)
    walk = inspecting.finish_inspection(stay.pk, by=intake, at=at)
    stay.refresh_from_db()
    assert stay.state == State.INSPECTED
    # One station of weight 7 in 100 seen at grade 3: 7 × 0.75 = 5.25, half-up 5.3; the rest may be anything.
    assert (walk.condition_low, walk.condition_high) == (Decimal("5.3"), Decimal("98.3"))
    assert walk.originality_low is None


def test_latest_grade_counts_and_the_earlier_stays(intake: Actor, at: datetime) -> None:
    stay = build.consignment(State.ON_LOT, at=at)
    inspecting.begin_inspection(stay.pk, by=intake, at=at)
    for grade in (4, 1):
        inspecting.record_check(
            stay.pk, finding=Finding(check_code="front.overall", grade=grade, basis="seen"), by=intake, at=at
        )
    assert CheckResult.objects.count() == 2
    assert inspecting.finish_inspection(stay.pk, by=intake, at=at).condition_low == Decimal("1.8")


def test_check_sent_twice_counts_once(intake: Actor, at: datetime) -> None:
    stay = build.consignment(State.ON_LOT, at=at)
    inspecting.begin_inspection(stay.pk, by=intake, at=at)
    finding = Finding(
        check_code="tyres.overall", grade=2, basis="measured", reading=Decimal("5"), client_key=uuid.UUID(int=1)
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
        (Finding(check_code="nose.overall", grade=3, basis="seen"), "check_code"),
        (Finding(check_code="front.overall", grade=7, basis="seen"), "grade"),
        (Finding(check_code="front.overall", basis="seen"), ""),
        (Finding(check_code="front.overall", grade=3, basis="felt"), "basis"),
    ],
)
def test_impossible_finding_is_refused(intake: Actor, at: datetime, finding: Finding, field: str) -> None:
    stay = build.consignment(State.ON_LOT, at=at)
    inspecting.begin_inspection(stay.pk, by=intake, at=at)
    with pytest.raises(Refused) as refusal:
        inspecting.record_check(stay.pk, finding=finding, by=intake, at=at)
    assert refusal.value.field == field
    assert not CheckResult.objects.exists()


def test_unknown_component_is_refused(intake: Actor, at: datetime) -> None:
    stay = build.consignment(State.ON_LOT, at=at)
    with pytest.raises(Refused, match="no component"):
        inspecting.record_component(stay.pk, component="wings", standing="original", basis="seen", by=intake, at=at)


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
