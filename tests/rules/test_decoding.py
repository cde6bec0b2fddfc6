"""Codes compared as they are read, and what is said where one has several meanings."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.rules.decoding import ambiguity, beginnings, key_of

SIX, SEVENTY_SIX = (
    (date(1966, 2, 10), date(1966, 2, 10)),
    (date(1976, 2, 10), date(1976, 2, 10)),
)


@pytest.mark.parametrize("code", ["6B10", "6b10", " 6-B 10 ", "6.B.10", "6/B/10", "6–B–10"])
def test_code_is_known_however_it_is_spaced(code: str) -> None:
    assert key_of(code) == "6B10"


def test_beginnings_are_what_a_table_of_prefixes_is_asked_for() -> None:
    assert beginnings("6b 10") == ["6", "6B", "6B1", "6B10"]
    assert beginnings(" - ") == []


@given(st.text(max_size=30))
def test_key_is_its_own_key(code: str) -> None:
    assert key_of(key_of(code)) == key_of(code)


def test_one_meaning_is_no_ambiguity() -> None:
    assert ambiguity([SIX], meanings=1) == ""
    assert ambiguity([], meanings=0) == ""


def test_same_day_ten_years_apart_is_told_as_one_digit_of_the_year() -> None:
    said = ambiguity([SEVENTY_SIX, SIX], meanings=2)
    assert "one digit of the year" in said
    assert "1966 or 1976" in said


@pytest.mark.parametrize("dates", [[None, None], [SIX, None], [SIX, (date(1971, 1, 1), date(1971, 1, 1))]])
def test_other_meanings_are_told_as_several(dates: list[tuple[date, date] | None]) -> None:
    assert ambiguity(dates, meanings=2) == "The code has 2 meanings in the table: it alone does not tell which."
