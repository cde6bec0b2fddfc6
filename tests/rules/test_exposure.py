"""Days exposed: what a deposit, an unwound sale and the shop take out of them."""

from datetime import date, timedelta
from decimal import Decimal
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.rules.exposure import (
    Closed,
    Exposure,
    asks_by_day,
    away,
    day_numbers,
    exposure_of,
    held,
    sold_for_a_while,
)

FIRST = date(2026, 3, 1)


def march(day: int) -> date:
    return FIRST + timedelta(days=day - 1)


days = st.integers(-40, 120).map(march)
spans = st.builds(Closed, days, st.none() | days)


def by_counting(*, closed: list[Closed], until: date) -> int:
    """The plain way: look at each day."""
    told = 0
    for step in range(max((until - FIRST).days, 0)):
        day = FIRST + timedelta(days=step)
        told += not any(span.first <= day and (span.until is None or day < span.until) for span in closed)
    return told


@given(st.lists(spans, max_size=6), days)
def test_exposed_days_are_those_that_no_span_holds(closed: list[Closed], until: date) -> None:
    assert exposure_of(FIRST, closed=closed).days_before(until) == by_counting(closed=closed, until=until)


@given(st.lists(spans, max_size=6), days)
def test_exposed_days_are_never_more_than_calendar_days(closed: list[Closed], until: date) -> None:
    assert 0 <= exposure_of(FIRST, closed=closed).days_before(until) <= max((until - FIRST).days, 0)


@given(st.lists(spans, max_size=6), spans, days)
def test_one_more_closed_span_never_raises_them(closed: list[Closed], more: Closed, until: date) -> None:
    longer = exposure_of(FIRST, closed=[*closed, more]).days_before(until)
    assert longer <= exposure_of(FIRST, closed=closed).days_before(until)


@given(st.lists(spans, max_size=6).flatmap(lambda found: st.tuples(st.just(found), st.permutations(found))))
def test_order_of_spans_does_not_matter(both: tuple[list[Closed], list[Closed]]) -> None:
    assert exposure_of(FIRST, closed=both[0]) == exposure_of(FIRST, closed=both[1])


@given(days)
def test_stay_that_is_closed_as_a_whole_has_no_exposed_day(until: date) -> None:
    assert exposure_of(FIRST, closed=[Closed(FIRST)]).days_before(until) == 0


@given(st.lists(spans, max_size=6), days, st.integers(0, 200))
def test_of_all_dates_as_many_lie_on_the_first_exposed_days_as_there_are(
    closed: list[Closed], until: date, first: int
) -> None:
    dates = [FIRST + timedelta(days=step) for step in range(-30, (until - FIRST).days)]
    found = exposure_of(FIRST, closed=closed).among_first(first, on=dates)
    assert found == min(first, by_counting(closed=closed, until=until))


@given(st.lists(spans, max_size=6), days)
def test_numbers_of_the_days_never_fall_and_rise_by_one_at_most(closed: list[Closed], until: date) -> None:
    numbers = list(day_numbers(exposure_of(FIRST, closed=closed), until=until).values())
    assert all(0 <= later - earlier <= 1 for earlier, later in pairwise(numbers))


def test_day_a_deposit_began_and_the_day_it_fell_through_are_exposed() -> None:
    exposure = exposure_of(march(1), closed=[held(began_on=march(5), ended_on=march(9))])
    assert exposure.days_before(march(11)) == 7  # 1 to 5, then 9 and 10
    assert exposure_of(march(1), closed=[held(began_on=march(5), ended_on=march(5))]).days_before(march(11)) == 10


def test_days_between_a_sale_and_its_unwinding_are_closed() -> None:
    exposure = exposure_of(march(1), closed=[sold_for_a_while(sold_on=march(3), unwound_on=march(8))])
    assert [exposure.days_before(march(day)) for day in (3, 4, 7, 8, 9)] == [2, 3, 3, 3, 4]


@pytest.mark.parametrize(
    ("moves", "closed"),
    [
        ([(2, False), (4, True), (6, True), (9, False)], [Closed(march(4), march(9))]),
        ([(4, True)], [Closed(march(4))]),
        ([(4, True), (4, False), (6, False)], [Closed(march(4), march(4))]),
        ([], []),
    ],
)
def test_vehicle_is_away_until_it_is_somewhere_for_sale(moves: list[tuple[int, bool]], closed: list[Closed]) -> None:
    assert away((march(day), off) for day, off in moves) == closed


def test_away_and_back_on_one_day_costs_no_day() -> None:
    assert exposure_of(march(1), closed=away([(march(4), True), (march(4), False)])) == Exposure(march(1))


def test_sold_or_withdrawn_on_the_day_it_was_listed_counts_one_day() -> None:
    exposure = exposure_of(march(1))
    assert (exposure.days_until_sold(march(1)), exposure.days_until_left(march(1))) == (1, 1)
    assert (exposure.days_until_sold(march(31)), exposure.days_until_left(march(31))) == (31, 30)


def asks(*told: tuple[int, int]) -> list[tuple[date, Decimal]]:
    return [(march(day), Decimal(amount)) for day, amount in told]


def test_ask_changed_while_closed_takes_effect_on_the_next_exposed_day() -> None:
    exposure = exposure_of(march(1), closed=[Closed(march(5), march(20))])
    assert asks_by_day(asks((1, 500), (8, 450), (25, 400)), exposure=exposure) == [(0, 500), (4, 450), (9, 400)]


def test_of_several_asks_of_one_day_the_last_counts() -> None:
    told = asks((-9, 600), (-3, 550), (1, 500), (4, 480), (4, 450))
    assert asks_by_day(told, exposure=exposure_of(march(1))) == [(0, 500), (3, 450)]


def test_ask_that_held_on_no_day_is_left_out() -> None:
    exposure = exposure_of(march(1))
    told = asks((1, 500), (11, 450))
    assert asks_by_day(told, exposure=exposure, days=exposure.days_until_left(march(11))) == [(0, 500)]
    assert asks_by_day(told, exposure=exposure, days=exposure.days_until_sold(march(11))) == [(0, 500), (10, 450)]
