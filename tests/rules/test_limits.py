"""Every published limit below, at and above its figure; sections as 49 CFR Part 570 numbers them."""

import re
from datetime import date
from decimal import Decimal
from fractions import Fraction
from math import inf, nan
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.errors import Refused
from inventory.rules import limits
from inventory.rules.limit_rows import CRITERIA, LIMITS, Beyond, Known, System

HEAVY = {"over_10000_lb": True}

# code, conditions, flagged on which side, the figure, section. At the figure the rule's wording decides: “shall not
# exceed”, “not greater than”, “not less than” let it pass.
PUBLISHED: list[tuple[str, dict[str, Any], str, str, str]] = [
    ("pedal_travel", {}, "above", "80", "570.5(c)"),  # state's copy: a decrease of more than 80 percent
    ("pedal_travel", HEAVY, "above", "80", "570.55(c)"),
    ("stopping_distance", {}, "above", "25", "570.5(d)"),  # from memory
    ("brake_imbalance", {}, "above", "25", "570.5(d)"),  # from memory
    ("drum_diameter", {"maker_figure": "11.09"}, "above", "11.09", "570.5"),
    ("drum_diameter", {"maker_figure": "15.12", **HEAVY}, "above", "15.12", "570.59(b)"),
    ("rotor_thickness", {"maker_figure": "0.965"}, "below", "0.965", "570.5"),
    ("rotor_thickness", {"maker_figure": "1.215", **HEAVY}, "below", "1.215", "570.59(b)"),
    ("lining_thickness", {}, "below", "1", "570.5"),  # 1/32 in, state's copy
    ("lining_thickness", {"bonded": True}, "below", "1", "570.5"),
    ("lining_thickness", {"bonded": False, **HEAVY}, "below", "1", "570.59(c)"),
    ("lining_thickness", {"bonded": True, **HEAVY}, "below", "2", "570.59(c)"),  # 1/16 in
    ("lining_thickness", HEAVY, "below", "2", "570.59(c)"),
    ("vacuum_reserve", HEAVY, "below", "1", "570.56"),
    ("steering_lash", {"size_in": 15}, "above", "2", "570.7(a)"),  # table 1
    ("steering_lash", {"size_in": 16}, "above", "2", "570.7(a)"),
    ("steering_lash", {"size_in": 17}, "above", "2", "570.7(a)"),  # between the rows: the smaller one
    ("steering_lash", {"size_in": 18}, "above", "2.25", "570.7(a)"),
    ("steering_lash", {"size_in": 19}, "above", "2.25", "570.7(a)"),
    ("steering_lash", {"size_in": 20}, "above", "2.5", "570.7(a)"),
    ("steering_lash", {"size_in": 22}, "above", "2.75", "570.7(a)"),
    ("steering_lash", {"size_in": 24}, "above", "2.75", "570.7(a)"),
    ("steering_lash", {}, "above", "2", "570.7(a)"),
    ("steering_lash", {"size_in": 16, **HEAVY}, "above", "2", "570.60(a)"),  # table 2
    ("steering_lash", {"size_in": 18, **HEAVY}, "above", "2.25", "570.60(a)"),
    ("steering_lash", {"size_in": 20, **HEAVY}, "above", "2.5", "570.60(a)"),
    ("steering_lash", {"size_in": 22, **HEAVY}, "above", "2.75", "570.60(a)"),
    ("linkage_play", {}, "above", "0.25", "570.7(b)"),
    ("linkage_play", {"size_in": 20}, "above", "0.25", "570.7(b)"),
    ("linkage_play", {"size_in": 16, **HEAVY}, "above", "0.25", "570.60(b)"),  # table 3: 16 or less
    ("linkage_play", {"size_in": "16.01", **HEAVY}, "above", "0.375", "570.60(b)"),  # 16.01 through 18.00
    ("linkage_play", {"size_in": 18, **HEAVY}, "above", "0.375", "570.60(b)"),
    ("linkage_play", {"size_in": "18.01", **HEAVY}, "above", "0.5", "570.60(b)"),  # 18.01 or more
    ("linkage_play", HEAVY, "above", "0.25", "570.60(b)"),
    ("toe", {"maker_figure": "0.125"}, "above", "0.1875", "570.7(d)"),  # 1.5 times the maker's
    ("toe", {"maker_figure": "-0.1"}, "above", "0.15", "570.7(d)"),
    ("toe", {"maker_figure": "0.125", **HEAVY}, "above", "0.1875", "570.60(d)"),
    ("tread_depth", {}, "below", "2", "570.9(a)"),  # state's copy
    ("tread_depth", {"front": True}, "below", "2", "570.9(a)"),
    ("tread_depth", {"front": True, **HEAVY}, "below", "4", "570.62(a)"),
    ("tread_depth", {"front": False, **HEAVY}, "below", "2", "570.62(a)"),
    ("tread_depth", HEAVY, "below", "4", "570.62(a)"),
    ("wheel_runout_lateral", {}, "above", "0.125", "570.10(b)"),
    ("wheel_runout_radial", {}, "above", "0.125", "570.10(b)"),
    ("tyre_age", {}, "at or above", "10", "advice of the British rubber makers"),
    ("tyre_age", {"lot_limit": 8}, "at or above", "8", "advice of the British rubber makers"),
    ("spare_age", {}, "above", "6", "advice of the British rubber makers"),
    ("spare_age", HEAVY, "above", "6", "advice of the British rubber makers"),
    ("compression_spread", {}, "below", "75", "one maker's manuals"),
    ("compression_spread", {"lot_limit": 70}, "below", "70", "one maker's manuals"),  # another's figure
    ("leak_down", {}, "above", "20", "shop custom"),
    ("glass_light", {}, "below", "70", "571.205"),  # from memory
]
STEP = Decimal("0.001")


def typed(conditions: dict[str, Any]) -> Any:
    return {key: Decimal(value) if isinstance(value, str) else value for key, value in conditions.items()}


@pytest.mark.parametrize(("code", "conditions", "side", "figure", "section"), PUBLISHED)
def test_limit_is_flagged_beyond_and_passes_within(
    code: str, conditions: dict[str, Any], side: str, figure: str, section: str
) -> None:
    at, given_ = Decimal(figure), typed(conditions)
    beyond = at - STEP if side == "below" else at + STEP
    within = at + STEP if side == "below" else at - STEP
    flag = limits.judge(code, beyond, **given_)
    assert flag is not None
    assert flag.section.removeprefix("49 CFR ") == section
    assert flag.limit == Fraction(figure)
    assert limits.judge(code, within, **given_) is None
    assert (limits.judge(code, at, **given_) is not None) is (side == "at or above")


def test_every_row_of_the_table_is_held_by_a_published_figure() -> None:
    held = set()
    for code, conditions, *_ in PUBLISHED:
        row = limits._find(LIMITS[code], typed(conditions)).row
        held.add((code, row))
    assert held == {(code, row) for code, limit in LIMITS.items() for row in limit.rows}


@pytest.mark.parametrize(("code", "conditions", "side", "figure", "section"), PUBLISHED)
def test_sentence_names_reading_limit_section_and_who_decides(
    code: str, conditions: dict[str, Any], side: str, figure: str, section: str
) -> None:
    flag = limits.judge(code, Decimal("0.5") if side == "below" else 99, **typed(conditions))
    assert flag is not None
    assert f", {side} the limit of " in flag.message
    assert section in flag.message
    assert flag.known in flag.message
    assert flag.message.endswith("A licensed inspector or mechanic decides; check local law.")


@pytest.mark.parametrize(
    ("code", "reading", "conditions", "words"),
    [
        # 2/32 in = 1.59 mm, 1/32 in = 0.79 mm, 1/8 in = 3.18 mm: an inch is 25.4 mm.
        ("tread_depth", Decimal("1.5"), {}, "1.5/32 in, below the limit of 2/32 in (1.59 mm); 49 CFR 570.9(a)"),
        ("lining_thickness", 0, {}, "0/32 in, below the limit of 1/32 in (0.79 mm); 49 CFR 570.5 "),
        ("wheel_runout_radial", 0.2, {}, "0.2 in, above the limit of 1/8 in (3.18 mm); 49 CFR 570.10(b)"),
        ("steering_lash", 2.5, {"size_in": 18}, "2 1/2 in, above the limit of 2 1/4 in (57.15 mm); 49 CFR 570.7(a)"),
        ("pedal_travel", 85, {}, "85 %, above the limit of 80 %; 49 CFR 570.5(c)"),
        ("stopping_distance", 31, {}, "31 feet, above the limit of 25 feet; 49 CFR 570.5(d) (not yet checked"),
        ("toe", -0.25, {"maker_figure": 0.125}, "-0.25 in, above the limit of 3/16 in (4.76 mm)"),
        ("tyre_age", 10, {}, "10 years, at or above the limit of 10 years; advice of the British rubber makers"),
    ],
)
def test_sentence_reads_plainly(code: str, reading: Any, conditions: dict[str, Any], words: str) -> None:
    flag = limits.judge(code, reading, **conditions)
    assert flag is not None
    assert words in flag.message


@pytest.mark.parametrize(
    ("code", "conditions", "asked"),
    [
        ("steering_lash", {}, "the diameter of the steering wheel"),
        ("linkage_play", HEAVY, "the size of the rim"),
        ("lining_thickness", HEAVY, "whether the lining is bonded or riveted"),
        ("tread_depth", HEAVY, "whether it is a front tyre"),
    ],
)
def test_condition_left_out_uses_the_strictest_figure_and_says_so(
    code: str, conditions: dict[str, Any], asked: str
) -> None:
    flag = limits.judge(code, 0 if LIMITS[code].beyond is Beyond.BELOW else 9, **typed(conditions))
    assert flag is not None
    assert f"Not said: {asked}; the strictest figure is used." in flag.message
    known = limits.judge(code, flag.reading or 0, **typed({**conditions, "size_in": 16, "bonded": True, "front": True}))
    assert known is not None
    assert "Not said" not in known.message


@pytest.mark.parametrize(
    ("code", "conditions", "why"),
    [
        ("toe", {}, "give the maker's figure, to hold it against 49 CFR 570.7(d)"),
        ("drum_diameter", {}, "give the maker's figure, to hold it against 49 CFR 570.5"),
        ("rotor_thickness", HEAVY, "give the maker's figure, to hold it against 49 CFR 570.59(b)"),
        ("stopping_distance", HEAVY, "no published limit for a vehicle over 10,000 lb GVWR"),
        ("wheel_runout_radial", HEAVY, "no published limit for a vehicle over 10,000 lb GVWR"),
        ("vacuum_reserve", {}, "no published limit for a vehicle of 10,000 lb GVWR or less"),
    ],
)
def test_reading_without_a_limit_is_not_flagged_and_says_why(code: str, conditions: dict[str, Any], why: str) -> None:
    assert limits.judge(code, 0, **typed(conditions)) is None
    assert limits.judge(code, 999, **typed(conditions)) is None
    assert why in limits.unjudged(code, **typed(conditions))
    assert limits.limit_text(code, **typed(conditions)) == limits.unjudged(code, **typed(conditions))


@pytest.mark.parametrize(
    ("code", "conditions", "text"),
    [
        ("tread_depth", {}, "at least 2/32 in (1.59 mm) (49 CFR 570.9(a); as printed in a state's copy of the rule)."),
        ("linkage_play", {}, "at most 1/4 in (6.35 mm) (49 CFR 570.7(b); as printed in the rule)."),
        ("tyre_age", {}, "under 10 years (advice of the British rubber makers; published advice, not law)."),
        ("leak_down", {"lot_limit": 15}, "at most 15 % (shop custom; common practice, no published rule)."),
    ],
)
def test_limit_text_is_what_is_shown_beside_the_entry(code: str, conditions: dict[str, Any], text: str) -> None:
    assert limits.unjudged(code, **typed(conditions)) == ""
    assert limits.limit_text(code, **typed(conditions)) == f"{LIMITS[code].wording}: {text}"


@pytest.mark.parametrize(
    ("code", "reading", "conditions", "field"),
    [
        ("tread", 2, {}, "code"),
        ("tread_depth", -1, {}, "reading"),
        ("tread_depth", nan, {}, "reading"),
        ("toe", inf, {"maker_figure": 0.1}, "reading"),
        ("toe", 0.1, {"maker_figure": nan}, "maker_figure"),
        ("drum_diameter", 11, {"maker_figure": 0}, "maker_figure"),
        ("steering_lash", 2, {"size_in": -16}, "size_in"),
        ("tread_depth", 2, {"lot_limit": 1}, "lot_limit"),
        ("tyre_age", 2, {"lot_limit": 0}, "lot_limit"),
    ],
)
def test_what_is_no_reading_is_refused_by_field(code: str, reading: Any, conditions: Any, field: str) -> None:
    with pytest.raises(Refused) as caught:
        limits.judge(code, reading, **conditions)
    assert caught.value.field == field
    assert caught.value.mend


def test_a_law_is_not_the_lots_to_set() -> None:
    settings = {code for code, limit in LIMITS.items() if limit.setting}
    by_law = {code for code, limit in LIMITS.items() if limit.rows[0].cited.startswith("49 CFR")}
    assert settings == {"tyre_age", "spare_age", "compression_spread", "leak_down"}
    assert not settings & by_law


def test_only_brakes_steering_tyres_and_wheels_stop_test_drives() -> None:
    stopping = {code for code in LIMITS if code not in {"compression_spread", "leak_down", "glass_light"}}
    for code, limit in LIMITS.items():
        flag = limits.judge(code, 0 if limit.beyond is Beyond.BELOW else 99, maker_figure=5, over_10000_lb=False)
        flag = flag or limits.judge(code, 0, over_10000_lb=True)
        assert flag is not None
        assert flag.stops_drives is (code in stopping)
        assert (flag.code, flag.unit) == (code, limits.UNITS[code])


@pytest.mark.parametrize(
    ("code", "section", "heavy_section", "stops"),
    [
        ("brake_lamp", "570.5(a)", "570.55(a)", True),
        ("brake_integrity", "570.5(b)", "570.55(b)", True),
        ("brake_hoses", "570.5", "570.55(d)", True),
        ("free_turning", "570.7(c)", "570.60(c)", True),
        ("suspension", "570.8(a)", "570.61(a)", False),
        ("dampers", "570.8(b)", "570.61(b)", False),
        ("tyre_match", "570.9(b)", "570.62", True),
        ("tyre_condition", "570.9(c) and (d)", "570.62", True),
        ("wheel_sound", "570.10(a)", "570.63(a)", True),
        ("wheel_nuts", "570.10(c)", "570.63(c)", True),
    ],
)
def test_criterion_not_met_is_flagged_with_its_section(
    code: str, section: str, heavy_section: str, stops: bool
) -> None:
    light, heavy = limits.failed(code), limits.failed(code, over_10000_lb=True)
    assert (light.section, heavy.section) == (f"49 CFR {section}", f"49 CFR {heavy_section}")
    assert light.stops_drives is heavy.stops_drives is stops
    assert light.message.startswith("Not met: ")
    assert f"{light.section} ({light.known}). {limits.DECIDES}" in light.message
    assert light.reading is light.limit is None


def test_criteria_are_all_tested_and_an_unknown_one_is_refused() -> None:
    assert len(CRITERIA) == 10
    with pytest.raises(Refused, match="“horn” is nothing with a published limit") as caught:
        limits.failed("horn")
    assert "brake_lamp" in caught.value.mend


def test_brake_integrity_criterion_keeps_force_and_time_of_the_rule() -> None:
    # 49 CFR 570.5(b), 570.55(b): 125 lb on the pedal, held for 10 seconds.
    assert "125 lb on the pedal for 10 seconds" in limits.failed("brake_integrity").message


def test_sections_are_of_the_part_and_of_the_right_subpart() -> None:
    for limit in LIMITS.values():
        for row in limit.rows:
            if row.cited.startswith("49 CFR 570."):
                number = re.match(r"570\.([0-9]+)", row.section)
                assert number is not None
                assert (int(number[1]) > 50) is row.heavy


def test_figures_from_memory_are_the_ones_that_say_so() -> None:
    unsure = {code for code, limit in LIMITS.items() if any(row.known is Known.MEMORY for row in limit.rows)}
    assert unsure == {"stopping_distance", "brake_imbalance", "glass_light"}


codes = st.sampled_from(sorted(LIMITS))
readings = st.decimals(0, 200, places=3)
told = st.fixed_dictionaries(
    {"maker_figure": st.decimals("0.05", 20, places=3)},
    optional={
        "over_10000_lb": st.booleans(), "front": st.booleans(), "bonded": st.booleans(),
        "size_in": st.decimals(10, 26, places=2),
    },
)  # fmt: skip


@given(codes, readings, st.decimals(0, 50, places=3), told)
def test_a_worse_reading_is_never_let_pass(code: str, reading: Decimal, worse_by: Decimal, conditions: Any) -> None:
    worse = max(Decimal(0), reading - worse_by) if LIMITS[code].beyond is Beyond.BELOW else reading + worse_by
    if limits.judge(code, reading, **conditions) is not None:
        assert limits.judge(code, worse, **conditions) is not None


@given(codes, readings, told)
def test_knowing_more_never_adds_a_flag(code: str, reading: Decimal, conditions: Any) -> None:
    fewer = {key: value for key, value in conditions.items() if key in ("maker_figure", "over_10000_lb")}
    if limits.judge(code, reading, **fewer) is None:
        assert limits.judge(code, reading, **conditions) is None


@given(readings, st.decimals("-1", 1, places=3))
def test_toe_in_and_toe_out_are_alike(reading: Decimal, maker: Decimal) -> None:
    one, other = limits.judge("toe", reading, maker_figure=maker), limits.judge("toe", -reading, maker_figure=-maker)
    assert (one is None) is (other is None)


@given(st.sampled_from([limits.INCHES, limits.THIRTY_SECONDS, "feet"]), st.fractions(0, 100))
def test_millimetres_are_exact(unit: str, value: Fraction) -> None:
    length = limits.in_millimetres(value, unit=unit)
    if unit == "feet":
        assert length is None
    else:
        assert length == value * 254 / 10 / (32 if unit == limits.THIRTY_SECONDS else 1)


@pytest.mark.parametrize(
    ("built_on", "car", "expected"),
    # 570.5(a) by the state's copy: cars from 1 January 1968, others from 1 September 1975.
    [
        (date(1967, 12, 31), True, False),
        (date(1968, 1, 1), True, True),
        (date(1975, 8, 31), False, False),
        (date(1975, 9, 1), False, True),
    ],
)
def test_brake_lamp_is_expected_from_its_date(built_on: date, car: bool, expected: bool) -> None:
    assert limits.brake_lamp_expected(built_on, passenger_car=car) is expected


def test_brake_sizes_are_cast_from_1971() -> None:
    # 570.59(b): generally on vehicles made since 1 January 1971.
    assert not limits.brake_sizes_cast_expected(date(1970, 12, 31))
    assert limits.brake_sizes_cast_expected(date(1971, 1, 1))


@pytest.mark.parametrize(
    ("toe", "diameter", "feet"),
    # 5280 × total toe ÷ tyre diameter, worked by hand.
    [("0.125", 26, 25.4), ("0.0625", 24, 13.8), ("0.25", 28, 47.1), ("-0.125", 26, -25.4)],
)
def test_side_slip_matches_the_worked_values(toe: str, diameter: int, feet: float) -> None:
    assert round(limits.side_slip_ft_per_mile(Decimal(toe), tyre_diameter_in=diameter), 1) == feet


def test_stop_from_20_mph_in_25_feet_is_half_a_g() -> None:
    # v² ÷ 2d with v = 29.33 ft/s is 17.21 ft/s², over 32.174: 0.535 g.
    assert round(limits.deceleration_g(20, stopping_ft=25), 3) == 0.535


@pytest.mark.parametrize(("mph", "feet", "field"), [(0, 25, "mph"), (20, 0, "stopping_ft"), (20, inf, "stopping_ft")])
def test_stop_that_is_none_is_refused(mph: float, feet: float, field: str) -> None:
    with pytest.raises(Refused) as caught:
        limits.deceleration_g(mph, stopping_ft=feet)
    assert caught.value.field == field


def test_units_and_systems_of_the_table_are_named() -> None:
    assert set(limits.UNITS.values()) == {
        "32nds of an inch", "inches", "%", "feet", "years", "full applications",
    }  # fmt: skip
    assert {limit.system for limit in LIMITS.values()} == set(System) - {System.SUSPENSION}
