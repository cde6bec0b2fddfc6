"""Engine and driveline figures against worked values; each states where its number comes from."""

from math import inf, nan, pi
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.errors import Refused
from inventory.rules import engine_figures as figures
from inventory.rules.engine_figures import PowerRating


@pytest.mark.parametrize(
    ("bore", "stroke", "cylinders", "cu_in", "cc"),
    # π/4 × bore² × stroke × cylinders, 1 cu in = 16.387064 cc, worked by hand.
    [
        (4.00, 3.00, 8, 301.59, 4942.2),
        (4.00, 3.48, 8, 349.85, 5733.0),
        (4.03, 3.48, 8, 355.12, 5819.3),
        (3.736, 3.48, 8, 305.19, 5001.2),
        (3.4375, 4.00, 6, 222.73, 3650.0),
    ],
)
def test_displacement_in_inches_and_millimetres(
    bore: float, stroke: float, cylinders: int, cu_in: float, cc: float
) -> None:
    assert round(figures.displacement_in(bore_in=bore, stroke_in=stroke, cylinders=cylinders), 2) == cu_in
    metric = figures.displacement_cc(bore_mm=bore * 25.4, stroke_mm=stroke * 25.4, cylinders=cylinders)
    assert round(metric, 1) == cc


@pytest.mark.parametrize(("cc", "cu_in"), [(1600, 97.6), (5000, 305.1), (16.387064, 1.0)])
def test_cubic_inches_of_cubic_centimetres(cc: float, cu_in: float) -> None:
    # 1 cu in = 2.54³ cc = 16.387064 cc: 1600 cc = 97.6 cu in, 5.0 L = 305.1 cu in.
    assert round(figures.cu_in_of_cc(cc), 1) == cu_in


@given(st.floats(20, 150), st.floats(20, 150), st.integers(1, 16))
def test_displacement_in_metric_is_that_of_its_cylinders(bore: float, stroke: float, cylinders: int) -> None:
    computed = figures.displacement_cc(bore_mm=bore, stroke_mm=stroke, cylinders=cylinders)
    assert computed == pytest.approx(pi / 4 * bore**2 * stroke * cylinders / 1000)


@pytest.mark.parametrize(
    ("stated", "bore", "code"),
    # Stroke 3.48, eight cylinders. Rebore steps 0.020, 0.030, 0.040, 0.060 in; more than 2 % off. Common practice.
    [
        (350, 4.00, None),
        (353, 4.00, None),
        (350, 4.02, "engine_rebored"),
        (350, 4.03, "engine_rebored"),
        (350, 4.04, "engine_rebored"),
        (350, 4.06, "engine_rebored"),
        (305, 3.736, None),
        (357.5, 4.00, "engine_displacement"),  # 2.1 % off
        (356.5, 4.00, None),  # 1.9 % off
        (327, 4.00, "engine_displacement"),
    ],
)
def test_displacement_is_questioned_in_inches_and_in_millimetres(stated: float, bore: float, code: str | None) -> None:
    question = figures.question_displacement(stated, bore_in=bore, stroke_in=3.48, cylinders=8)
    assert (question and question.code) == code
    metric = figures.question_displacement_metric(
        stated * 16.387064, bore_mm=bore * 25.4, stroke_mm=3.48 * 25.4, cylinders=8
    )
    assert (metric and metric.code) == code


def test_metric_question_speaks_in_cubic_centimetres() -> None:
    odd = figures.question_displacement_metric(1300, bore_mm=85.5, stroke_mm=69, cylinders=4)
    rebored = figures.question_displacement_metric(5733, bore_mm=102.362, stroke_mm=88.392, cylinders=8)
    assert odd is not None
    assert rebored is not None
    assert odd.message == "Bore and stroke give 1585 cc, not the stated 1300."
    assert rebored.message == "Bore and stroke give 5819 cc, not the stated 5733; it would fit a rebore."


@pytest.mark.parametrize(
    ("efficiency", "cfm"),
    # cu in × rpm ÷ 3456 × VE: 350 at 5500 gives 473 at 0.85, 557 at 1.
    [(0.85, 473), (1.0, 557)],
)
def test_carburettor_air_matches_the_worked_values(efficiency: float, cfm: int) -> None:
    assert round(figures.carburettor_cfm(cu_in=350, rpm=5500, volumetric_efficiency=efficiency)) == cfm


def test_carburettor_air_is_half_the_displacement_a_turn() -> None:
    # A four-stroke of one cubic foot (1,728 cu in) draws half a cubic foot a turn.
    assert figures.carburettor_cfm(cu_in=1728, rpm=1000) == 500


def test_efficiency_given_as_a_percentage_is_refused() -> None:
    with pytest.raises(Refused, match="85 cannot be the volumetric efficiency") as caught:
        figures.carburettor_cfm(cu_in=350, rpm=5500, volumetric_efficiency=85)
    assert caught.value.field == "volumetric_efficiency"
    assert caught.value.mend == "Give it as a share: 0.85, not 85 per cent."


def test_power_and_torque_are_equal_at_5252() -> None:
    # hp = lb-ft × rpm ÷ 5252, and 33000 ÷ 2π = 5252.1.
    assert figures.horsepower(torque_lb_ft=300, rpm=5252) == 300
    assert figures.horsepower(torque_lb_ft=400, rpm=2626) == 200
    assert round(33_000 / (2 * pi)) == figures.TORQUE_CONSTANT


@pytest.mark.parametrize(
    ("rating", "year", "asked"),
    # US figures went from SAE gross to net about model year 1972 (from memory).
    [
        (PowerRating.GROSS, 1971, False),
        (PowerRating.NET, 1971, True),
        (PowerRating.GROSS, 1972, False),
        (PowerRating.NET, 1972, False),
        (PowerRating.GROSS, 1973, True),
        (PowerRating.NET, 1973, False),
    ],
)
def test_power_rating_is_questioned_away_from_1972(rating: PowerRating, year: int, asked: bool) -> None:
    question = figures.question_power_rating(rating, model_year=year)
    assert (question is not None) is asked
    if question is not None:
        usual = "net" if rating == "gross" else "gross"
        assert f"given as {rating}; a US figure of model year {year} is usually {usual}" in question.message


@pytest.mark.parametrize(
    ("mph", "axle", "gear", "diameter", "rpm"),
    # mph × axle × gear × 336 ÷ diameter, worked by hand.
    [(60, 3.73, 1.0, 28.88, 2604), (70, 3.08, 0.70, 27, 1878)],
)
def test_engine_speed_matches_the_worked_values(
    mph: float, axle: float, gear: float, diameter: float, rpm: int
) -> None:
    by_rule = figures.engine_rpm_by_diameter(mph, axle_ratio=axle, gear_ratio=gear, tyre_diameter_in=diameter)
    assert round(by_rule) == rpm
    turns = figures.revolutions_per_mile(diameter)
    exact = figures.engine_rpm(mph, axle_ratio=axle, gear_ratio=gear, tyre_rev_per_mile=turns)
    assert exact == pytest.approx(rpm, rel=0.0006)  # 336 for 336.135 is 0.04 %, and the value itself is rounded


def test_road_speed_at_5500_matches_the_worked_value() -> None:
    # 5500 rpm, axle 3.73, tyre of 28.88 in: 126.7 mph.
    turns = figures.revolutions_per_mile(28.88)
    assert round(figures.road_speed_mph(5500, axle_ratio=3.73, tyre_rev_per_mile=turns), 1) == 126.7


def test_the_trades_336_is_63360_over_60_pi() -> None:
    assert round(63_360 / (60 * pi), 3) == 336.135
    assert round(63_360 / (60 * pi)) == figures.ROAD_CONSTANT


@pytest.mark.parametrize(
    ("diameter", "turns"),
    # 63360 ÷ (π × diameter): the free tyres of the size table.
    [(28.88, 698), (27.11, 744), (25.85, 780), (31.73, 636), (33.07, 610), (33, 611), (31.12, 648)],
)
def test_revolutions_per_mile_match_the_size_table(diameter: float, turns: int) -> None:
    assert round(figures.revolutions_per_mile(diameter)) == turns


def test_tyre_a_mile_round_turns_once() -> None:
    # A mile is 63,360 inches.
    assert figures.revolutions_per_mile(63_360 / pi) == pytest.approx(1, rel=1e-9)


ratios = st.floats(2, 6)
gears = st.floats(0.5, 4)
turns_a_mile = st.floats(500, 1000)


@given(st.floats(0, 200), ratios, gears, turns_a_mile)
def test_road_speed_is_the_way_back_of_engine_speed(mph: float, axle: float, gear: float, turns: float) -> None:
    rpm = figures.engine_rpm(mph, axle_ratio=axle, gear_ratio=gear, tyre_rev_per_mile=turns)
    back = figures.road_speed_mph(rpm, axle_ratio=axle, gear_ratio=gear, tyre_rev_per_mile=turns)
    assert back == pytest.approx(mph)


@given(st.floats(1, 200), ratios, gears, st.floats(20, 40))
def test_rule_by_diameter_stays_near_the_exact(mph: float, axle: float, gear: float, diameter: float) -> None:
    exact = figures.engine_rpm(
        mph, axle_ratio=axle, gear_ratio=gear, tyre_rev_per_mile=figures.revolutions_per_mile(diameter)
    )
    by_rule = figures.engine_rpm_by_diameter(mph, axle_ratio=axle, gear_ratio=gear, tyre_diameter_in=diameter)
    assert by_rule == pytest.approx(exact, rel=0.0005)


@pytest.mark.parametrize(
    ("stated", "asked"),
    # 126.7 mph can be had (above); 5 % for the tyre is 133.0.
    [(120, False), (126.7, False), (132.9, False), (133.2, True), (160, True)],
)
def test_road_speed_that_the_ratio_cannot_give_is_questioned(stated: float, asked: bool) -> None:
    turns = figures.revolutions_per_mile(28.88)
    question = figures.question_road_speed(stated, red_line_rpm=5500, axle_ratio=3.73, tyre_rev_per_mile=turns)
    assert (question is not None) is asked


def test_road_speed_question_names_every_fact() -> None:
    question = figures.question_road_speed(160, red_line_rpm=5500, axle_ratio=3.73, tyre_rev_per_mile=698)
    assert question is not None
    assert question.message == (
        "160 mph was stated; 5,500 rpm with an axle of 3.73, a gear of 1 and 698 tyre turns a mile "
        "give 127 mph at most."
    )


@pytest.mark.parametrize(
    ("rpm", "asked"),
    # 60 mph, axle 3.73, 698 turns a mile: 2603.5; 5 % either way is 2473.4 to 2733.7.
    [(2604, False), (2474, False), (2473, True), (2733, False), (2734, True), (2150, True)],
)
def test_cruise_that_the_ratio_does_not_give_is_questioned(rpm: float, asked: bool) -> None:
    question = figures.question_cruise(rpm, mph=60, axle_ratio=3.73, tyre_rev_per_mile=698)
    assert (question is not None) is asked


def test_cruise_question_names_the_axle_that_fits() -> None:
    question = figures.question_cruise(2150, mph=60, axle_ratio=3.73, tyre_rev_per_mile=698)
    assert question is not None
    assert question.message == (
        "2,150 rpm was read at 60 mph; an axle of 3.73 would give 2,604, and what was read fits 3.08."
    )


def test_compression_names_lowest_highest_and_spread() -> None:
    found = figures.compression([150, 148, 120, 145])
    assert (found.lowest_psi, found.highest_psi, found.lowest_cylinder, found.percent) == (120, 150, 3, 80)


@pytest.mark.parametrize(
    ("lowest", "least_percent", "least_psi", "asked"),
    # One maker: lowest at least 75 % of highest, of 150 flagged under 112.5. Another: 70 %, 150 → 105, none under 100.
    [
        (112.5, 75, 0, False),
        (112.4, 75, 0, True),
        (105, 70, 100, False),
        (104.9, 70, 100, True),
        (112, 70, 0, False),
    ],
)
def test_compression_spread_is_questioned_under_the_makers_share(
    lowest: float, least_percent: float, least_psi: float, asked: bool
) -> None:
    question = figures.question_compression([150, lowest], least_percent=least_percent, least_psi=least_psi)
    assert (question is not None) is asked


def test_compression_default_is_75_percent_and_the_question_names_the_cylinder() -> None:
    question = figures.question_compression([150, 150, 90])
    assert question is not None
    assert question.message == ("Cylinder 3 has 90 psi, 60 % of the highest, 150; at least 112.5 was to be expected.")


def test_compression_even_but_low_everywhere_is_questioned_by_the_least_pressure() -> None:
    # Another maker: none under 100 psi.
    assert figures.question_compression([95, 95], least_percent=70) is None
    assert figures.question_compression([99, 100], least_percent=70, least_psi=100) is not None
    assert figures.question_compression([100, 100], least_percent=70, least_psi=100) is None


def test_equal_pressures_are_exactly_all_of_the_highest() -> None:
    assert figures.compression([164.25971652442115] * 2).percent == 100


@given(st.lists(st.floats(1, 300), min_size=2, max_size=16), st.randoms())
def test_compression_spread_does_not_hang_on_the_order(pressures: list[float], random: Any) -> None:
    shuffled = list(pressures)
    random.shuffle(shuffled)
    one, other = figures.compression(pressures), figures.compression(shuffled)
    assert (one.lowest_psi, one.highest_psi, one.percent) == (other.lowest_psi, other.highest_psi, other.percent)
    assert 0 < one.percent <= 100


@pytest.mark.parametrize(
    ("altitude", "low", "high"),
    # 17 to 21 inHg at idle, about 1 less per 1,000 ft. Common practice.
    [(0, 17, 21), (1000, 16, 20), (5000, 12, 16)],
)
def test_idle_vacuum_falls_with_altitude(altitude: float, low: float, high: float) -> None:
    assert figures.idle_vacuum_in_hg(altitude) == (low, high)
    assert figures.question_idle_vacuum(low, altitude_ft=altitude) is None
    assert figures.question_idle_vacuum(high, altitude_ft=altitude) is None
    for reading in (low - 0.1, high + 0.1):
        question = figures.question_idle_vacuum(reading, altitude_ft=altitude)
        assert question is not None
        assert f"{low} to {high} is usual at {altitude:,} ft" in question.message


ENGINE = {"bore_in": 4.0, "stroke_in": 3.48, "cylinders": 8}
METRIC = {"bore_mm": 86.0, "stroke_mm": 86.0, "cylinders": 4}
ROAD = {"axle_ratio": 3.73, "tyre_rev_per_mile": 698.0, "gear_ratio": 1.0}
SPOILT: list[tuple[Any, tuple[Any, ...], dict[str, Any], str]] = [
    *[(figures.displacement_in, (), ENGINE | {name: 0}, name) for name in ENGINE],
    *[(figures.displacement_cc, (), METRIC | {name: nan}, name) for name in METRIC],
    (figures.cu_in_of_cc, (-1,), {}, "cc"),
    (figures.question_displacement, (0,), ENGINE, "stated_cu_in"),
    (figures.question_displacement, (350,), ENGINE | {"bore_in": inf}, "bore_in"),
    (figures.question_displacement_metric, (0,), METRIC, "stated_cc"),
    (figures.carburettor_cfm, (), {"cu_in": 0, "rpm": 5500}, "cu_in"),
    (figures.carburettor_cfm, (), {"cu_in": 350, "rpm": inf}, "rpm"),
    (figures.horsepower, (), {"torque_lb_ft": -1, "rpm": 5500}, "torque_lb_ft"),
    (figures.horsepower, (), {"torque_lb_ft": 300, "rpm": nan}, "rpm"),
    (figures.revolutions_per_mile, (0,), {}, "diameter_in"),
    (figures.engine_rpm, (-1,), ROAD, "mph"),
    *[(figures.engine_rpm, (60,), ROAD | {name: 0}, name) for name in ROAD],
    (figures.road_speed_mph, (-1,), ROAD, "rpm"),
    *[(figures.road_speed_mph, (5500,), ROAD | {name: 0}, name) for name in ROAD],
    (figures.engine_rpm_by_diameter, (60,), {"axle_ratio": 3.73, "tyre_diameter_in": 0}, "tyre_diameter_in"),
    (figures.engine_rpm_by_diameter, (-1,), {"axle_ratio": 3.73, "tyre_diameter_in": 27}, "mph"),
    (figures.question_road_speed, (0,), ROAD | {"red_line_rpm": 5500}, "stated_mph"),
    (figures.question_road_speed, (120,), ROAD | {"red_line_rpm": -1}, "rpm"),
    (figures.question_cruise, (0,), ROAD | {"mph": 60}, "rpm"),
    (figures.question_cruise, (2600,), ROAD | {"mph": 0}, "mph"),
    (figures.compression, ([150],), {}, "pressures_psi"),
    (figures.compression, ([150, -1],), {}, "pressures_psi"),
    (figures.compression, ([0, 0],), {}, "pressures_psi"),
    (figures.question_compression, ([150, 150],), {"least_percent": nan}, "least_percent"),
    (figures.question_compression, ([150, 150],), {"least_psi": -1}, "least_psi"),
    (figures.idle_vacuum_in_hg, (nan,), {}, "altitude_ft"),
    (figures.idle_vacuum_in_hg, (15_001,), {}, "altitude_ft"),
    (figures.question_idle_vacuum, (-1,), {}, "in_hg"),
]


@pytest.mark.parametrize(("function", "given_", "named", "field"), SPOILT)
def test_figure_that_cannot_be_is_refused_by_field_value_and_mend(
    function: Any, given_: tuple[Any, ...], named: dict[str, Any], field: str
) -> None:
    with pytest.raises(Refused) as caught:
        function(*given_, **named)
    assert (caught.value.code, caught.value.field) == ("engine_figure", field)
    assert str(caught.value.got) in caught.value.message
    assert caught.value.mend
