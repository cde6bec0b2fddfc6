"""The walk by the API: answers with their flags, stations at once, features, visits, clearances."""

from collections.abc import Callable
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from rest_framework.test import APIClient

from inventory.actions import figures, inspecting
from inventory.actions.figures import Measured
from inventory.models import (
    CheckResult,
    Consignment,
    FlagClearance,
    LogEntry,
    StationVisit,
    VehicleFeature,
)
from inventory.rules.catalogue import CHECKS, STATIONS, Feature
from inventory.rules.states import State
from tests.api import rows
from tests.api.conftest import said, url
from tests.api.rows import DEED, SEEN

pytestmark = pytest.mark.django_db
TREAD: dict[str, Any] = {"check_code": "tyres.tread_left_front", "grade": 2, "basis": "measured"}
DISC: dict[str, Any] = {"check_code": "underside.discs", "grade": 3, "basis": "measured"}
KEY = "6f9619ff-8b86-4d01-b42d-00cf4fc964ff"


@pytest.fixture
def walked(stay: Callable[..., Consignment]) -> Consignment:
    """A stay whose walk is open."""
    built = stay(State.ON_LOT)
    rows.begun(built)
    return built


def named(answer: Any) -> tuple[int, str, str]:
    return answer.status_code, said(answer)["field"], said(answer)["code"]


# one check


def test_reading_beyond_its_limit_comes_back_with_its_flag(as_intake: APIClient, walked: Consignment) -> None:
    made = as_intake.post(url(walked, "checks/"), TREAD | {"reading": "1.5"})
    assert made.status_code == 201, made.content
    flag = made.json()["flag"]
    assert set(flag) == {"message", "section", "stops_drives"}
    assert (flag["section"], flag["stops_drives"]) == ("49 CFR 570.9(a)", True)
    assert "2/32 in" in flag["message"]  # 49 CFR 570.9(a): not less than 2/32 inch
    as_intake.post(url(walked, "checks/"), TREAD | {"reading": "2"})
    listed = as_intake.get(url(walked, "checks/")).json()["results"]
    assert [row["flag"] for row in listed] == [None, flag]
    assert {"compared_with", "told_at", "device"} <= set(listed[0])


def test_figure_that_the_limit_depends_on_is_taken_and_judged_by(as_intake: APIClient, walked: Consignment) -> None:
    thin = DISC | {"reading": "0.98", "compared_with": "1.000"}
    made = as_intake.post(url(walked, "checks/"), thin).json()
    assert (made["compared_with"], made["flag"]["stops_drives"]) == ("1.000", True)
    assert as_intake.post(url(walked, "checks/"), thin | {"reading": "1.01"}).json()["flag"] is None
    assert as_intake.post(url(walked, "checks/"), DISC | {"reading": "0.98"}).json()["flag"] is None


def test_check_sent_twice_with_its_key_is_one_row(as_intake: APIClient, walked: Consignment) -> None:
    made = [as_intake.post(url(walked, "checks/"), SEEN | {"client_key": KEY}).json() for _ in range(2)]
    assert made[0] == made[1]
    assert CheckResult.objects.count() == 1


UGLY = [
    *({"grade": grade} for grade in (7, -1, 5, 2.5, 3.0, "3", "", True, False, None, [3], {"grade": 3}, 10**30)),
    {"verdict": "graded", "grade": None}, {"verdict": "not_seen"}, {"verdict": "deleted"}, {"verdict": "not_fitted"},
]  # fmt: skip


@pytest.mark.parametrize("change", UGLY, ids=str)
def test_grade_that_is_none_is_refused_by_name(
    as_intake: APIClient, walked: Consignment, change: dict[str, Any]
) -> None:
    answer = as_intake.post(url(walked, "checks/"), SEEN | change)
    assert named(answer)[:2] == (400, "grade")
    assert not CheckResult.objects.exists()


def test_missing_grade_is_refused_by_name(as_intake: APIClient, walked: Consignment) -> None:
    answer = as_intake.post(url(walked, "checks/"), {"check_code": "front.hood", "basis": "seen"})
    assert named(answer) == (400, "grade", "required")


OTHERS: list[tuple[dict[str, Any], str, str]] = [
    (SEEN | {"check_code": "nose.hood"}, "check_code", "no_such_check"),
    (SEEN | {"check_code": "front.overall"}, "check_code", "no_such_check"),
    (SEEN | {"check_code": "x" * 61}, "check_code", "max_length"),
    (SEEN | {"verdict": "fine"}, "verdict", "invalid_choice"),
    (SEEN | {"basis": "felt"}, "basis", "invalid_choice"),
    (SEEN | {"note": "x" * 10_000}, "note", "max_length"),
    (SEEN | {"reading": "3"}, "reading", "no_reading"),
    (SEEN | {"compared_with": "3"}, "compared_with", "nothing_compared"),
    (SEEN | {"told_at": "2026-03-16T15:00:00Z"}, "told_at", "unknown"),
    (SEEN | {"device": "tablet"}, "device", "unknown"),
    (SEEN | {"flag": None}, "flag", "unknown"),
    (TREAD | {"reading": "NaN"}, "reading", "invalid"),
    (TREAD | {"reading": "Infinity"}, "reading", "invalid"),
    (TREAD | {"reading": "1e99"}, "reading", "max_digits"),
    (TREAD | {"reading": 1e99}, "reading", "invalid"),
    (TREAD | {"reading": "1.0001"}, "reading", "max_decimal_places"),
    (TREAD | {"reading": True}, "reading", "invalid"),
    (TREAD | {"reading": "-1"}, "reading", "limit_figure"),
    ({"check_code": TREAD["check_code"], "basis": "seen", "verdict": "not_seen", "reading": "4"}, "reading",
     "contradiction"),
    (DISC | {"reading": "1.0", "compared_with": "-1"}, "compared_with", "min_value"),
    (DISC | {"reading": "1.0", "compared_with": "0"}, "compared_with", "limit_figure"),
    (DISC | {"reading": "1.0", "compared_with": "NaN"}, "compared_with", "invalid"),
]  # fmt: skip


@pytest.mark.parametrize(("body", "field", "code"), OTHERS)
def test_answer_that_cannot_be_is_refused_with_its_field(
    as_intake: APIClient, walked: Consignment, body: dict[str, Any], field: str, code: str
) -> None:
    assert named(as_intake.post(url(walked, "checks/"), body)) == (400, field, code)
    assert not CheckResult.objects.exists()


def test_bare_nan_in_the_body_is_no_json(as_intake: APIClient, walked: Consignment) -> None:
    body = b'{"check_code": "tyres.tread_left_front", "grade": 2, "basis": "measured", "reading": NaN}'
    answer = as_intake.generic("POST", url(walked, "checks/"), body, content_type="application/json")
    assert answer.status_code == 400
    assert "NaN is not a number" in said(answer)["message"]


def test_lists_of_answers_with_flags_ask_as_often_with_30_rows(as_intake: APIClient, walked: Consignment) -> None:
    def asked(address: str) -> int:
        with CaptureQueriesContext(connection) as captured:
            assert as_intake.get(url(walked, address)).status_code == 200
        return len(captured)

    lists = ("checks/", "flags/", "features/", "questions/")
    judged = [code for code, check in CHECKS.items() if not code.startswith("road_test")]
    for place in range(3):
        rows.found(walked, judged[place], grade=0)
        inspecting.record_feature(walked.pk, feature=Feature.values[place], present=True, **DEED)
    few = {address: asked(address) for address in lists}
    for place in range(3, len(judged)):
        rows.found(walked, judged[place], grade=0)
    for place in range(3, 30):
        feature = Feature.values[place % len(Feature.values)]
        inspecting.record_feature(walked.pk, feature=feature, present=True, **DEED)
    assert {address: asked(address) for address in lists} == few
    assert as_intake.get(url(walked, "checks/")).json()["count"] == len(judged) > 30


# a station at once


def test_station_is_taken_at_once_with_its_rest(as_intake: APIClient, walked: Consignment) -> None:
    body = {"station": "front", "findings": [SEEN | {"grade": 1, "note": "dent"}], "rest": "no_fault"}
    answer = as_intake.post(url(walked, "checks/station/"), body)
    assert answer.status_code == 201, answer.content
    made = answer.json()
    assert (made[0]["check_code"], made[0]["grade"], made[0]["note"]) == ("front.hood", 1, "dent")
    by_eye = [check.code for check in next(s for s in STATIONS if s.code == "front").checks if not check.unit]
    assert {row["check_code"] for row in made} == set(by_eye)
    assert {row["grade"] for row in made[1:]} == {4}
    listed = as_intake.get(url(walked, "checks/")).json()["results"]
    assert sorted(row["id"] for row in listed) == [row["id"] for row in made]


def test_same_as_on_the_other_side_repeats_what_was_seen_there(as_intake: APIClient, walked: Consignment) -> None:
    check = next(check for check in CHECKS.values() if check.code.startswith("right_side.") and check.twin)
    rows.found(walked, check.twin, grade=2)
    answer = as_intake.post(url(walked, "checks/station/"), {"station": "right_side", "rest": "other_side"})
    assert [(row["check_code"], row["grade"]) for row in answer.json()] == [(check.code, 2)]


def test_station_sent_again_under_one_key_is_written_once(as_intake: APIClient, walked: Consignment) -> None:
    body = {"station": "front", "findings": [SEEN], "rest": ""}
    answers = [as_intake.post(url(walked, "checks/station/"), body, HTTP_IDEMPOTENCY_KEY=KEY) for _ in range(2)]
    assert answers[0].json() == answers[1].json()
    assert answers[1]["Idempotency-Replayed"] == "true"
    assert CheckResult.objects.count() == 1


@pytest.mark.parametrize(
    ("change", "field", "code"),
    [
        ({"station": "roof"}, "station", "no_such_station"),
        ({"station": "rear"}, "check_code", "other_station"),
        ({"station": "front", "findings": [SEEN, SEEN]}, "check_code", "said_twice"),
        ({"findings": [SEEN, SEEN | {"check_code": "nose.hood"}]}, "check_code", "no_such_check"),
        ({"findings": [SEEN, {"check_code": "front.lamps", "grade": 9, "basis": "seen"}]}, "findings.1.grade",
         "max_value"),
        ({"findings": [SEEN | {"note": "x" * 10_000}]}, "findings.0.note", "max_length"),
        ({"findings": [SEEN | {"client_key": KEY}]}, "findings.0.client_key", "unknown"),
        ({"findings": [SEEN | {"verdict": "not_seen"}]}, "findings.0.grade", "contradiction"),
        ({"findings": [SEEN] * 101}, "findings", "max_length"),
        ({"findings": {"check_code": "front.hood"}}, "findings", "not_a_list"),
        ({"findings": [], "rest": ""}, "findings", "required"),
        ({"rest": "all_fine"}, "rest", "invalid_choice"),
        ({"rest": None}, "rest", "null"),
    ],
)  # fmt: skip
def test_station_that_cannot_be_is_refused_and_writes_nothing(
    as_intake: APIClient, walked: Consignment, change: dict[str, Any], field: str, code: str
) -> None:
    body = {"station": "front", "findings": [SEEN], **change}
    assert named(as_intake.post(url(walked, "checks/station/"), body)) == (400, field, code)
    assert not CheckResult.objects.exists()


def test_road_test_under_an_open_flag_is_refused_whatever_station_is_named(
    as_intake: APIClient, walked: Consignment
) -> None:
    rows.flagged(walked)
    drive = {"check_code": "road_test.free_turning", "grade": 4, "basis": "seen"}
    for station, code in (("road_test", "flag_open"), ("front", "other_station")):
        answer = as_intake.post(url(walked, "checks/station/"), {"station": station, "findings": [drive]})
        assert named(answer) == (400, "check_code", code)
    assert named(as_intake.post(url(walked, "checks/"), drive)) == (400, "check_code", "flag_open")
    assert CheckResult.objects.count() == 1


def test_without_an_open_walk_nothing_is_graded(as_intake: APIClient, stay: Callable[..., Consignment]) -> None:
    built = stay(State.ON_LOT)
    for address, body in (
        ("checks/", SEEN), ("checks/station/", {"station": "front", "findings": [SEEN]}),
        ("visits/", {"station": "front", "engine": "cold"}),
    ):  # fmt: skip
        assert named(as_intake.post(url(built, address), body)) == (400, "inspection", "no_open_inspection")


# features and visits


def test_features_are_all_told_and_the_latest_word_counts(as_intake: APIClient, walked: Consignment) -> None:
    for present in (True, False):
        made = as_intake.post(url(walked, "features/"), {"feature": "soft_top", "present": present})
        assert (made.status_code, made.json()["present"]) == (201, present)
    as_intake.post(url(walked, "features/"), {"feature": "trunk", "present": True})
    told = {row["feature"]: row["present"] for row in as_intake.get(url(walked, "features/")).json()["features"]}
    assert told == dict.fromkeys(Feature.values) | {"soft_top": False, "trunk": True}


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"feature": "wings"}, "feature"), ({"feature": None}, "feature"), ({"present": None}, "present"),
        ({"present": "perhaps"}, "present"), ({"present": 7}, "present"), ({"client_key": "7"}, "client_key"),
        ({"colour": "red"}, "colour"),
    ],
)  # fmt: skip
def test_feature_that_cannot_be_is_refused(
    as_intake: APIClient, walked: Consignment, change: dict[str, Any], field: str
) -> None:
    body = {"feature": "soft_top", "present": True, **change}
    assert named(as_intake.post(url(walked, "features/"), body))[:2] == (400, field)
    assert not VehicleFeature.objects.exists()


@pytest.mark.parametrize(
    ("change", "field"), [({"station": "roof"}, "station"), ({"engine": "hot"}, "engine"), ({"engine": None}, "engine")]
)
def test_visit_that_cannot_be_is_refused(
    as_intake: APIClient, walked: Consignment, change: dict[str, Any], field: str
) -> None:
    answer = as_intake.post(url(walked, "visits/"), {"station": "front", "engine": "cold", **change})
    assert named(answer)[:2] == (400, field)
    assert not StationVisit.objects.exists()


def test_feature_and_visit_sent_twice_are_one_row(as_intake: APIClient, walked: Consignment) -> None:
    for _ in range(2):
        as_intake.post(url(walked, "features/"), {"feature": "trunk", "present": True, "client_key": KEY})
        made = as_intake.post(url(walked, "visits/"), {"station": "front", "engine": "off", "client_key": KEY})
    assert (VehicleFeature.objects.count(), StationVisit.objects.count()) == (1, 1)
    assert as_intake.get(url(walked, "visits/")).json()["results"] == [made.json()]
    assert (made.json()["station"], made.json()["engine"], made.json()["inspection"]) == ("front", "off", 1)


# flags


def test_flag_is_told_and_cleared_by_the_owner(as_owner: APIClient, walked: Consignment) -> None:
    key = rows.flagged(walked)
    (flag,) = as_owner.get(url(walked, "flags/")).json()["flags"]
    assert (flag["key"], flag["open"], flag["grave"], flag["stops_drives"]) == (key, True, True, True)
    assert (flag["check_code"], flag["where"], flag["clearance"]) == ("tyres.nuts", CHECKS["tyres.nuts"].wording, None)
    made = as_owner.post(url(walked, f"flags/{key}/clearance/"), {"reason": "all four torqued"})
    assert made.json()["reason"] == "all four torqued"
    again = as_owner.post(url(walked, f"flags/{key}/clearance/"), {"reason": "once more"})
    assert again.json() == made.json()
    (flag,) = as_owner.get(url(walked, "flags/")).json()["flags"]
    assert (flag["open"], flag["grave"], flag["stops_drives"]) == (False, True, False)
    assert flag["clearance"] == made.json()


def test_flag_of_a_figure_has_no_check_and_is_cleared_alike(as_owner: APIClient, walked: Consignment) -> None:
    for position, size in (("left_rear", "P205/75R15"), ("right_rear", "P235/75R15")):
        figures.record_tyre(
            walked.pk, position=position, measured=Measured(figures={"size": size}, basis="seen"), **DEED
        )
    (flag,) = as_owner.get(url(walked, "flags/")).json()["flags"]
    assert (flag["section"], flag["check_code"], flag["by"], flag["at"]) == ("49 CFR 570.9(b)", "", "", None)
    made = as_owner.post(url(walked, f"flags/{flag['key']}/clearance/"), {"reason": "refitted"})
    assert (made.status_code, made.json()["key"]) == (201, flag["key"])


def test_flag_of_another_stay_is_404(
    as_owner: APIClient, walked: Consignment, stay: Callable[..., Consignment]
) -> None:
    key = rows.flagged(walked)
    other = stay(State.ON_LOT)
    for one, wanted in ((other, key), (walked, "check-0"), (walked, "figure-" + "0" * 32), (walked, "x" * 300)):
        answer = as_owner.post(url(one, f"flags/{wanted}/clearance/"), {"reason": "mine"})
        assert named(answer) == (404, "key", "not_found")
    assert not FlagClearance.objects.exists()


@pytest.mark.parametrize("body", [{}, {"reason": ""}, {"reason": "  "}, {"reason": None}, {"reason": "x" * 10_000}])
def test_clearance_without_a_usable_reason_is_refused(
    as_owner: APIClient, walked: Consignment, body: dict[str, Any]
) -> None:
    key, logged = rows.flagged(walked), LogEntry.objects.count()
    assert named(as_owner.post(url(walked, f"flags/{key}/clearance/"), body))[:2] == (400, "reason")
    assert (FlagClearance.objects.count(), LogEntry.objects.count()) == (0, logged)


# late taps


def test_late_tap_is_told_word_for_word(as_sales: APIClient, stay: Callable[..., Consignment]) -> None:
    built = stay(State.ON_LOT)
    rows.tapped_late(built)
    (late,) = as_sales.get(url(built, "late-taps/")).json()["results"]
    assert (late["inspection"], late["said"]["check_code"], late["said"]["answer"]) == (1, "front.hood", "1")
    assert late["told_at"]
