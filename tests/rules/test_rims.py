"""Wheel sizes as they stand on wheels and in notes."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.errors import Refused
from inventory.rules.rims import Rim, parse_rim


@pytest.mark.parametrize(
    ("text", "diameter", "width"),
    [
        ("15x7", "15", "7"), ("15 X 7.5", "15", "7.5"), ("7Jx15", "15", "7"), ("7JJ x 15", "15", "7"),
        ("16.5x8,25", "16.5", "8.25"), ('15"x6"', "15", "6"), ("15×7", "15", "7"), ("15-6", "15", "6"),
        ("15 x 7 in", "15", "7"), ("10x10", "10", "10"), ("15x5K", "15", "5"),
    ],
)  # fmt: skip
def test_rim_is_read_with_the_larger_figure_as_its_diameter(text: str, diameter: str, width: str) -> None:
    assert parse_rim(text) == Rim(Decimal(diameter), Decimal(width))


def test_rim_may_be_a_diameter_alone() -> None:
    assert parse_rim("14") == Rim(Decimal(14), None)
    assert (str(parse_rim("14")), str(parse_rim("15x7"))) == (
        "14 in across", "15 in across, 7 in wide between the flanges",
    )  # fmt: skip


@pytest.mark.parametrize("text", ["", "steel", "9x5", "27x9", "15x2", "15x7x3", "390", "15x", "x7", "15 7", "1٥x7"])
def test_rim_that_cannot_be_is_refused_with_the_text(text: str) -> None:
    with pytest.raises(Refused) as caught:
        parse_rim(text)
    assert (caught.value.field, caught.value.got) == ("rim", text)
    assert "such as 15x7" in caught.value.mend


@given(st.text(max_size=20))
def test_any_text_is_a_rim_or_refused(text: str) -> None:
    try:
        rim = parse_rim(text)
    except Refused:
        return
    assert 10 <= rim.diameter_in <= 26
    assert rim.width_in is None or rim.width_in <= rim.diameter_in
