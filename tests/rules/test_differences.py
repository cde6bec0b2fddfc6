"""What became of a check between two inspections."""

from decimal import Decimal

import pytest

from inventory.rules.differences import Turn, turn_of
from inventory.rules.walk import Answered
from inventory.rules.words import Basis, Verdict


def graded(grade: int, basis: str = Basis.SEEN, reading: str = "") -> Answered:
    return Answered(Verdict.GRADED, grade, basis, Decimal(reading) if reading else None)


UNSEEN = Answered(Verdict.NOT_SEEN, None, Basis.NOT_ESTABLISHED)
DELETED = Answered(Verdict.DELETED_ON_PURPOSE, None, Basis.SEEN)
NEVER = Answered(Verdict.NOT_FITTED_WHEN_NEW, None, Basis.SEEN)


@pytest.mark.parametrize(
    ("before", "after", "turn"),
    [
        (graded(2), graded(3), Turn.BETTER),
        (graded(3), graded(0), Turn.WORSE),
        (graded(3, reading="5"), graded(2, reading="9"), Turn.WORSE),
        (None, graded(3), Turn.NEWLY_SEEN),
        (UNSEEN, DELETED, Turn.NEWLY_SEEN),
        (graded(3), UNSEEN, Turn.NO_LONGER_SEEN),
        (DELETED, None, Turn.NO_LONGER_SEEN),
        (graded(3), DELETED, Turn.OTHERWISE),
        (NEVER, graded(4), Turn.OTHERWISE),
        (NEVER, DELETED, Turn.OTHERWISE),
        (graded(3, reading="5"), graded(3, reading="4"), Turn.READING),
        (graded(3), graded(3, reading="4"), Turn.READING),
        (graded(3), graded(3, Basis.TOLD), Turn.BASIS),
        (graded(3, reading="5"), graded(3, reading="5.000"), None),
        (graded(3), graded(3), None),
        (None, UNSEEN, None),
        (UNSEEN, UNSEEN, None),
        (None, None, None),
    ],
)
def test_turn_of_a_check_by_hand(before: Answered | None, after: Answered | None, turn: Turn | None) -> None:
    assert turn_of(before, after) == turn
