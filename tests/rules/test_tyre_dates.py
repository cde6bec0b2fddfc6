"""Dates of make on tyres, against the worked weeks of 49 CFR 574.5."""

from datetime import date, timedelta
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.errors import Refused
from inventory.rules.tyre_dates import age_in_years, read_tin

DAY = date(2026, 6, 1)


@pytest.mark.parametrize(
    ("text", "week", "begins", "ends"),
    # Weeks run Sunday to Saturday, 01 is the first full one of the year; 0109 is the regulation's own example.
    [
        ("0109", 1, "2009-01-04", "2009-01-10"),
        ("0301", 3, "2001-01-21", "2001-01-27"),
        ("3107", 31, "2007-08-05", "2007-08-11"),
        ("5118", 51, "2018-12-23", "2018-12-29"),
        ("5220", 52, "2020-12-27", "2021-01-02"),
        ("5323", 53, "2023-12-31", "2024-01-06"),
    ],
)
def test_four_digits_match_the_table(text: str, week: int, begins: str, ends: str) -> None:
    reading = read_tin(text, on=DAY)
    (make,) = reading.makes
    assert (make.week, make.begins.isoformat(), make.ends.isoformat()) == (week, begins, ends)
    assert make.year == int(begins[:4])
    assert not reading.ambiguous
    assert reading.sentence == f"Made in week {week} of {begins[:4]}, {begins} to {ends}."


def test_three_digits_offer_every_decade() -> None:
    # An agency letter reads 439 as week 43 of 1989, adding that it could be another decade.
    reading = read_tin("439", on=DAY)
    assert reading.ambiguous
    assert [(make.week, make.year) for make in reading.makes] == [(43, 1979), (43, 1989), (43, 1999)]
    assert reading.makes[1].begins == date(1989, 10, 22)
    assert reading.sentence == (
        "Made in week 43 of 1979 or week 43 of 1989 or week 43 of 1999: the code does not tell which. "
        "The vehicle's age and the tread style may."
    )


def test_a_decade_after_the_day_is_not_offered() -> None:
    assert [make.year for make in read_tin("439", on=date(1992, 1, 1)).makes] == [1979, 1989]
    assert [make.year for make in read_tin("439", on=date(1989, 10, 22)).makes] == [1979, 1989]
    assert [make.year for make in read_tin("439", on=date(1989, 10, 21)).makes] == [1979]


@pytest.mark.parametrize(
    ("text", "years"),
    [
        ("DOT M6 7K ABC 3107", [2007]),
        ("dot m67k-abc-3107", [2007]),
        ("  3107 ", [2007]),
        ("DOT VD W3 AB 319", [1979, 1989, 1999]),
        ("VDW3AB319", [1979, 1989, 1999]),
        ("DOT VD W3 A2 0309", [2009]),
        # Without spaces the first of four digits may belong to the group before: week 30 of a year ending in 9.
        ("VDW3A0309", [1979, 1989, 1999, 2009]),
        ("DOTM67KABC3107", [1977, 1987, 1997, 2007]),
        # Week 21 of 2085 is to come, so only 185 is left: week 18 of a year ending in 5.
        ("VDW3A2185", [1975, 1985, 1995]),
        # Week 99 does not exist, nor week 91.
        ("VDW3A9107", [1977, 1987, 1997]),
    ],
)
def test_whole_number_is_read_from_its_end(text: str, years: list[int]) -> None:
    reading = read_tin(text, on=DAY)
    assert [make.year for make in reading.makes] == years
    assert reading.as_written == text.strip()


@pytest.mark.parametrize(
    ("text", "code", "says"),
    [
        ("5321", "tyre_date_code", "names week 53, which 2021 did not have"),
        ("0021", "tyre_date_code", "names week 00"),
        ("5421", "tyre_date_code", "names week 54"),
        ("9921", "tyre_date_code", "names week 99"),
        ("000", "tyre_date_code", "names week 00"),
        ("549", "tyre_date_code", "names week 54"),
        ("DOT AB CD 5499", "tyre_date_code", "names week 54"),
        ("2430", "tyre_date_future", "is in the future; the day is 2026-06-01"),
        ("2485", "tyre_date_future", "is in the future"),
        ("", "tyre_date_code", "No tyre identification number was given"),
        ("DOT", "tyre_date_code", "No tyre identification number was given"),
        ("DOT M67K ABC", "tyre_date_code", "does not end in a date"),
        ("12", "tyre_date_code", "does not end in a date"),
        ("31070", "tyre_date_code", "does not end in a date"),
        ("٣١٠٧", "tyre_date_code", "holds a symbol"),
        ("3107+", "tyre_date_code", "holds a symbol"),
        ("A" * 60 + "3107", "tyre_date_code", "too long"),
    ],
)
def test_what_is_no_date_is_refused(text: str, code: str, says: str) -> None:
    with pytest.raises(Refused) as caught:
        read_tin(text, on=DAY)
    assert (caught.value.code, caught.value.field) == (code, "tin")
    assert says in caught.value.message
    assert caught.value.mend


def test_week_of_make_is_not_in_the_future_on_its_first_day() -> None:
    # 2426: the first Sunday of 2026 is 4 January, week 24 begins 23 weeks later, on 14 June.
    assert read_tin("2426", on=date(2026, 6, 14)).makes[0].age_years == 0
    with pytest.raises(Refused, match="future"):
        read_tin("2426", on=date(2026, 6, 13))


def test_age_is_an_interval() -> None:
    # Week 1 of 2009 began 4 January and ended on the 10th.
    reading = read_tin("0109", on=date(2019, 1, 4))
    assert reading.oldest_years == 10
    assert reading.youngest_years == 9 + Fraction(359, 365)
    two_decades = read_tin("439", on=date(1999, 10, 30))
    assert two_decades.oldest_years == 20 + Fraction(2, 366)
    assert two_decades.youngest_years == 0


@pytest.mark.parametrize(
    ("day", "on", "years"),
    # By the calendar: whole on each anniversary.
    [
        (date(2009, 1, 4), date(2019, 1, 3), 9 + Fraction(364, 365)),
        (date(2009, 1, 4), date(2019, 1, 4), 10),
        (date(2004, 2, 29), date(2005, 2, 28), Fraction(365, 366)),
        (date(2004, 2, 29), date(2005, 3, 1), 1),
        (date(2004, 2, 29), date(2008, 2, 29), 4),
        (date(2020, 12, 27), date(2020, 12, 27), 0),
    ],
)
def test_age_in_years(day: date, on: date, years: Fraction) -> None:
    assert age_in_years(day, on=on) == years


def test_age_before_the_day_is_refused() -> None:
    with pytest.raises(Refused, match="2020-01-02 is after 2020-01-01"):
        age_in_years(date(2020, 1, 2), on=date(2020, 1, 1))


DAYS = st.dates(date(1971, 1, 1), date(2099, 12, 31))


@given(DAYS, st.integers(0, 20_000))
def test_age_rises_each_day_and_is_near_the_days(day: date, days: int) -> None:
    on = day + timedelta(days=days)
    age = age_in_years(day, on=on)
    assert age < age_in_years(day, on=on + timedelta(days=1))
    assert abs(age - days / Fraction(36525, 100)) < Fraction(1, 100)


@given(st.dates(date(2000, 1, 2), date(2099, 12, 31)))
def test_every_day_since_2000_is_in_the_week_its_own_code_names(day: date) -> None:
    sunday = day - timedelta(days=day.isoweekday() % 7)
    week = (sunday - date(sunday.year, 1, 1)).days // 7 + 1
    (make,) = read_tin(f"{week:02d}{sunday.year % 100:02d}", on=day).makes
    assert make.begins <= day <= make.ends


@given(st.integers(0, 99), st.integers(0, 9), DAYS)
def test_three_digits_give_weeks_up_to_the_day_at_most_three(week: int, tail: int, on: date) -> None:
    try:
        makes = read_tin(f"DOT AB {week:02d}{tail}", on=on).makes
    except Refused:
        # No such week, or every decade of it is still to come.
        assert not 1 <= week <= 52 or on < date(1971 + (tail - 1) % 10, 1, 8) + timedelta(weeks=week)
        return
    assert [make.begins for make in makes] == sorted({make.begins for make in makes})
    assert all(make.begins <= on and make.year % 10 == tail and make.week == week for make in makes)
    assert len(makes) <= 3
