"""The sentences that open a figure up."""

from decimal import Decimal

import pytest

from inventory.rules.score_words import check_said, held_said, stood_said
from inventory.rules.scores import Graded, ScoreLine, Stood
from inventory.rules.words import Basis, Standing, Verdict


def test_what_a_check_found_is_said_with_its_basis() -> None:
    assert check_said(None) == "not looked at"
    assert check_said(Graded("x", Verdict.NOT_SEEN, None, Basis.SEEN)) == "not seen"
    assert check_said(Graded("x", Verdict.DELETED_ON_PURPOSE, None, Basis.SEEN)) == "deleted on purpose"
    assert check_said(Graded("x", Verdict.GRADED, 1, Basis.TOLD)) == "graded 1, needs repair (told by the consignor)"


def test_what_is_said_of_a_component_names_what_changed_it() -> None:
    assert stood_said(None) == "nothing said"
    assert stood_said(None, changed="larger valves") == "changed: larger valves"
    original = Stood("x", Standing.ORIGINAL, Basis.SEEN)
    assert stood_said(original) == "original (seen)"
    assert stood_said(original, changed="larger valves") == "original (seen); changed: larger valves"
    assert stood_said(Stood("x", Standing.NOT_ESTABLISHED, Basis.SEEN)) == "not established"


@pytest.mark.parametrize(
    ("row", "points", "ends", "said"),
    [
        (
            Graded("x", Verdict.GRADED, 1, Basis.SEEN), (25, 25), ("low", "high"),
            "Both ends are held at 55 at most, since “Left rocker” carries the vehicle and is graded 1, needs repair "
            "(seen).",
        ),
        (
            None, (0, 100), ("low",),
            "The low end is held at 55 at most, since “Left rocker” carries the vehicle and was not looked at, so it "
            "may be as bad as grade 0.",
        ),
        (
            Graded("x", Verdict.GRADED, 2, Basis.TOLD), (30, 70), ("low",),
            "The low end is held at 55 at most, since “Left rocker” carries the vehicle and is graded 2, worn or "
            "marked, serviceable (told by the consignor), so it may be as bad as grade 1.",
        ),
        (
            Graded("x", Verdict.GRADED, 2, Basis.TOLD), (30, 70), ("high",),
            "The high end is held at 55 at most, since “Left rocker” carries the vehicle and is graded 2, worn or "
            "marked, serviceable (told by the consignor).",
        ),
    ],
)  # fmt: skip
def test_cap_names_check_grade_and_end(
    row: Graded | None, points: tuple[int, int], ends: tuple[str, ...], said: str
) -> None:
    line = ScoreLine("x", 9, Decimal(points[0]), Decimal(points[1]), "")
    assert held_said(("x", 55), wording="Left rocker", row=row, line=line, ends=ends) == said
