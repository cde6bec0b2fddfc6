"""One tap for many checks: what it says, and what it leaves alone."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.rules.catalogue import CHECKS, STATION, STATIONS
from inventory.rules.walk import Answered, Rest, rest_of
from inventory.rules.words import Basis, Verdict

SOUND = Answered(Verdict.GRADED, 4, Basis.SEEN)
UNSEEN = Answered(Verdict.NOT_SEEN, None, Basis.NOT_ESTABLISHED)
TYRES = STATION["tyres"].checks


def test_not_seen_answers_readings_too_and_grades_nothing() -> None:
    said = rest_of(Rest.NOT_SEEN, asked=TYRES, answered={"tyres.nuts": SOUND}, other_side={})
    assert set(said) == {check.code for check in TYRES} - {"tyres.nuts"}
    assert set(said.values()) == {UNSEEN}


def test_no_fault_leaves_every_reading_open() -> None:
    said = rest_of(Rest.NO_FAULT, asked=TYRES, answered={}, other_side={})
    assert set(said) == {"tyres.match", "tyres.condition", "tyres.wheels", "tyres.nuts"}
    assert set(said.values()) == {SOUND}


@pytest.mark.parametrize("basis", [Basis.TOLD, Basis.PRESUMED, Basis.DOCUMENTED])
def test_other_side_repeats_nothing_that_was_not_looked_at(basis: Basis) -> None:
    there = {"left_side.doors": Answered(Verdict.GRADED, 2, basis), "left_side.rocker": UNSEEN}
    assert rest_of(Rest.OTHER_SIDE, asked=STATION["right_side"].checks, answered={}, other_side=there) == {}


@given(
    station=st.sampled_from(STATIONS), rest=st.sampled_from(Rest), answered=st.sets(st.sampled_from(sorted(CHECKS))),
    grades=st.dictionaries(st.sampled_from(sorted(CHECKS)), st.integers(0, 4)),
)  # fmt: skip
def test_what_has_an_answer_is_left_alone_whatever_is_tapped(
    station: object, rest: Rest, answered: set[str], grades: dict[str, int]
) -> None:
    asked = station.checks  # type: ignore[attr-defined]
    there = {code: Answered(Verdict.GRADED, grade, Basis.SEEN) for code, grade in grades.items()}
    said = rest_of(rest, asked=asked, answered=dict.fromkeys(answered, SOUND), other_side=there)
    assert set(said) <= {check.code for check in asked} - answered
    assert all(row.reading is None for row in said.values())
    assert all(row.grade is None or not CHECKS[code].unit for code, row in said.items())
