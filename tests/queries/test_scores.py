"""Figures opened up: frozen ones come out as they were frozen, and the ledger is that of the time."""

from datetime import datetime, timedelta
from decimal import Decimal

import pytest

from inventory.actions import inspecting, recording
from inventory.actions.inspecting import Finding
from inventory.models import Consignment, IntakeInspection, ScorePolicy
from inventory.queries.ledger import ledger_of, ledgers_of
from inventory.queries.policy import weighed_stock
from inventory.queries.scores import score_page, stored_of, weighed_of
from inventory.rules.catalogue import Feature
from inventory.rules.roles import Actor
from inventory.rules.scores import FIRST_POLICY, Interval
from inventory.rules.states import State
from tests import build

pytestmark = pytest.mark.django_db
LATER = timedelta(days=1)
HEADS = {
    "kind": "engine",
    "what": "larger valves",
    "fitting": "cut_or_welded",
    "basis": "seen",
    "components": ["heads"],
}


@pytest.fixture
def stay(at: datetime) -> Consignment:
    return build.consignment(State.ON_LOT, at=at)


def say(stay: Consignment, *, at: datetime, **has: bool) -> None:
    for feature, present in has.items():
        inspecting.record_feature(stay.pk, feature=feature, present=present, by=build.BUILDER, at=at)


def frozen(inspection: IntakeInspection) -> list[Interval | None]:
    return [stored_of(inspection, figure=figure) for figure in ("condition", "originality")]


def anew(inspection: IntakeInspection) -> list[Interval | None]:
    weighed = weighed_of(IntakeInspection.objects.select_related("policy").get(pk=inspection.pk))
    return [weighed.interval(figure) for figure in ("condition", "originality")]


def test_frozen_figures_come_out_as_they_were_frozen_whatever_is_learned_later(
    stay: Consignment, intake: Actor, at: datetime
) -> None:
    say(stay, at=at, four_wheel_drive=False, pickup_bed=False)
    inspecting.begin_inspection(stay.pk, by=intake, at=at)
    for code, grade, basis in (("front.hood", 3, "seen"), ("left_side.rocker", 1, "seen"), ("front.cowl", 4, "told")):
        finding = Finding(check_code=code, grade=grade, basis=basis)
        inspecting.record_check(stay.pk, finding=finding, by=intake, at=at)
    build.write_line(stay, at=at)
    recording.add_modification(stay.pk, **HEADS, by=intake, at=at)
    walk = inspecting.finish_inspection(stay.pk, by=intake, at=at)
    before = frozen(walk)
    build.write_line(stay, at=at + LATER, standing="missing")
    build.write_line(stay, at=at + LATER, component="hood", standing="missing")
    recording.add_modification(stay.pk, **{**HEADS, "components": ["frame"]}, by=intake, at=at + LATER)
    say(stay, at=at + LATER, four_wheel_drive=True, soft_top=False, removable_top=False, pickup_bed=True)
    own = {**FIRST_POLICY, "checks": dict.fromkeys(FIRST_POLICY["checks"], 1)}
    ScorePolicy.objects.create(number=2, weights=own, by="owner", at=at + LATER)
    assert anew(walk) == before == frozen(IntakeInspection.objects.get(pk=walk.pk))
    assert None not in before
    # the cap of the rocker holds the high end, as it did
    assert before[0] is not None
    assert before[0].high == Decimal("55.0")
    # and the ledger of now is another one
    assert ledger_of(stay.vehicle_id).originality(policy=FIRST_POLICY) != before[1]


def test_inspection_finished_before_its_checks_were_written_down_weighs_all_of_its_policy(
    stay: Consignment, intake: Actor, at: datetime
) -> None:
    """Its weights named one check a station, nothing of what carries, of modifications or of what was lacking."""
    earlier = {"checks": {"front.overall": 3, "rear.overall": 1}, "components": {"engine": 1, "outer_panels": 1},
               "standings": FIRST_POLICY["standings"], "slack": FIRST_POLICY["slack"]}  # fmt: skip
    policy = ScorePolicy.objects.create(number=1, weights=earlier, by="owner", at=at)
    walk = IntakeInspection.objects.create(
        consignment=stay, number=1, policy=policy, begun_at=at, begun_by="owner", finished_at=at, finished_by="owner",
        condition_low=Decimal("56.3"), condition_high=Decimal("81.3"),
        originality_low=Decimal("50.0"), originality_high=Decimal("100.0"),
    )  # fmt: skip
    walk.results.create(check_code="front.overall", verdict="graded", grade=3, basis="seen", by="owner", at=at)
    build.write_line(stay, at=at)
    assert anew(walk) == frozen(walk)
    page = score_page(stay, figure="condition")
    assert [(seen.title, seen.place, seen.station) for seen in page.lines] == [
        ("Rear: overall", "Rear", ""), ("Front: overall", "Front", ""),
    ]  # fmt: skip
    assert not page.differs


def test_open_inspection_counts_before_the_finished_one(stay: Consignment, intake: Actor, at: datetime) -> None:
    assert score_page(stay, figure="condition").inspection is None
    build.inspect(stay, at=at)
    assert score_page(stay, figure="condition").inspection == IntakeInspection.objects.get(number=1)
    second = inspecting.begin_inspection(stay.pk, by=intake, at=at + LATER)
    page = score_page(stay, figure="condition")
    assert (page.inspection, page.is_open, page.opened) == (second, True, None)
    assert score_page(stay, figure="originality").opened is not None
    first = score_page(stay, figure="condition", number="1")
    assert first.opened is not None
    assert first.opened.interval == first.stored


def test_widest_line_comes_first_and_walking_order_is_the_other(stay: Consignment, at: datetime) -> None:
    build.inspect(stay, at=at)
    widths = [seen.line.width for seen in score_page(stay, figure="condition").lines]
    assert widths == sorted(widths, reverse=True)
    assert widths[0] > widths[-1] == 0
    codes = [seen.line.code for seen in score_page(stay, figure="condition", order="station").lines]
    assert codes == list(FIRST_POLICY["checks"])


@pytest.mark.parametrize(
    ("has", "gone"),
    [
        ({"four_wheel_drive": False}, {"transfer_case"}),
        ({"four_wheel_drive": True}, set()),
        ({}, set()),
        ({"soft_top": False}, set()),
        ({"soft_top": False, "removable_top": True}, set()),
        ({"soft_top": False, "removable_top": False}, {"top"}),
    ],
)
def test_what_the_vehicle_has_no_place_for_leaves_the_weighing(
    stay: Consignment, at: datetime, has: dict[str, bool], gone: set[str]
) -> None:
    say(stay, at=at, **has)
    build.write_line(stay, at=at)
    ledger = ledger_of(stay.vehicle_id)
    opened = ledger.opened(policy=FIRST_POLICY)
    assert set(ledger.never_had(policy=FIRST_POLICY)) == gone
    assert opened is not None
    assert set(FIRST_POLICY["components"]) - {line.code for line in opened.lines} == gone
    assert opened.weight == 100 - sum(FIRST_POLICY["components"][code] for code in gone)
    assert not ledger_of(stay.vehicle_id).never_had(policy={**FIRST_POLICY, "lacking": {}})


def test_line_or_modification_of_what_should_not_be_there_is_weighed(
    stay: Consignment, intake: Actor, at: datetime
) -> None:
    say(stay, at=at, four_wheel_drive=False, soft_top=False, removable_top=False)
    assert set(ledger_of(stay.vehicle_id).never_had(policy=FIRST_POLICY)) == {"transfer_case", "top"}
    build.write_line(stay, at=at, component="transfer_case", standing="non_original")
    recording.add_modification(stay.pk, **{**HEADS, "components": ["top"]}, by=intake, at=at)
    assert not ledger_of(stay.vehicle_id).never_had(policy=FIRST_POLICY)
    build.write_line(stay, at=at, component="transfer_case", standing="not_established", not_fitted=True)
    assert ledger_of(stay.vehicle_id).never_had(policy=FIRST_POLICY) == {"transfer_case": "never had one"}


def test_what_was_said_last_of_a_feature_counts(stay: Consignment, at: datetime) -> None:
    say(stay, at=at, four_wheel_drive=False)
    say(stay, at=at + LATER, four_wheel_drive=True)
    assert not ledger_of(stay.vehicle_id).never_had(policy=FIRST_POLICY)
    assert ledger_of(stay.vehicle_id, until=at).lacks == {Feature.FOUR_WHEEL_DRIVE}


def test_whole_stock_at_once_is_weighed_as_each_by_itself(intake: Actor, at: datetime) -> None:
    stays = [build.consignment(State.ON_LOT, at=at) for _ in range(3)]
    for place, stay in enumerate(stays):
        say(stay, at=at, four_wheel_drive=bool(place), soft_top=False)
        build.inspect(stay, at=at, grade=place + 1, seen=place + 2)
        recording.add_modification(stay.pk, **HEADS, by=intake, at=at + LATER * place)
        build.write_line(stay, at=at + LATER, component="hood", standing="missing")
    inspecting.begin_inspection(stays[0].pk, by=intake, at=at + LATER)
    found = weighed_stock()
    assert len(found) == 3
    for one in found:
        alone = weighed_of(IntakeInspection.objects.get(pk=one.inspection.pk))
        assert (one.inspection.is_open, one.asked, one.found) == (alone.inspection.is_open, alone.asked, alone.found)
        assert [one.interval(name) for name in ("condition", "originality")] == anew(one.inspection)


def test_stock_that_left_or_was_never_inspected_is_not_in_it(at: datetime) -> None:
    build.consignment(State.ON_LOT, at=at)
    build.consignment(State.RELEASED, at=at)
    here = build.consignment(State.LISTED, at=at)
    gone = build.consignment(State.INSPECTED, at=at)
    build.step_to(State.WITHDRAWN, gone, at=at, price=Decimal(1))
    build.step_to(State.RELEASED, gone, at=at, price=Decimal(1))
    assert [one.inspection.consignment_id for one in weighed_stock()] == [here.pk]


def test_many_ledgers_are_each_that_of_its_moment(stay: Consignment, at: datetime) -> None:
    build.write_line(stay, at=at)
    build.write_line(stay, at=at + LATER, standing="missing")
    vehicles = Consignment.objects.values("vehicle")
    found = ledgers_of({1: (stay.vehicle_id, at), 2: (stay.vehicle_id, None)}, vehicles=vehicles)
    assert [found[key].records["engine"].standing for key in (1, 2)] == ["original", "missing"]
