"""The intake walk, station by station."""

import re
from datetime import datetime
from decimal import Decimal
from itertools import pairwise
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from inventory.actions import inspecting
from inventory.actions.inspecting import Finding
from inventory.models import (
    CheckResult,
    Consignment,
    FlagClearance,
    IntakeInspection,
    StationVisit,
    VehicleFeature,
)
from inventory.queries.flags import drives_stopped
from inventory.rules.catalogue import STATION, STATIONS, Feature, asked_codes
from inventory.rules.roles import Actor
from inventory.rules.states import State
from tests import build
from tests.pages.browse import sign_in, text_of, url

pytestmark = pytest.mark.django_db
TREAD = "tyres.tread_left_front"


@pytest.fixture
def stay(at: datetime) -> Consignment:
    return build.consignment(at=at)


@pytest.fixture
def walking(client: Client, intake: Actor, stay: Consignment) -> Client:
    """Intake staff, signed in, with the walk of `stay` begun."""
    sign_in(client, intake).post(url(stay, "begin_walk"))
    return client


def grade(client: Client, stay: Consignment, check: str, **given: str) -> Any:
    """Answer one check on its station's page; `rest` and `engine` belong to the station as a whole."""
    whole = {name: given.pop(name) for name in ("rest", "engine") if name in given}
    sent = {f"{check}-{name}": value for name, value in given.items()}
    return client.post(url(stay, "station", station=check.split(".")[0]), sent | whole)


def latest(code: str) -> CheckResult:
    return CheckResult.objects.filter(check_code=code).order_by("-pk")[0]


def test_walk_begins_and_lists_the_stations_in_walking_order(walking: Client, stay: Consignment) -> None:
    page = text_of(walking.get(url(stay, "walk")))
    places = [page.index(f"{number}. {station.title}") for number, station in enumerate(STATIONS, 1)]
    assert places == sorted(places)
    assert f"0 of 12 stations answered, 0 of {len(asked_codes(has=(), lacks=()))} checks" in page
    assert page.count("not looked at") == len(STATIONS)


def test_beginning_twice_is_one_walk(walking: Client, stay: Consignment) -> None:
    walking.post(url(stay, "begin_walk"))
    assert IntakeInspection.objects.count() == 1


def test_saved_station_leads_to_the_next_and_the_last_to_the_overview(walking: Client, stay: Consignment) -> None:
    for here, after in pairwise(STATIONS):
        response = grade(walking, stay, here.checks[0].code, answer="3")
        assert response["Location"] == url(stay, "station", station=after.code)
    assert grade(walking, stay, "road_test.stop", rest="no_fault")["Location"] == url(
        stay, "station", station="road_test"
    )
    assert grade(walking, stay, STATIONS[-1].checks[0].code, answer="4")["Location"] == url(stay, "walk")


def test_overview_says_where_somebody_was_last_and_goes_on_there(walking: Client, stay: Consignment) -> None:
    grade(walking, stay, "glass.windshield", answer="3")
    page = text_of(walking.get(url(stay, "walk")))
    assert "Go on: Glass and brightwork" in page
    assert "1 of 8" in page


def test_grade_basis_reading_and_note_are_kept(walking: Client, stay: Consignment) -> None:
    grade(walking, stay, TREAD, answer="1", reading="2.5", note="inner edge")
    row = latest(TREAD)
    assert (row.verdict, row.grade, row.basis, row.note) == ("graded", 1, "measured", "inner edge")
    assert (row.reading, row.unit) == (Decimal("2.500"), "32nds of an inch")
    page = walking.get(url(stay, "station", station="tyres")).content.decode()
    assert re.search(rf'name="{TREAD}-answer" value="1"[^>]* checked', page)
    assert 'value="2.5"' in page


@pytest.mark.parametrize(("typed", "shown"), [("10", "10"), ("0", "0"), ("2.50", "2.5"), ("0.125", "0.125")])
def test_reading_is_shown_as_it_was_typed(walking: Client, stay: Consignment, typed: str, shown: str) -> None:
    grade(walking, stay, TREAD, answer="3", reading=typed)
    assert f'value="{shown}"' in walking.get(url(stay, "station", station="tyres")).content.decode()


@pytest.mark.parametrize("answer", ["not_seen", "deleted", "not_fitted"])
def test_no_grade_is_an_answer_of_its_own(walking: Client, stay: Consignment, answer: str) -> None:
    grade(walking, stay, "glass.weatherstrip", answer=answer, basis="told")
    row = latest("glass.weatherstrip")
    assert (row.verdict, row.grade) == (answer, None)
    assert row.basis == ("not_established" if answer == "not_seen" else "told")


def test_station_sent_unchanged_writes_nothing(walking: Client, stay: Consignment) -> None:
    grade(walking, stay, "front.hood", answer="3", note="gap wide on the left")
    page = walking.get(url(stay, "station", station="front"))
    sent = {}
    for form in page.context["forms"]:
        for bound in form:
            value = "" if bound.value() is None else str(bound.value())
            sent |= {bound.html_name: value, bound.html_initial_name: value}
    assert walking.post(url(stay, "station", station="front"), sent).status_code == 302
    assert CheckResult.objects.count() == 1


def test_no_fault_here_grades_by_eye_what_is_left_and_nothing_else(walking: Client, stay: Consignment) -> None:
    grade(walking, stay, "front.hood", answer="1", note="latch loose")
    grade(walking, stay, "front.hood", rest="no_fault")
    found = {row.check_code: row for row in CheckResult.objects.filter(check_code__startswith="front.")}
    by_eye = {check.code for check in STATION["front"].checks if not check.unit}
    assert set(found) == by_eye
    assert found["front.hood"].grade == 1
    assert {(row.grade, row.basis) for code, row in found.items() if code != "front.hood"} == {(4, "seen")}


def test_same_on_the_other_side_repeats_only_what_was_seen_there(walking: Client, stay: Consignment) -> None:
    grade(walking, stay, "left_side.doors", answer="2")
    grade(walking, stay, "left_side.rocker", answer="3", basis="told")
    grade(walking, stay, "left_side.fender", answer="not_seen")
    grade(walking, stay, "right_side.doors", rest="other_side")
    right = CheckResult.objects.filter(check_code__startswith="right_side.")
    assert [(row.check_code, row.grade, row.basis) for row in right] == [("right_side.doors", 2, "seen")]


def test_not_seen_here_answers_what_is_left_and_is_no_pass(walking: Client, stay: Consignment) -> None:
    grade(walking, stay, "front.hood", answer="2")
    grade(walking, stay, "front.paint", rest="not_seen")
    found = {row.check_code: row for row in CheckResult.objects.all()}
    assert set(found) == {check.code for check in STATION["front"].checks}
    assert found.pop("front.hood").grade == 2
    assert {(row.verdict, row.grade, row.basis) for row in found.values()} == {("not_seen", None, "not_established")}


def test_not_seen_never_throws_a_typed_reading_away(walking: Client, stay: Consignment) -> None:
    response = grade(walking, stay, TREAD, reading="4", rest="not_seen")
    assert "Choose a grade" in " ".join(form_of(response, TREAD).errors["answer"])
    assert not CheckResult.objects.exists()


def test_station_with_every_answer_leads_on_from_its_head(walking: Client, stay: Consignment) -> None:
    ask = url(stay, "station", station="paperwork")
    assert "Every check here has an answer." not in text_of(walking.get(ask))
    page = text_of(grade(walking, stay, "paperwork.title", rest="no_fault").client.get(ask))
    after = url(stay, "station", station="front")
    assert f'Every check here has an answer. <a href="{after}">Next: Front</a>' in page


def test_everything_else_becomes_no_and_is_told_by_name(walking: Client, stay: Consignment) -> None:
    walking.post(url(stay, "features"), {"soft_top-present": "no"})
    given = {"trunk-present": "yes", "soft_top-present": "no", "initial-soft_top-present": "no", "rest": "no"}
    page = text_of(walking.post(url(stay, "features"), given, follow=True))
    said = {row.feature: row.present for row in VehicleFeature.objects.all()}
    assert said == {feature.value: feature == Feature.TRUNK for feature in Feature}
    assert VehicleFeature.objects.count() == len(Feature)  # what was answered before is not said again
    assert f"It has: {Feature.TRUNK.label}. It has not: {Feature.REMOVABLE_TOP.label}, " in page


def test_save_alone_leaves_what_is_not_known_open(walking: Client, stay: Consignment) -> None:
    page = text_of(walking.post(url(stay, "features"), {"trunk-present": "yes", "manual-present": ""}, follow=True))
    assert [(row.feature, row.present) for row in VehicleFeature.objects.all()] == [("trunk", True)]
    assert f"It has: {Feature.TRUNK.label}." in page
    assert "It has not" not in page
    same = {"trunk-present": "yes", "initial-trunk-present": "yes"}
    assert "Nothing was changed." in text_of(walking.post(url(stay, "features"), same, follow=True))
    assert VehicleFeature.objects.count() == 1


def test_question_that_does_not_apply_does_not_appear(walking: Client, stay: Consignment) -> None:
    before = text_of(walking.get(url(stay, "station", station="glass")))
    walking.post(url(stay, "features"), {"soft_top-present": "no", "removable_top-present": "no"})
    after = text_of(walking.get(url(stay, "station", station="glass")))
    assert "Soft top: cloth" in before
    assert "Soft top: cloth" not in after
    assert VehicleFeature.objects.count() == 2
    assert f"2 of {len(Feature)} questions about what it has" in text_of(walking.get(url(stay, "walk")))


def test_feature_once_said_is_not_taken_back_to_unknown(walking: Client, stay: Consignment) -> None:
    walking.post(url(stay, "features"), {"soft_top-present": "no"})
    sent = {"soft_top-present": "", "initial-soft_top-present": "no"}
    assert "say yes or no" in text_of(walking.post(url(stay, "features"), sent))
    assert VehicleFeature.objects.count() == 1


def test_visit_says_whether_the_engine_is_cold(walking: Client, stay: Consignment) -> None:
    grade(walking, stay, "engine_bay.fuel", answer="4", engine="cold")
    assert [(row.station, row.engine) for row in StationVisit.objects.all()] == [("engine_bay", "cold")]


@pytest.mark.parametrize(
    ("given", "field", "told"),
    [
        ({"note": "left rear"}, "answer", "Choose a grade, or say why there is none."),
        ({"answer": "5"}, "answer", "not one of the available choices"),
        ({"answer": "3", "reading": "-1"}, "", "Give a number, zero or more."),
        ({"answer": "3", "reading": "NaN"}, "reading", "Enter a number."),
        ({"answer": "3", "reading": "2.00001"}, "reading", "3 decimal places"),
        ({"answer": "not_seen", "reading": "4"}, "reading", "so it was seen"),
    ],
)
def test_bad_answer_is_told_on_its_field_and_writes_nothing(
    walking: Client, stay: Consignment, given: dict[str, str], field: str, told: str
) -> None:
    response = grade(walking, stay, TREAD, **{"note": "left rear", **given})
    assert told in text_of(response)
    if field:
        assert told in " ".join(form_of(response, TREAD).errors[field])
    assert "left rear" in text_of(response)
    assert not CheckResult.objects.exists()


def form_of(response: Any, code: str) -> Any:
    return next(form for form in response.context["forms"] if form.check.code == code)


def test_reading_beyond_its_limit_is_flagged_where_it_is_entered(walking: Client, stay: Consignment) -> None:
    """49 CFR 570.9(a): at least 2/32 in of tread."""
    grade(walking, stay, TREAD, answer="1", reading="1.5")
    page = text_of(walking.get(url(stay, "station", station="tyres")))
    assert "Safety flag." in page
    assert "49 CFR 570.9(a)" in page


def test_open_flag_stops_the_road_test_until_the_owner_clears_it(
    walking: Client, client: Client, owner: Actor, stay: Consignment
) -> None:
    grade(walking, stay, "underside.brake_lines", answer="1")
    stopped = text_of(walking.get(url(stay, "station", station="road_test")))
    assert "Do not drive it." in stopped
    assert "-answer" not in stopped
    refused = grade(walking, stay, STATIONS[-1].checks[0].code, answer="4")
    assert "Do not drive it." in text_of(refused)
    assert not CheckResult.objects.filter(check_code__startswith="road_test").exists()
    assert "The owner clears it" in text_of(walking.get(url(stay, "vehicle_file")))
    result = latest("underside.brake_lines")
    assert walking.get(url(stay, "clear_flag", key=f"check-{result.pk}")).status_code == 403
    sign_in(client, owner)
    assert "Clear this flag" in text_of(client.get(url(stay, "clear_flag", key=f"check-{result.pk}")))
    assert "required" in text_of(client.post(url(stay, "clear_flag", key=f"check-{result.pk}"), {"reason": ""}))
    client.post(url(stay, "clear_flag", key=f"check-{result.pk}"), {"reason": "hose renewed, tried on the lot"})
    assert FlagClearance.objects.get().by == owner.name
    assert "Do not drive it." not in text_of(client.get(url(stay, "station", station="road_test")))
    assert "hose renewed" in text_of(client.get(url(stay, "vehicle_file")))


def test_worse_answer_after_a_cleared_flag_raises_its_own(walking: Client, owner: Actor, stay: Consignment) -> None:
    grade(walking, stay, "underside.brake_lines", answer="1")
    first = latest("underside.brake_lines")
    inspecting.clear_flag(stay.pk, key=f"check-{first.pk}", reason="mended", by=owner, at=first.at)
    assert not drives_stopped(stay, today=timezone.localdate())
    grade(walking, stay, "underside.brake_lines", answer="0")
    assert [line.key for line in drives_stopped(stay, today=timezone.localdate())] == [
        f"check-{latest(first.check_code).pk}"
    ]


def test_hurtful_stations_carry_their_caution(walking: Client, stay: Consignment) -> None:
    assert "set the locks, nobody inside" in text_of(walking.get(url(stay, "station", station="underside")))
    assert "wheels chocked" in text_of(walking.get(url(stay, "station", station="cold_start")))


def test_finish_freezes_the_walk_and_names_what_was_not_answered(walking: Client, stay: Consignment) -> None:
    grade(walking, stay, "cold_start.choke", answer="3")
    assert "counted as not seen: Cold start, Paperwork and plates, Front" in text_of(walking.get(url(stay, "walk")))
    walking.post(url(stay, "finish_walk"))
    stay.refresh_from_db()
    assert stay.state == State.INSPECTED
    response = grade(walking, stay, "front.hood", answer="2")
    assert "has no open inspection" in text_of(response)
    assert CheckResult.objects.count() == 1
    assert walking.get(url(stay, "station", station="front"))["Location"] == url(stay, "walk")
    assert "Begin a further inspection" in text_of(walking.get(url(stay, "walk")))


def test_walk_without_a_grade_is_not_finished(walking: Client, stay: Consignment) -> None:
    response = walking.post(url(stay, "finish_walk"))
    assert "No station has been graded yet." in text_of(response)
    assert IntakeInspection.objects.get().is_open


def test_vehicle_that_is_not_here_is_not_inspected(client: Client, intake: Actor, at: datetime) -> None:
    booked = build.consignment(State.BOOKED, at=at)
    page = text_of(sign_in(client, intake).get(url(booked, "walk")))
    assert "can be inspected while it is on the lot" in page
    assert "it is not on the lot" in text_of(client.post(url(booked, "begin_walk")))
    assert not IntakeInspection.objects.exists()


def test_unknown_station_is_nothing_here(walking: Client, stay: Consignment) -> None:
    assert walking.get(url(stay, "station", station="boot_lid")).status_code == 404


@pytest.mark.parametrize("name", ["begin_walk", "finish_walk", "features", "taps", "station"])
def test_who_may_walk(client: Client, sales: Actor, stay: Consignment, name: str) -> None:
    address = url(stay, name, station="front") if name == "station" else url(stay, name)
    assert client.post(address)["Location"].startswith(reverse("sign_in"))
    assert sign_in(client, sales).post(address).status_code == 403
    assert not IntakeInspection.objects.exists()


def test_a_check_graded_again_counts_anew_and_the_first_stays(
    walking: Client, stay: Consignment, owner: Actor, at: datetime
) -> None:
    inspecting.record_check(stay.pk, finding=Finding(check_code="rear.lamps", grade=4, basis="seen"), by=owner, at=at)
    grade(walking, stay, "rear.lamps", answer="1")
    assert [row.grade for row in CheckResult.objects.order_by("pk")] == [4, 1]
    assert "1 fault" in text_of(walking.get(url(stay, "walk")))
