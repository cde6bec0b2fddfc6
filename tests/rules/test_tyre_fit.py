"""A tyre held against its wheel and its neighbour: questions only."""

from math import inf, nan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.errors import Refused
from inventory.rules.tyre_fit import differ_on_axle, fits_wheel
from inventory.rules.tyre_sizes import parse_size


@pytest.mark.parametrize(
    ("text", "diameter", "width", "codes"),
    # 235 mm = 9.25 in: 60 to 92 % is 5.55 to 8.51 in. 225 mm at 45 % = 8.86 in: 72 to 105 % is 6.38 to 9.30 in.
    [
        ("P235/75R15", 15, 7, []),
        ("P235/75R15", 15, 5.6, []),
        ("P235/75R15", 15, 5.5, ["tyre_rim_width"]),
        ("P235/75R15", 15, 8.5, []),
        ("P235/75R15", 15, 8.6, ["tyre_rim_width"]),
        ("P235/75R15", 14, 7, ["tyre_rim_diameter"]),
        ("P235/75R15", 16, 10, ["tyre_rim_diameter", "tyre_rim_width"]),
        ("P235/75R15", None, None, []),
        ("P235/75R15", 14, None, ["tyre_rim_diameter"]),
        ("P235/75R15", None, 10, ["tyre_rim_width"]),
        ("225/45R17", 17, 9, []),
        ("225/45R17", 17, 6, ["tyre_rim_width"]),
        ("31x10.50R15LT", 15, 8, []),
        ("31x10.50R15LT", 15, 6, ["tyre_rim_width"]),
        ("6.00-16", 16, 4, []),
        ("6.00-16", 16, 7, ["tyre_rim_width"]),
        ("F70-14", 14, 20, []),  # a letter size does not say its width
        ("F70-14", 15, 7, ["tyre_rim_diameter"]),
        ("190/65R390", 15.354, 5.5, []),
        ("190/65R390", 15, 5.5, ["tyre_rim_diameter"]),
    ],
)
def test_wheel_is_questioned(text: str, diameter: float | None, width: float | None, codes: list[str]) -> None:
    questions = fits_wheel(parse_size(text), rim_diameter=diameter, rim_width=width)
    assert [question.code for question in questions] == codes


def test_questions_name_what_was_read_and_what_is_usual() -> None:
    diameter, width = fits_wheel(parse_size("P235/75R15 105S"), rim_diameter=14, rim_width=10)
    assert diameter.message == "P235/75R15 is for a rim of 15 in; the wheel is given as 14 in."
    assert width.message == "A rim 10 in wide is wide for P235/75R15; 5.6 to 8.5 in is usual."
    (metric,) = fits_wheel(parse_size("190/65R390"), rim_diameter=15, rim_width=None)
    assert metric.message == "190/65R390 is for a rim of 15.35 in (390 mm); the wheel is given as 15 in."


@pytest.mark.parametrize(("text", "rim"), [("7.50-16", 16.5), ("8.00-16.5", 16)])
def test_half_inch_rim_warns_of_bursting(text: str, rim: float) -> None:
    (question,) = fits_wheel(parse_size(text), rim_diameter=rim, rim_width=None)
    assert "do not inflate it" in question.mend
    (other,) = fits_wheel(parse_size(text), rim_diameter=15, rim_width=None)
    assert "inflate" not in other.mend


def test_share_of_the_rim_is_a_setting() -> None:
    size = parse_size("P235/75R15")
    assert not fits_wheel(size, rim_diameter=15, rim_width=9, rim_share=(0.5, 1.0))
    assert fits_wheel(size, rim_diameter=15, rim_width=7, rim_share=(0.8, 1.0))


@pytest.mark.parametrize("share", [(0.9, 0.6), (0.0, 0.9), (nan, 0.9), (0.6, nan)])
def test_share_that_does_not_rise_is_refused(share: tuple[float, float]) -> None:
    with pytest.raises(Refused) as caught:
        fits_wheel(parse_size("P235/75R15"), rim_diameter=15, rim_width=7, rim_share=share)
    assert caught.value.field == "rim_share"


@pytest.mark.parametrize("odd", [0, -15, nan, inf])
def test_rim_that_is_no_size_is_refused(odd: float) -> None:
    for field, given_rim in (("rim_diameter", (odd, 7)), ("rim_width", (15, odd))):
        with pytest.raises(Refused) as caught:
            fits_wheel(parse_size("P235/75R15"), rim_diameter=given_rim[0], rim_width=given_rim[1])
        assert (caught.value.code, caught.value.field) == ("tyre_rim", field)


@given(st.floats(0.1, 100), st.floats(0.1, 100))
def test_any_wheel_is_only_questioned(diameter: float, width: float) -> None:
    questions = fits_wheel(parse_size("P235/75R15"), rim_diameter=diameter, rim_width=width)
    assert len(questions) <= 2
    assert all(question.message.endswith(".") and question.mend.endswith(".") for question in questions)


@pytest.mark.parametrize(
    ("left", "right", "codes"),
    # 49 CFR 570.9(b): same size designation, construction and profile on one axle.
    [
        ("P235/75R15", "P235/75R15 105S", []),
        ("P235/75R15", "p235-75 r15", []),
        ("P235/75R15", "P225/75R15", ["tyre_match_size"]),
        ("P235/75R15", "P235/70R15", ["tyre_match_size", "tyre_match_profile"]),
        ("FR78-15", "F78-15", ["tyre_match_size", "tyre_match_construction"]),
        ("P235/75R15", "235/75-15", ["tyre_match_size"]),
        ("7.75-14", "F70-14", ["tyre_match_size"]),
        ("F70-14", "FR78-14", ["tyre_match_size", "tyre_match_construction", "tyre_match_profile"]),
    ],
)
def test_two_tyres_of_one_axle(left: str, right: str, codes: list[str]) -> None:
    for first, second in ((left, right), (right, left)):
        assert [question.code for question in differ_on_axle(parse_size(first), parse_size(second))] == codes
