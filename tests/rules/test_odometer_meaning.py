"""Odometer readings beside each other, and the exemption from disclosure (49 CFR 580)."""

from datetime import date

import pytest

from inventory.rules.odometer_meaning import Reading, read_odometer
from inventory.rules.questions import Said

TODAY = date(2026, 3, 16)
BEFORE = date(2025, 5, 1)


def read(mileage: int | None, *others: Reading, status: str = "not_stated", year: int = 1968) -> Said:
    return read_odometer(mileage, on=TODAY, status=status, model_year=year, today=TODAY, others=others)


def test_reading_lower_than_an_earlier_one_is_asked_with_the_turn_over() -> None:
    (question,) = read(1240, Reading(99_800, BEFORE, "25-0004")).questions
    assert "it was 99,800. If it turned over at 99,999, it has run 101,240 miles or more." in question.text
    assert question.section == "49 CFR 580.5"


@pytest.mark.parametrize(
    ("mileage", "earlier", "told"),
    [(90_000, 120_000, "turned over at 999,999"), (90_000, 1_200_000, "it was 1,200,000. Read it again")],
)
def test_reading_of_six_digits_and_beyond_is_held_against_its_own_turn(mileage: int, earlier: int, told: str) -> None:
    (question,) = read(mileage, Reading(earlier, BEFORE, "25-0004")).questions
    assert told in question.text


def test_later_reading_that_is_lower_is_asked_under_its_stock_number() -> None:
    (question,) = read(61_240, Reading(60_000, date(2026, 9, 1), "26-0031", is_later=True)).questions
    assert question.where == "Odometer, 26-0031"
    assert read(61_240, Reading(62_000, date(2026, 9, 1), "26-0031", is_later=True)).questions == ()


def test_readings_that_rise_ask_nothing_and_are_told() -> None:
    said = read(61_240, Reading(59_000, BEFORE, "25-0004"))
    assert said.questions == ()
    assert [meaning.text for meaning in said.of("others")] == ["59,000 miles on 2025-05-01, as 25-0004."]


def test_actual_below_an_earlier_reading_is_asked_about_its_status() -> None:
    said = read(50_000, Reading(59_000, BEFORE, "25-0004"), status="actual")
    assert [question.where for question in said.questions] == ["Odometer", "Odometer, status"]


@pytest.mark.parametrize(("year", "asks"), [(2010, 0), (2011, 1)])
def test_status_is_asked_where_the_model_year_is_not_exempt(year: int, asks: int) -> None:
    # 49 CFR 580.17(a): in 2026 model year 2010 is exempt, 2011 is not before 2031.
    said = read(61_240, year=year)
    assert len(said.questions) == asks
    (told,) = said.of("exemption")
    assert ("exempt: model year 2010" in told.text) == (year == 2010)


def test_no_reading_asks_nothing() -> None:
    assert read(None, Reading(59_000, BEFORE, "25-0004"), year=2015).questions == ()
