"""Which asks a curve shows, and the words for chances."""

import random
from decimal import Decimal
from itertools import pairwise

import pytest

from inventory.rules import ask_curve as rules
from inventory.rules.asking import Point, suggest
from inventory.rules.words import Objective

D = Decimal


@pytest.mark.parametrize(
    ("given", "plain"),
    [("19974.99", "19950.00"), ("19975", "20000.00"), ("42449.99", "42400.00"), ("123250", "123500.00"), ("3", "50")],
)
def test_plain_figure_is_the_nearest_that_people_ask(given: str, plain: str) -> None:
    assert rules.plain_figure(D(given)) == D(plain)


def test_curve_holds_floor_and_ask_and_begins_at_the_floor() -> None:
    asks = rules.asks_to_show(
        low=D(40000), high=D(52000), asked=(D(36000), D(60000)), floor=D("38123.45"), ask=D("47111.00")
    )
    assert asks[0] == D("38123.45")
    assert D("47111.00") in asks
    assert asks[-1] == D(60000)
    assert 30 <= len(asks) <= 35
    assert asks == sorted(set(asks))


def test_curve_reaches_above_the_band_and_the_ask_where_the_lot_never_asked_so_much() -> None:
    asks = rules.asks_to_show(low=D(40000), high=D(52000), asked=(D(36000), D(50000)), floor=None, ask=D(70000))
    assert asks[0] == D(36000)
    assert asks[-1] >= D(70000) * D("1.02") - 100


def test_curve_of_a_vehicle_below_its_floor_still_shows_the_ask_that_stands() -> None:
    asks = rules.asks_to_show(low=D(4000), high=D(5000), asked=(D(3600), D(5600)), floor=D(9000), ask=D(8000))
    assert asks[:2] == [D(8000), D(9000)]
    assert asks[-1] > D(9000)


def test_lowered_ask_is_plain_and_never_below_the_floor() -> None:
    assert rules.lowered(D(42000), percent=90, floor=D(30000)) == D("37800.00")
    assert rules.lowered(D(42000), percent=50, floor=D("30000.55")) == D("30000.55")
    assert rules.lowered(D(30000), percent=50, floor=D(30000)) is None


def test_counters_lie_between_offer_and_ask_and_not_below_the_floor() -> None:
    assert rules.counters_between(D(15000), ask=D(18000), floor=None) == (D(16000), D(17000))
    assert rules.counters_between(D(15000), ask=D(18000), floor=D(16500)) == (D(17000),)
    assert rules.counters_between(D(19000), ask=D(18000), floor=None) == ()
    assert rules.counters_between(D("17990"), ask=D(18000), floor=None) == ()


def test_why_moved_tells_only_evidence_that_there_is() -> None:
    by = {"asked": 1.031, "weeks": 0.95, "offers": 0.9999}
    assert rules.why_moved(by, weeks=0, best_offer=None, asked=False) == ()
    asked, weeks, offer = rules.why_moved(by, weeks=1, best_offer=D(38000), asked=True)
    assert asked.startswith("The ask itself: +3.1 %.")
    assert weeks == "1 week for sale at these asks without a sale: −5.0 %."
    assert rules.why_moved(by | {"interest": 1.021}, weeks=5, best_offer=None, asked=False, interest=7)[1] == (
        "7 inquiries and showings in 5 weeks: +2.1 %."
    )
    assert len(rules.why_moved(by | {"interest": 1.0}, weeks=5, best_offer=None, asked=False, interest=7)) == 1
    assert offer == "The best offer that was not taken, $38,000: less than 0.1 % either way."


@pytest.mark.parametrize(
    ("count", "weeks", "said"),
    [
        (0, 1, "No inquiries or showings in 1 week"),
        (1, 5, "1 inquiry or showing in 5 weeks"),
        (7, 5, "7 inquiries and showings in 5 weeks"),
    ],
)
def test_interest_is_said_in_words(count: int, weeks: int, said: str) -> None:
    assert rules.interest_said(count, weeks=weeks) == said


@pytest.mark.parametrize(("least", "most"), [(-480, 1530), (11830, 14934), (7, 7), (-20, -5), (0, 1)])
def test_axis_values_hold_the_given_ones_between_them(least: int, most: int) -> None:
    values = rules.axis_values([D(least), D(most)])
    assert values[0] <= least
    assert values[-1] >= most
    assert 2 <= len(values) <= 7
    assert len({after - before for before, after in pairwise(values)}) == 1


@pytest.mark.parametrize("seed", range(40))
def test_suggestion_is_never_below_the_floor(seed: int) -> None:
    draw = random.Random(seed)
    floor = D(draw.randrange(1000, 60000))
    points = [
        Point(ask=D(ask), chance=draw.random(), net=D(draw.randrange(0, 50000)), gross=D(draw.randrange(-900, 5000)))
        for ask in [floor, *draw.sample(range(500, 90000), 20)]
    ]
    for objective in Objective:
        found = suggest(points, objective=objective, floor=floor, target=0.7, asked=(D(8000), D(50000)))
        assert found is not None
        assert found.ask >= floor
