"""What must be seen before a vehicle may be listed."""

import pytest

from inventory.rules.titles import (
    NumberSeen,
    as_they_stand,
    identity_question,
    may_be_resolved,
    ownership_paper_seen,
)

PLATE = NumberSeen("dash_plate", "8A17J104221", "seen")
TITLE = NumberSeen("title", "8A17J104221", "documented")


def test_plate_and_title_that_agree_leave_no_question() -> None:
    assert identity_question([PLATE, TITLE], serial="8A17J104221") == ""
    assert identity_question([PLATE, TITLE], serial="") == ""


@pytest.mark.parametrize(
    ("numbers", "said"),
    [
        ([], "read off the vehicle"),
        ([TITLE], "read off the vehicle"),
        ([TITLE, NumberSeen("dash_plate", "8A17J104221", "told")], "read off the vehicle"),
        ([PLATE], "title has not been recorded"),
        ([PLATE, NumberSeen("title", "8A17J104222", "documented")], "do not agree: 8A17J104221, 8A17J104222"),
    ],
)
def test_what_is_open_is_said(numbers: list[NumberSeen], said: str) -> None:
    assert said in identity_question(numbers, serial="8A17J104221")


def test_number_logged_on_arrival_must_agree_too() -> None:
    assert "do not agree" in identity_question([PLATE, TITLE], serial="8A17J104299")


def test_latest_number_of_a_kind_counts() -> None:
    misread = NumberSeen("dash_plate", "8A17J104227", "seen")
    assert identity_question([misread, PLATE, TITLE], serial="8A17J104221") == ""


def test_engine_stamp_may_differ() -> None:
    assert identity_question([PLATE, TITLE, NumberSeen("engine_stamp", "K77", "seen")], serial="8A17J104221") == ""


@pytest.mark.parametrize(
    ("papers", "enough"),
    [([("title", "read")], True), ([("title", "copied")], False), ([("lien_release", "read")], False), ([], False)],
)
def test_only_a_paper_of_ownership_that_was_read_is_enough(papers: list[tuple[str, str]], enough: bool) -> None:
    assert ownership_paper_seen(papers) is enough


@pytest.mark.parametrize("kind", ["body_stamp", "assigned_number", "frame_stamp", "data_plate", "door_label"])
def test_every_number_on_the_vehicle_must_agree(kind: str) -> None:
    stamp = NumberSeen(kind, "8A17J999999", "measured")
    assert "8A17J999999" in identity_question([PLATE, TITLE, stamp], serial="8A17J104221")


@pytest.mark.parametrize("kind", ["engine_stamp", "other"])
def test_numbers_of_parts_may_differ(kind: str) -> None:
    assert identity_question([PLATE, TITLE, NumberSeen(kind, "K77", "seen")], serial="8A17J104221") == ""


OTHER_TITLE = NumberSeen("title", "8A17J104222", "documented")


@pytest.mark.parametrize(
    ("numbers", "may"),
    [([PLATE, OTHER_TITLE], True), ([PLATE], False), ([OTHER_TITLE], False), ([PLATE, TITLE], False)],
)
def test_only_a_disagreement_may_be_resolved(numbers: list[NumberSeen], may: bool) -> None:
    assert may_be_resolved(numbers, serial="8A17J104221") is may


def test_any_other_number_and_another_serial_stand_differently() -> None:
    stand = as_they_stand([PLATE, OTHER_TITLE], serial="8A17J104221")
    assert stand == as_they_stand([PLATE, OTHER_TITLE], serial="8A17J104221")
    others = [
        as_they_stand([PLATE, OTHER_TITLE, OTHER_TITLE], serial="8A17J104221"),
        as_they_stand([OTHER_TITLE, PLATE], serial="8A17J104221"),
        as_they_stand([PLATE, OTHER_TITLE], serial="8A17J104229"),
        as_they_stand([PLATE, NumberSeen("title", "8A17J104222", "told")], serial="8A17J104221"),
    ]
    assert len({stand, *others}) == 5
