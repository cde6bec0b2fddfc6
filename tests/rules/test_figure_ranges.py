"""Numbers as people type them, and the bounds that catch slips."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.errors import Refused
from inventory.rules import figure_ranges as rules


@pytest.mark.parametrize(
    ("name", "text", "value"),
    [
        ("bore_in", "4.030", "4.03"), ("bore_in", " 4 ", "4"), ("redline_rpm", "5,500", "5500"),
        ("top_gear_ratio", ".70", "0.7"), ("vacuum_inhg", "0", "0"), ("bore_in", "1", "1"), ("bore_in", "8", "8"),
    ],
)  # fmt: skip
def test_number_is_read(name: str, text: str, value: str) -> None:
    assert rules.read_figure(name, text) == Decimal(value)


@pytest.mark.parametrize(
    ("name", "text", "told"),
    [
        ("bore_in", "40", "Bore: 40 in cannot be. Give 1 to 8 in, such as 4.030."),
        ("bore_in", "0.9999", "Bore: 0.9999 in cannot be."),
        ("bore_in", "8.0001", "Bore: 8.0001 in cannot be."),
        ("bore_in", "four", "Bore: “four” is not a number. Give 1 to 8 in, such as 4.030."),
        ("bore_in", "4.03125", "4.03125 is finer than it is kept. Give 1 to 8 in with at most 4 decimals"),
        ("bore_in", "4,03", "“4,03” is not a number"),
        ("bore_in", "-4", "Bore: -4 in cannot be."),
        ("bore_in", "٤", "is not a number"),
        ("bore_in", "NaN", "is not a number"),
        ("cylinders", "8.5", "8.5 is finer than it is kept. Give 1 to 16 as a whole number"),
        ("axle_ratio", "x" * 500, "…” is not a number"),
    ],
)
def test_number_that_cannot_be_is_refused_with_its_name_value_and_mend(name: str, text: str, told: str) -> None:
    with pytest.raises(Refused) as caught:
        rules.read_figure(name, text)
    assert told in str(caught.value)
    assert (caught.value.field, caught.value.got) == (name, text) if "number" in told else True


@pytest.mark.parametrize("value", ["NaN", "Infinity"])
def test_figure_that_is_no_number_is_refused(value: str) -> None:
    with pytest.raises(Refused, match="cannot be"):
        rules.check_figure("bore_in", Decimal(value))


@pytest.mark.parametrize(
    "text", ["150 148 152", "150, 148, 152", "150,148,152", "150/148/152", "150; 148;152,", "150\n148\t152"]
)
def test_pressures_are_read_in_order(text: str) -> None:
    assert rules.read_pressures(text) == ["150", "148", "152"]


@pytest.mark.parametrize("text", ["", "  ", "150 x", "401", "-1", "1 " * 17, "150.55"])
def test_pressures_that_cannot_be_are_refused(text: str) -> None:
    with pytest.raises(Refused) as caught:
        rules.read_pressures(text)
    assert caught.value.field == "compression_psi"
    assert caught.value.mend


@pytest.mark.parametrize(
    ("value", "unit", "sound"),
    [
        ("350", "cu_in", True), ("2.9", "cu_in", False), ("2001", "cu_in", False), ("1600", "cc", True),
        ("350", "litre", False), ("5.7", "litre", True), ("5.7", "cc", False), ("350", "", False),
    ],
)  # fmt: skip
def test_displacement_is_one_an_engine_can_have_in_its_unit(value: str, unit: str, sound: bool) -> None:
    if sound:
        assert rules.check_displacement(Decimal(value), unit=unit) == Decimal(value)
        return
    with pytest.raises(Refused) as caught:
        rules.check_displacement(Decimal(value), unit=unit)
    assert caught.value.field == ("stated_displacement" if unit else "displacement_unit")


@given(name=st.sampled_from(sorted(rules.RANGES)), text=st.text(max_size=30))
def test_any_text_is_a_figure_within_its_range_or_refused_on_its_field(name: str, text: str) -> None:
    problem: Refused | None = None
    value = None
    try:
        value = rules.read_figure(name, text)
    except Refused as refusal:
        problem = refusal
    if value is None:
        assert problem is not None
        assert (problem.field, bool(problem.mend)) == (name, True)
    else:
        assert rules.RANGES[name].least <= value <= rules.RANGES[name].most


@pytest.mark.parametrize("name", sorted(rules.RANGES))
def test_example_of_every_figure_is_read(name: str) -> None:
    assert rules.read_figure(name, rules.RANGES[name].example) > 0
