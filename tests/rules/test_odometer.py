"""Odometer statuses, exemptions and turning over: 49 CFR Part 580."""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.errors import Refused
from inventory.rules import odometer
from inventory.rules.plausibility import odometer_exempt
from inventory.rules.words import OdometerStatus

MARCH_1 = date(2026, 3, 1)


@pytest.mark.parametrize(
    ("sold_on", "newest_exempt"),
    # 580.17(a), worked out year by year; the rule's own examples: in 2020 model year 2010, in 2031 model year 2011.
    [
        ("2019-12-31", 2009),
        ("2020-01-01", 2010),
        ("2024-01-01", 2010),
        ("2030-12-31", 2010),
        ("2031-01-01", 2011),
        ("2031-12-31", 2011),
        ("2032-01-01", 2012),
        ("2041-01-01", 2021),
    ],
)
def test_exemption_reaches_the_model_year_of_the_rule_and_no_newer(sold_on: str, newest_exempt: int) -> None:
    day = date.fromisoformat(sold_on)
    assert odometer.exemption(newest_exempt, sold_on=day).exempt
    assert not odometer.exemption(newest_exempt + 1, sold_on=day).exempt


@pytest.mark.parametrize(
    ("model_year", "free_from"),
    [(1969, 1979), (2009, 2019), (2010, 2020), (2011, 2031), (2012, 2032), (2025, 2045)],
)
def test_exempt_from_is_ten_years_to_2010_and_twenty_after(model_year: int, free_from: int) -> None:
    assert odometer.exempt_from(model_year) == date(free_from, 1, 1)


def test_exemption_says_since_when_and_that_states_may_ask_more() -> None:
    old, young = (odometer.exemption(year, sold_on=MARCH_1) for year in (1969, 2015))
    assert old.why.startswith("Exempt: model year 1969 is free of the disclosure since 1979-01-01.")
    assert young.why.startswith("To be disclosed: model year 2015 is exempt only from 2035-01-01.")
    assert old.why.endswith("check local law.")
    assert young.why.endswith("check local law.")


@pytest.mark.parametrize(
    ("gvwr_lb", "self_propelled", "exempt"),
    # 580.17(a): over 16,000 lb, and not self-propelled.
    [(None, True, False), (15_999, True, False), (16_000, True, False), (16_001, True, True), (None, False, True)],
)
def test_exemption_by_weight_and_propulsion(gvwr_lb: int | None, self_propelled: bool, exempt: bool) -> None:
    found = odometer.exemption(2020, sold_on=MARCH_1, gvwr_lb=gvwr_lb, self_propelled=self_propelled)
    assert found.exempt is exempt
    assert found.why.startswith("Exempt: " if exempt else "To be disclosed: ")
    assert found.free_from == date(2040, 1, 1)


@pytest.mark.parametrize("year", [0, 1885, 9001, 20100])
def test_model_year_that_cannot_be_is_refused(year: int) -> None:
    with pytest.raises(Refused, match=f"A model year of {year} is not possible") as caught:
        odometer.exemption(year, sold_on=MARCH_1)
    assert caught.value.field == "model_year"


@given(st.integers(1886, 2100), st.dates(date(1990, 1, 1), date(2150, 1, 1)))
def test_exempt_from_is_the_first_exempt_day(model_year: int, day: date) -> None:
    assert odometer_exempt(model_year, on=day) is (day >= odometer.exempt_from(model_year))


@given(st.integers(1886, 2100))
def test_a_newer_model_year_is_never_exempt_earlier(model_year: int) -> None:
    assert odometer.exempt_from(model_year) < odometer.exempt_from(model_year + 1)


def test_status_is_never_actual_by_itself_and_every_status_has_its_meaning() -> None:
    assert odometer.UNSTATED == OdometerStatus.NOT_STATED
    assert set(odometer.MEANINGS) == set(OdometerStatus)
    assert "true mileage" in odometer.MEANINGS[OdometerStatus.ACTUAL]
    assert "unknown number of full turns" in odometer.MEANINGS[OdometerStatus.OVER_LIMIT]
    assert odometer.MEANINGS[OdometerStatus.NOT_ACTUAL].startswith("Warning of a discrepancy")


@pytest.mark.parametrize(("reading", "miles"), [(61240, 61240), (Decimal("61240.0"), 61240), (0, 0)])
def test_whole_miles_are_taken(reading: Any, miles: int) -> None:
    assert odometer.whole_miles(reading) == miles


@pytest.mark.parametrize("reading", [Decimal("61240.5"), -1, Decimal("NaN"), Decimal("Infinity")])
def test_tenths_and_what_is_no_reading_are_refused(reading: Any) -> None:
    # 580.5(c): the reading without tenths.
    with pytest.raises(Refused, match="not a reading in whole miles") as caught:
        odometer.whole_miles(reading)
    assert caught.value.field == "reading"


def test_statement_lacks_what_was_not_given() -> None:
    # 580.5(c): reading, date, both names and addresses, make, model, year, body, VIN.
    assert len(odometer.STATEMENT_PARTS) == 11
    assert odometer.missing_parts(odometer.STATEMENT_PARTS) == ()
    assert odometer.missing_parts({"VIN", "make", "model", "year", "reading", "date"}) == (
        "seller's name", "seller's address", "buyer's name", "buyer's address", "body",
    )  # fmt: skip


@pytest.mark.parametrize(("digits", "turn"), [(5, 100_000), (6, 1_000_000)])
def test_five_digits_turn_over_after_99_999(digits: int, turn: int) -> None:
    assert odometer.turns_at(digits) == turn
    assert odometer.least_mileage(turn - 1, earlier_mi=0, digits=digits) == turn - 1
    with pytest.raises(Refused, match=f"ends at {turn - 1:,}") as caught:
        odometer.least_mileage(turn, earlier_mi=0, digits=digits)
    assert (caught.value.code, caught.value.field) == ("odometer_digits", "reading")


@pytest.mark.parametrize("digits", [0, 4, 7])
def test_odometer_of_other_digits_is_refused(digits: int) -> None:
    with pytest.raises(Refused, match="5 or 6") as caught:
        odometer.turns_at(digits)
    assert caught.value.field == "digits"


@pytest.mark.parametrize(
    ("reading", "earlier", "least"),
    [(1240, 99_800, 101_240), (99_800, 1240, 99_800), (500, 500, 500), (499, 500, 100_499), (1240, 201_241, 301_240)],
)
def test_least_mileage_adds_the_fewest_turns(reading: int, earlier: int, least: int) -> None:
    assert odometer.least_mileage(reading, earlier_mi=earlier) == least


@given(st.integers(0, 99_999), st.integers(0, 2_000_000))
def test_least_mileage_reaches_the_earlier_by_whole_turns_and_no_more(reading: int, earlier: int) -> None:
    least = odometer.least_mileage(reading, earlier_mi=earlier)
    assert least >= max(reading, earlier)
    assert (least - reading) % 100_000 == 0
    assert least == reading or least - 100_000 < earlier


def test_reading_that_fell_is_told_what_a_turn_would_mean() -> None:
    assert odometer.question_turned_over(61_240, earlier_mi=61_240, earlier_on=MARCH_1) is None
    question = odometer.question_turned_over(1240, earlier_mi=99_800, earlier_on=MARCH_1)
    assert question is not None
    assert question.message == (
        "The reading is 1,240 miles; on 2026-03-01 it was 99,800. "
        "If it turned over at 99,999, it has run 101,240 miles or more."
    )
    assert "over the limit" in question.mend


@pytest.mark.parametrize(
    ("status", "reading", "earlier", "exempt", "code"),
    [
        (OdometerStatus.ACTUAL, 1240, 99_800, True, "odometer_not_actual"),
        (OdometerStatus.ACTUAL, 99_800, 99_800, False, None),
        (OdometerStatus.ACTUAL, 1240, None, False, None),
        (OdometerStatus.OVER_LIMIT, 1240, 99_800, False, None),
        (OdometerStatus.NOT_ACTUAL, 1240, 99_800, False, None),
        (OdometerStatus.NOT_STATED, 1240, None, False, "odometer_unstated"),
        (OdometerStatus.NOT_STATED, 1240, 99_800, True, None),
    ],
)
def test_status_is_questioned_where_the_facts_contradict_it(
    status: OdometerStatus, reading: int, earlier: int | None, exempt: bool, code: str | None
) -> None:
    question = odometer.question_status(status, reading_mi=reading, earlier_mi=earlier, exempt=exempt)
    assert (question and question.code) == code


def test_status_actual_below_an_earlier_reading_offers_the_other_two() -> None:
    question = odometer.question_status(OdometerStatus.ACTUAL, reading_mi=1240, earlier_mi=99_800, exempt=False)
    assert question is not None
    assert "“actual”, but 1,240 miles is below an earlier 99,800" in question.message
    assert "“over the mechanical limit” or “not actual”" in question.mend
