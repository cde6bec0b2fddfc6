"""A figure opened up, and two inspections side by side."""

from datetime import datetime, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from inventory.actions import inspecting, releasing, selling
from inventory.actions.inspecting import Finding
from inventory.models import Consignment, IntakeInspection
from inventory.rules.roles import Actor
from inventory.rules.states import State
from tests import build
from tests.pages.browse import sign_in, text_of, url

pytestmark = pytest.mark.django_db
LATER = timedelta(days=1)


@pytest.fixture
def stay(at: datetime) -> Consignment:
    return build.consignment(State.ON_LOT, at=at)


def grade(stay: Consignment, *, at: datetime, code: str, to: int | None, **more: object) -> None:
    said = {"verdict": "not_seen", "basis": "not_established"} if to is None else {"grade": to, "basis": "seen"}
    finding = Finding(check_code=code, **{**said, **more})  # type: ignore[arg-type]
    inspecting.record_check(stay.pk, finding=finding, by=build.BUILDER, at=at)


def walked(stay: Consignment, *, at: datetime, **grades: int | None) -> IntakeInspection:
    inspecting.begin_inspection(stay.pk, by=build.BUILDER, at=at)
    for code, to in grades.items():
        grade(stay, at=at, code=code.replace("__", "."), to=to)
    return inspecting.finish_inspection(stay.pk, by=build.BUILDER, at=at)


def opened(client: Client, stay: Consignment, figure: str = "condition", **asked: str) -> str:
    return text_of(client.get(url(stay, "score", figure=figure), asked))


def test_condition_is_opened_up_line_by_line(client: Client, sales: Actor, stay: Consignment, at: datetime) -> None:
    walk = walked(stay, at=at, front__hood=3, left_side__rocker=1)
    page = opened(sign_in(client, sales), stay)
    assert "Inspection 1, finished 2026-03-16 by tests: frozen, with the ledger as it stood then." in page
    # 4 × 75 + 9 × 25 = 525; with 447 × 100 more at the high end; over 460
    assert "525 ÷ 460 = 1.1" in page
    assert "45225 ÷ 460 = 98.3, held at 55.0" in page
    assert "Left rocker: rust, patches, dents, jacking points" in page
    assert "graded 1, needs repair (seen)" in page
    assert "The high end is held at 55 at most, since “Left rocker" in page
    assert f"{walk.condition_low} to {walk.condition_high} <small>of 100" in page
    assert "The figure that was frozen" not in page
    assert f"/vehicles/{stay.stock_number}/inspection/" not in page.partition("opened up</h2>")[2]


def test_low_end_of_a_structure_nobody_saw_is_held_in_words(
    client: Client, owner: Actor, stay: Consignment, at: datetime
) -> None:
    inspecting.begin_inspection(stay.pk, by=build.BUILDER, at=at)
    for code in inspecting.asked_codes(has=(), lacks=()) - {"left_side.rocker"}:
        grade(stay, at=at, code=code, to=4)
    page = opened(sign_in(client, owner), stay)
    assert "The low end is held at 35 at most, since “Left rocker" in page
    assert "carries the vehicle and was not looked at, so it may be as bad as grade 0." in page


def test_lines_lead_to_where_they_are_answered_while_the_inspection_is_open(
    client: Client, intake: Actor, sales: Actor, stay: Consignment, at: datetime
) -> None:
    inspecting.begin_inspection(stay.pk, by=intake, at=at)
    grade(stay, at=at, code="front.hood", to=3)
    build.write_line(stay, at=at)
    page = opened(sign_in(client, intake), stay)
    assert f'href="{url(stay, "station", station="front")}#front.hood"' in page
    assert f'href="{url(stay, "ledger_line", component="engine")}"' in opened(client, stay, "originality")
    assert url(stay, "station", station="front") not in opened(sign_in(client, sales), stay)


def test_originality_names_standing_change_and_what_is_not_weighed(
    client: Client, owner: Actor, stay: Consignment, at: datetime
) -> None:
    build.recording.add_modification(
        stay.pk, kind="engine", what="larger valves", fitting="cut_or_welded", basis="told", components=["heads"],
        by=owner, at=at,
    )  # fmt: skip
    build.write_line(stay, at=at, component="top", standing="not_established", not_fitted=True)
    inspecting.begin_inspection(stay.pk, by=owner, at=at)
    inspecting.record_feature(stay.pk, feature="four_wheel_drive", present=False, by=owner, at=at)
    page = opened(sign_in(client, owner), stay, "originality")
    assert "changed: larger valves, cut or welded (told by the consignor)" in page
    assert "Top: never had one" in page
    assert "Transfer case: the vehicle has no four-wheel drive" in page
    assert "÷ 97 =" in page


def test_figure_that_is_not_known_says_why(client: Client, owner: Actor, stay: Consignment, at: datetime) -> None:
    sign_in(client, owner)
    assert "No inspection has begun yet" in opened(client, stay)
    inspecting.begin_inspection(stay.pk, by=owner, at=at)
    assert "Nothing is graded yet" in opened(client, stay)
    assert "No component is established yet" in opened(client, stay, "originality")


def test_check_that_is_no_fault_is_told_as_not_weighed(
    client: Client, owner: Actor, stay: Consignment, at: datetime
) -> None:
    inspecting.begin_inspection(stay.pk, by=owner, at=at)
    grade(stay, at=at, code="front.hood", to=3)
    grade(stay, at=at, code="front.lamps", to=None, verdict="deleted", basis="seen")
    page = opened(sign_in(client, owner), stay)
    assert "Headlamps, parking lamps, turn signals: all work: deleted on purpose" in page


@pytest.mark.parametrize(("figure", "number"), [("beauty", ""), ("condition", "7"), ("condition", "one"),
                                                ("condition", "9" * 30)])  # fmt: skip
def test_figure_and_number_that_are_not_there_are_not_found(
    client: Client, owner: Actor, stay: Consignment, figure: str, number: str
) -> None:
    answer = sign_in(client, owner).get(url(stay, "score", figure=figure), {"number": number})
    assert answer.status_code == 404


def test_frozen_figure_stands_where_it_comes_out_otherwise(
    client: Client, owner: Actor, stay: Consignment, at: datetime
) -> None:
    """A line written in the very moment of the finish, after it: the page says so and changes nothing."""
    build.write_line(stay, at=at)
    walk = walked(stay, at=at, front__hood=3)
    build.write_line(stay, at=at, standing="missing")
    page = opened(sign_in(client, owner), stay, "originality")
    assert f"The figure that was frozen is {walk.originality_low} to {walk.originality_high}, and it stands." in page


def test_figures_of_file_and_walk_lead_to_their_lines(
    client: Client, owner: Actor, stay: Consignment, at: datetime
) -> None:
    build.inspect(stay, at=at)
    page = text_of(sign_in(client, owner).get(url(stay, "vehicle_file")))
    assert f'href="{url(stay, "score", figure="condition")}?number=1"' in page
    assert f'href="{url(stay, "score", figure="originality")}?number=1"' in page
    assert "All inspections of this vehicle" not in page
    inspecting.begin_inspection(stay.pk, by=owner, at=at + LATER)
    grade(stay, at=at + LATER, code="front.hood", to=3)
    page = text_of(client.get(url(stay, "walk")))
    assert f'href="{url(stay, "score", figure="condition")}"' in page
    page = text_of(client.get(url(stay, "vehicle_file")))
    assert "All inspections of this vehicle" in page
    assert "open since 2026-03-17" in page
    assert url(stay, "compare") not in page


def test_two_inspections_are_compared_check_by_check(
    client: Client, sales: Actor, stay: Consignment, at: datetime
) -> None:
    first = walked(stay, at=at, front__hood=3, front__lamps=2, front__cowl=4, front__paint=3)
    second = walked(stay, at=at + LATER, front__hood=1, front__lamps=4, front__cowl=None, front__support=3,
                    front__paint=3)  # fmt: skip
    page = text_of(sign_in(client, sales).get(url(stay, "vehicle_file")))
    assert f'href="{url(stay, "compare")}"' in page
    page = text_of(client.get(url(stay, "compare"), {"a": "1", "b": "2"}))
    turns = {"Worse <small>1<": "Hood: gaps", "Better <small>1<": "Headlamps", "Newly seen <small>1<": "Radiator",
             "No longer seen <small>1<": "Cowl and base"}  # fmt: skip
    for head, wording in turns.items():
        assert page.index(head) < page.index(wording, page.index(head)) < page.index(head) + 500
    assert "Paint of the nose" not in page
    for walk in (first, second):
        assert f"{walk.condition_low} to {walk.condition_high}" in page
    body = page.partition("Two inspections compared")[2]
    for asked in ({}, {"a": "2", "b": "1"}):
        assert text_of(client.get(url(stay, "compare"), asked)).partition("Two inspections compared")[2] == body


def test_inspections_of_two_stays_of_one_vehicle_are_compared(client: Client, owner: Actor, at: datetime) -> None:
    old = build.consignment(State.ON_LOT, at=at, vin="8A17J104221")
    walked(old, at=at, front__hood=4)
    selling.withdraw(old.pk, reason="changed_mind", by=owner, at=at)
    releasing.release(old.pk, signed_for_by="Ada Fenwick", by=owner, at=at)
    new = build.consignment(State.ON_LOT, at=at + LATER, vin="8A17J104221")
    assert new.vehicle_id == old.vehicle_id
    walked(new, at=at + LATER, front__hood=2)
    asked = {"a": f"{old.stock_number}.1", "b": "1"}
    page = text_of(sign_in(client, owner).get(url(new, "compare"), asked))
    assert "Worse <small>1<" in page
    assert f"of {old.stock_number}" in text_of(client.get(url(new, "vehicle_file")))


def test_reading_and_weights_that_changed_are_told(
    client: Client, owner: Actor, stay: Consignment, at: datetime
) -> None:
    for number, reading in enumerate(("5", "4")):
        inspecting.begin_inspection(stay.pk, by=owner, at=at + LATER * number)
        grade(stay, at=at + LATER * number, code="tyres.tread_left_rear", to=3, basis="measured",
              reading=Decimal(reading))  # fmt: skip
        inspecting.finish_inspection(stay.pk, by=owner, at=at + LATER * number)
        weights = build.inspecting.scores.renewed({"checks": {"front.hood": 9}})
        if not number:
            build.inspecting.ScorePolicy.objects.create(number=2, weights=weights, by="owner", at=at)
    page = text_of(sign_in(client, owner).get(url(stay, "compare")))
    assert "Read otherwise <small>1<" in page
    assert "5 32nds of an inch" in page
    assert "4 32nds of an inch" in page
    assert "The first was weighed by version 1 of the weights, the second by version 2" in page


def test_one_inspection_is_nothing_to_compare(client: Client, owner: Actor, stay: Consignment, at: datetime) -> None:
    sign_in(client, owner)
    assert "has no finished inspection" in text_of(client.get(url(stay, "compare")))
    build.inspect(stay, at=at)
    assert "has one finished inspection" in text_of(client.get(url(stay, "compare")))
    build.inspect(stay, at=at + LATER)
    for name in ("9", "26-9999.1", "x", "."):
        assert client.get(url(stay, "compare"), {"a": name}).status_code == 404


def test_pages_take_as_many_queries_however_much_was_found(
    client: Client, owner: Actor, stay: Consignment, at: datetime
) -> None:
    sign_in(client, owner)
    counts = []
    for seen in (3, 25):
        for number in range(2):
            build.inspect(stay, at=at + LATER * number, seen=seen, grade=number + 2)
        found = []
        for name, more in (("score", {"figure": "condition"}), ("score", {"figure": "originality"}), ("compare", {}),
                           ("vehicle_file", {})):  # fmt: skip
            with CaptureQueriesContext(connection) as captured:
                assert client.get(url(stay, name, **more)).status_code == 200
            found.append(len(captured))
        counts.append(found)
    assert counts[0] == counts[1]
