"""Condition and originality as intervals: what nobody saw widens them, and better never lowers them."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.errors import Refused
from inventory.rules import scores
from inventory.rules.scores import FIRST_POLICY, Graded, Stood
from inventory.rules.stations import CHECKS, COMPONENTS
from inventory.rules.words import Basis, Standing, Verdict

SMALL = {
    "checks": {"a": 3, "b": 1},
    "components": {"x": 1, "y": 1},
    "standings": FIRST_POLICY["standings"],
    "slack": FIRST_POLICY["slack"],
}
GRADES = st.lists(st.integers(0, 4), min_size=len(CHECKS), max_size=len(CHECKS))


def seen(code: str, grade: int, basis: str = Basis.SEEN) -> Graded:
    return Graded(code, Verdict.GRADED, grade, basis)


def test_condition_by_hand() -> None:
    """(3 × 75 + 1 × 25) ÷ 4 = 62.5."""
    span = scores.condition([seen("a", 3), seen("b", 1)], policy=SMALL)
    assert span is not None
    assert (span.low, span.high, span.middle, span.width) == (Decimal("62.5"), Decimal("62.5"), Decimal("62.5"), 0)


def test_check_not_seen_counts_as_anything() -> None:
    """(3 × 75 + 1 × 0) ÷ 4 = 56.3 and (3 × 75 + 1 × 100) ÷ 4 = 81.3, half-up."""
    span = scores.condition([seen("a", 3)], policy=SMALL)
    assert span is not None
    assert (span.low, span.high) == (Decimal("56.3"), Decimal("81.3"))


@pytest.mark.parametrize("verdict", [Verdict.DELETED_ON_PURPOSE, Verdict.NOT_FITTED_WHEN_NEW])
def test_what_does_not_belong_there_is_no_fault(verdict: Verdict) -> None:
    span = scores.condition([seen("a", 3), Graded("b", verdict, None, Basis.SEEN)], policy=SMALL)
    assert span is not None
    assert (span.low, span.high) == (Decimal("75.0"), Decimal("75.0"))


def test_told_is_wider_than_seen() -> None:
    told = scores.condition([seen("a", 3, Basis.TOLD), seen("b", 3)], policy=SMALL)
    assert told is not None
    assert (told.low, told.high) == (Decimal("60.0"), Decimal("90.0"))


def test_nothing_graded_is_no_condition() -> None:
    assert scores.condition([], policy=SMALL) is None
    assert scores.condition([Graded("a", Verdict.NOT_SEEN, None, Basis.NOT_ESTABLISHED)], policy=SMALL) is None


def test_policy_without_weights_is_no_condition() -> None:
    empty = {**SMALL, "checks": {}}
    assert scores.condition([seen("a", 3)], policy=empty) is None


def test_originality_by_hand() -> None:
    """(100 + 75) ÷ 2 = 87.5; with one component open (100 + 0) ÷ 2 to (100 + 100) ÷ 2."""
    lines = [Stood("x", Standing.ORIGINAL, Basis.SEEN), Stood("y", Standing.SERVICE_REPLACEMENT, Basis.SEEN)]
    whole, half = (scores.originality(given, policy=SMALL) for given in (lines, lines[:1]))
    assert whole is not None
    assert half is not None
    assert (whole.low, whole.high) == (Decimal("87.5"), Decimal("87.5"))
    assert (half.low, half.high) == (Decimal("50.0"), Decimal("100.0"))


def test_nothing_established_is_no_originality() -> None:
    assert scores.originality([Stood("x", Standing.NOT_ESTABLISHED, Basis.SEEN)], policy=SMALL) is None


@given(GRADES, st.integers(0, len(CHECKS) - 1))
def test_better_grade_never_lowers_either_end(grades: list[int], place: int) -> None:
    rows = [seen(code, grade) for code, grade in zip(CHECKS, grades, strict=True)]
    better = [*rows]
    better[place] = seen(rows[place].code, min(4, grades[place] + 1))
    before, after = (scores.condition(given, policy=FIRST_POLICY) for given in (rows, better))
    assert before is not None
    assert after is not None
    assert after.low >= before.low
    assert after.high >= before.high
    assert 0 <= before.low <= before.high <= 100


@given(GRADES, st.sets(st.sampled_from(list(CHECKS)), max_size=len(CHECKS) - 1))
def test_seeing_more_never_widens(grades: list[int], unseen: set[str]) -> None:
    rows = [seen(code, grade) for code, grade in zip(CHECKS, grades, strict=True)]
    whole = scores.condition(rows, policy=FIRST_POLICY)
    part = scores.condition([row for row in rows if row.code not in unseen], policy=FIRST_POLICY)
    assert whole is not None
    assert part is not None
    assert part.low <= whole.low <= whole.high <= part.high


def test_weights_of_the_first_policy_add_up_to_100() -> None:
    assert sum(FIRST_POLICY["checks"].values()) == 100
    assert sum(FIRST_POLICY["components"].values()) == 100
    assert set(FIRST_POLICY["components"]) == {component.code for component in COMPONENTS}


@pytest.mark.parametrize(
    ("low", "high", "field"), [(-1, 5, "condition_low"), (5, 101, "condition_high"), (None, 5, "condition_low")]
)
def test_interval_outside_0_to_100_is_refused(low: int | None, high: int, field: str) -> None:
    with pytest.raises(Refused) as refusal:
        scores.check_interval(low, high, field="condition")
    assert refusal.value.field == field


def test_interval_upside_down_is_refused() -> None:
    with pytest.raises(Refused, match="runs from 80"):
        scores.check_interval(80, 70, field="condition")
    assert scores.check_interval("70", "80.25", field="condition").high == Decimal("80.3")
