"""Questions, and the published date and size rules against their tables."""

from datetime import date, timedelta
from math import nan

import pytest

from inventory.errors import Refused
from inventory.rules import plausibility

MARCH_1 = date(2026, 3, 1)


def test_check_not_future_today_passes_and_tomorrow_is_refused() -> None:
    assert plausibility.check_not_future(MARCH_1, today=MARCH_1, field="sold_on") == MARCH_1
    with pytest.raises(Refused, match="2026-03-02 is in the future") as caught:
        plausibility.check_not_future(date(2026, 3, 2), today=MARCH_1, field="sold_on")
    assert (caught.value.code, caught.value.field) == ("date_future", "sold_on")


def test_sale_before_arrival_is_questioned() -> None:
    question = plausibility.sale_before_arrival(sold_on=date(2026, 2, 28), arrived_on=MARCH_1)
    assert question is not None
    assert question.message == "Sold on 2026-02-28, but it arrived on 2026-03-01."
    assert plausibility.sale_before_arrival(sold_on=MARCH_1, arrived_on=MARCH_1) is None


def test_ask_dates_that_fall_back_are_questioned() -> None:
    in_order = [date(2026, 1, 5), MARCH_1, MARCH_1]
    assert plausibility.ask_dates_out_of_order(in_order) is None
    assert plausibility.ask_dates_out_of_order([]) is None
    question = plausibility.ask_dates_out_of_order([*in_order, date(2026, 2, 1)])
    assert question is not None
    assert "An ask of 2026-02-01 is recorded after one of 2026-03-01" in question.message


def test_mileage_that_fell_offers_over_the_limit() -> None:
    assert plausibility.mileage_fell(61240, earlier_mi=61240, earlier_on=MARCH_1) is None
    question = plausibility.mileage_fell(1240, earlier_mi=99800, earlier_on=MARCH_1)
    assert question is not None
    assert question.message == "The reading is 1,240 miles; on 2026-03-01 it was 99,800."
    assert "over the limit" in question.mend


@pytest.mark.parametrize(
    ("on", "model_year", "exempt"),
    # 49 CFR 580.17(a); the rule's own examples: in 2020 model year 2010, in 2031 model year 2011.
    [
        ("2019-12-31", 2010, False),
        ("2020-01-01", 2010, True),
        ("2024-06-01", 2010, True),
        ("2024-06-01", 2011, False),
        ("2030-12-31", 2011, False),
        ("2031-01-01", 2011, True),
        ("2031-01-01", 2012, False),
        ("2031-12-31", 2012, False),
        ("2032-01-01", 2012, True),
    ],
)
def test_odometer_exemption_matches_the_rule(on: str, model_year: int, exempt: bool) -> None:
    assert plausibility.odometer_exempt(model_year, on=date.fromisoformat(on)) is exempt


@pytest.mark.parametrize(
    ("code", "begins", "ends"),
    # 0109 is the example of 49 CFR 574.5 (from memory); the others worked from the calendar.
    [
        ("0109", "2009-01-04", "2009-01-10"),
        ("0301", "2001-01-21", "2001-01-27"),
        ("3107", "2007-08-05", "2007-08-11"),
        ("5118", "2018-12-23", "2018-12-29"),
        ("5220", "2020-12-27", "2021-01-02"),
        ("5323", "2023-12-31", "2024-01-06"),
    ],
)
def test_tin_week_four_digits_match_the_table(code: str, begins: str, ends: str) -> None:
    (week,) = plausibility.tin_week(code)
    assert (week.begins.isoformat(), week.ends.isoformat()) == (begins, ends)


def test_tin_week_three_digits_offer_every_decade() -> None:
    # An agency letter reads 439 as week 43 of 1989 and adds that it could be another decade.
    begins = [week.begins for week in plausibility.tin_week("439")]
    assert begins == [date(1979, 10, 28), date(1989, 10, 22), date(1999, 10, 24)]


def test_tin_week_53_is_kept_only_in_the_years_that_have_one() -> None:
    with_53 = [tail for tail in range(30) if _has_week_53(f"53{tail:02d}")]
    assert with_53 == [0, 6, 12, 17, 23, 28]


def _has_week_53(code: str) -> bool:
    try:
        (week,) = plausibility.tin_week(code)
    except Refused:
        return False
    return week.begins.month == 12


@pytest.mark.parametrize("code", ["5321", "0021", "5423", "9923", "000", "", "12", "12345", "4a21", "١٢٢١", "+121"])
def test_tin_week_impossible_code_is_refused(code: str) -> None:
    with pytest.raises(Refused) as caught:
        plausibility.tin_week(code)
    assert caught.value.code == "tyre_date_code"


@pytest.mark.parametrize("year", range(2001, 2031))
def test_tin_week_one_is_the_first_full_calendar_week(year: int) -> None:
    (week,) = plausibility.tin_week(f"01{year % 100:02d}")
    assert week.begins.isoweekday() == 7
    assert week.begins.year == year
    assert (week.begins - timedelta(days=7)).year == year - 1


@pytest.mark.parametrize(
    ("bore", "stroke", "cylinders", "cu_in", "cc"),
    [
        (4.00, 3.00, 8, 301.59, 4942.2),
        (4.00, 3.48, 8, 349.85, 5733.0),
        (4.03, 3.48, 8, 355.12, 5819.3),
        (3.736, 3.48, 8, 305.19, 5001.2),
        (3.4375, 4.00, 6, 222.73, 3650.0),
    ],
)
def test_displacement_matches_the_table(bore: float, stroke: float, cylinders: int, cu_in: float, cc: float) -> None:
    computed = plausibility.displacement_cu_in(bore_in=bore, stroke_in=stroke, cylinders=cylinders)
    assert round(computed, 2) == cu_in
    assert round(computed * plausibility.CC_PER_CU_IN, 1) == cc


def test_cubic_inch_in_cc_is_the_cube_of_the_inch() -> None:
    assert abs(plausibility.CC_PER_CU_IN - 2.54**3) < 1e-9  # the inch is 2.54 cm by definition


@pytest.mark.parametrize(("bore", "stroke", "cylinders"), [(0, 3, 8), (4, -3, 8), (4, 3, 0), (nan, 3, 8)])
def test_displacement_of_no_engine_is_refused(bore: float, stroke: float, cylinders: int) -> None:
    with pytest.raises(Refused, match="make no engine"):
        plausibility.displacement_cu_in(bore_in=bore, stroke_in=stroke, cylinders=cylinders)


@pytest.mark.parametrize(
    ("stated", "bore", "code"),
    # Stroke 3.48, eight cylinders: 349.85 at bore 4.00, 353.36 at 4.02, 355.12 at 4.03, 360.43 at 4.06.
    [
        (350, 4.00, None),
        (350, 4.02, "engine_rebored"),
        (350, 4.03, "engine_rebored"),
        (350, 4.06, "engine_rebored"),
        (353, 4.00, None),  # 0.9 % off and no rebore that fits: badges round
        (400, 4.00, "engine_displacement"),
        (327, 4.00, "engine_displacement"),
    ],
)
def test_displacement_stated_is_questioned_when_bore_and_stroke_disagree(
    stated: float, bore: float, code: str | None
) -> None:
    question = plausibility.displacement_disagrees(stated, bore_in=bore, stroke_in=3.48, cylinders=8)
    assert (question and question.code) == code


def test_displacement_of_a_bore_smaller_than_a_rebore_step_is_only_compared() -> None:
    question = plausibility.displacement_disagrees(2, bore_in=0.02, stroke_in=3, cylinders=8)
    assert question is not None
    assert question.code == "engine_displacement"
