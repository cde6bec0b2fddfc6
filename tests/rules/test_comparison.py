"""What a grid says of each input."""

from typing import Any

import pytest

from inventory.rules.comparison import differ, kinds_told, told


@pytest.mark.parametrize(
    ("name", "row", "said"),
    [
        ("mileage", {"mileage": 61240}, "61,240 miles"),
        ("mileage", {"mileage": 0}, "0 miles"),
        ("mileage", {}, "not known"),
        ("body", {"body": ""}, "not known"),
        ("condition", {"condition_low": 55, "condition_high": 70}, "55 to 70 of 100"),
        ("condition", {"condition_low": 70, "condition_high": 70}, "70 of 100"),
        ("originality", {"originality_low": None, "originality_high": None}, "not known"),
        ("build_class", {"build_class": "replica"}, "replica or re-bodied"),
        ("title_brand", {"title_brand": "lemon"}, "returned under a lemon law"),
        ("mods_engine", {"modifications": ["engine", "wheels", "engine"]}, "2"),
        ("mods_brakes", {"modifications": []}, "none"),
        ("mods_brakes", {"modifications": None}, "not known"),
        ("together", {"year": 1968}, ""),
    ],
)
def test_input_is_told_in_words(name: str, row: dict[str, Any], said: str) -> None:
    assert told(name, row=row) == said


@pytest.mark.parametrize(
    ("one", "other", "expected"),
    [("1968", "1969", True), ("1968", "1968", False), ("not known", "1968", False), ("1968", "not known", False)],
)
def test_what_is_not_known_is_no_difference(one: str, other: str, *, expected: bool) -> None:
    assert differ(one, other) is expected


@pytest.mark.parametrize(
    ("said", "told_as"),
    [(None, "not known"), ([], "none"), (["engine", "wheels", "engine"], "engine (2), wheels")],
)
def test_modifications_are_told_by_kind(said: list[str] | None, told_as: str) -> None:
    assert kinds_told(said) == told_as
