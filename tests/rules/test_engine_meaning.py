"""What engine and driveline figures say, against worked figures."""

from decimal import Decimal
from typing import Any

import pytest

from inventory.rules.engine_meaning import Driveline, Engine, read_driveline, read_engine
from inventory.rules.questions import Said


def engine(**given: Any) -> Engine:
    numbers = {"bore_in", "stroke_in", "stated_displacement", "vacuum_inhg"}
    return Engine(**{name: Decimal(value) if name in numbers else value for name, value in given.items()})


def text_of(said: Said, name: str) -> str:
    return " ".join(meaning.text for meaning in said.of(name))


@pytest.mark.parametrize(
    ("bore", "stroke", "cylinders", "told"),
    # π ÷ 4 × bore² × stroke × cylinders; 16.387064 cc to the cu in.
    [
        ("4.00", "3.00", 8, "301.59 cu in, 4,942 cc"), ("4.00", "3.48", 8, "349.85 cu in, 5,733 cc"),
        ("4.03", "3.48", 8, "355.12 cu in, 5,819 cc"), ("3.736", "3.48", 8, "305.19 cu in, 5,001 cc"),
        ("3.4375", "4.00", 6, "222.73 cu in, 3,650 cc"),
    ],
)  # fmt: skip
def test_bore_and_stroke_give_the_displacement(bore: str, stroke: str, cylinders: int, told: str) -> None:
    assert told in text_of(read_engine(engine(bore_in=bore, stroke_in=stroke, cylinders=cylinders)), "bore_in")


@pytest.mark.parametrize(
    ("stated", "unit", "bore", "told"),
    [
        ("350", "cu_in", "4.00", ""), ("5.7", "litre", "4.00", ""), ("5733", "cc", "4.00", ""),
        ("350", "cu_in", "4.03", "350 fits a rebore by 0.030"),
        ("400", "cu_in", "4.00", "give 349.8 cu in, not the stated 400"),
        ("6.4", "litre", "4.00", "give 5733 cc, not the stated 6400"),
        ("5000", "cc", "4.00", "give 5733 cc, not the stated 5000"),
    ],
)  # fmt: skip
def test_stated_displacement_is_asked_where_it_does_not_follow(stated: str, unit: str, bore: str, told: str) -> None:
    said = read_engine(
        engine(bore_in=bore, stroke_in="3.48", cylinders=8, stated_displacement=stated, displacement_unit=unit)
    )
    assert [told in question.text for question in said.questions] == ([True] if told else [])


def test_stated_displacement_alone_is_told_in_both_units() -> None:
    # 1600 cc = 97.6 cu in; 5.0 L = 305.1 cu in.
    assert "97.6 cu in" in text_of(
        read_engine(engine(stated_displacement="1600", displacement_unit="cc")), "stated_displacement"
    )
    assert "305.1 cu in" in text_of(
        read_engine(engine(stated_displacement="5", displacement_unit="litre")), "stated_displacement"
    )


@pytest.mark.parametrize(("passes", "told"), [(600, ""), (390, "draws about 473"), (900, "draws 557 at the very most")])
def test_carburettor_is_held_against_the_air_of_the_engine(passes: int, told: str) -> None:
    # 350 cu in at 5500 rpm: 473 cu ft a minute filled to 85 %, 557 filled fully (cu in × rpm ÷ 3456).
    said = read_engine(
        engine(stated_displacement="350", displacement_unit="cu_in", redline_rpm=5500, carburettor_cfm=passes)
    )
    assert "about 473 cu ft a minute, filled to 85 %; 557 filled fully" in text_of(said, "carburettor_cfm")
    assert [told in question.text for question in said.questions] == ([True] if told else [])


def test_compression_names_lowest_each_and_the_limit() -> None:
    # One maker's manuals accept 75 % of the highest: of 150, 112.5.
    low = read_engine(engine(compression_psi=["150", "112", "140"]))
    assert "Lowest 112 psi in cylinder 2, 75 % of the highest, 150 psi" in text_of(low, "compression_psi")
    assert "1: 150 psi, 100 %; 2: 112 psi, 75 %; 3: 140 psi, 93 %" in text_of(low, "compression_psi")
    (question,) = low.questions
    assert (question.section, question.stops_drives) == ("one maker's manuals", False)
    assert "at least 112.5 was to be expected" in question.text
    assert read_engine(engine(compression_psi=["150", "112.5"])).questions == ()


@pytest.mark.parametrize("pressures", [["150"], ["0", "0"]])
def test_compression_without_a_spread_is_told_and_kept(pressures: list[str]) -> None:
    said = read_engine(engine(compression_psi=pressures))
    assert [meaning.unread for meaning in said.of("compression_psi")] == [True]


def test_pressures_of_other_than_all_cylinders_are_asked() -> None:
    (question,) = read_engine(engine(compression_psi=["150", "150"], cylinders=8)).questions
    assert "2 pressures were given for 8 cylinders" in question.text


@pytest.mark.parametrize(("vacuum", "asks"), [("17", 0), ("21", 0), ("16.9", 1), ("21.1", 1)])
def test_vacuum_outside_the_usual_is_asked(vacuum: str, asks: int) -> None:
    said = read_engine(engine(vacuum_inhg=vacuum))
    assert "17 to 21 inHg is usual at sea level" in text_of(said, "vacuum_inhg")
    assert len(said.questions) == asks


def driveline(**given: Any) -> Driveline:
    return Driveline(**{"axle_ratio": Decimal("3.73"), "top_gear_ratio": Decimal(1), **given})


def test_road_speed_at_the_red_line_matches_the_worked_figures() -> None:
    # 60 mph, 3.73, 28.88 in: 2604 rpm; 5500 rpm: 126.7 mph. 70 mph, 3.08, overdrive 0.70, 27 in is 1878 rpm.
    said = read_driveline(driveline(redline_rpm=5500), engine=Engine(), tyre_diameter_in=28.88)
    assert "60 mph in top gear is about 2,604 rpm with tyres 28.88 in across" in text_of(said, "axle_ratio")
    assert "5,500 rpm in top gear is 126.7 mph" in text_of(said, "redline_rpm")
    over = driveline(axle_ratio=Decimal("3.08"), top_gear_ratio=Decimal("0.70"))
    at_70 = 70 / 60 * 1610  # from the 1,610 rpm that the page tells at 60 mph
    said = read_driveline(over, engine=Engine(), tyre_diameter_in=27)
    assert "about 1,610 rpm" in text_of(said, "axle_ratio")
    assert at_70 == pytest.approx(1878, abs=1)


@pytest.mark.parametrize(("told_mph", "asks"), [(126, 0), (133, 0), (134, 1)])
def test_top_speed_told_is_asked_beyond_five_percent(told_mph: int, asks: int) -> None:
    # 126.7 mph and 5 % are 133.0.
    said = read_driveline(driveline(claimed_top_mph=told_mph), engine=engine(redline_rpm=5500), tyre_diameter_in=28.88)
    assert len(said.questions) == asks


def test_two_red_lines_are_asked() -> None:
    said = read_driveline(driveline(redline_rpm=6000), engine=engine(redline_rpm=5500), tyre_diameter_in=None)
    assert ["6,000 rpm here and 5,500" in question.text for question in said.questions] == [True]


def test_what_the_road_speed_lacks_is_told_and_silence_needs_nothing() -> None:
    said = read_driveline(Driveline(axle_ratio=Decimal("3.73")), engine=Engine(), tyre_diameter_in=None)
    assert "it needs the ratio of top gear and a tyre size of the driven axle" in text_of(said, "axle_ratio")
    assert read_driveline(Driveline(driven_axle="rear"), engine=Engine(), tyre_diameter_in=None) == Said()
    assert read_engine(Engine()) == Said()
