"""When there is a track record, what fails a fit, and what its figures are said to mean."""

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest

from inventory.rules import track_record
from inventory.rules.track_record import Plan

FIRST = date(2024, 1, 31)
GOOD: dict[str, Any] = {
    "count": 60, "banded": 60, "inside": 49, "stated": 0.8, "share": 49 / 60, "share_low": 0.696, "share_high": 0.905,
    "expected_low": 0.7, "expected_high": 0.9, "prd": 1.01, "prd_low": 0.99, "prd_high": 1.03,
    "median_ratio": 1.01, "cod": 9.5, "prb": -0.012, "within_10": 0.61,
}  # fmt: skip


def days(count: int, *, apart: int = 3) -> list[date]:
    return [FIRST + timedelta(days=apart * number) for number in range(count)]


@pytest.mark.parametrize(
    ("sales", "planned"),
    [
        (39, None),
        (40, Plan(30, 1)),
        (75, Plan(30, 5)),
        (150, Plan(30, 12)),
        (240, Plan(120, 12)),
        (3000, Plan(2880, 12)),
    ],
)
def test_at_most_120_sales_in_at_most_ten_blocks_after_thirty(sales: int, planned: Plan | None) -> None:
    assert track_record.plan(days(sales)) == planned
    if planned:
        assert -(-(sales - planned.start) // planned.step) <= track_record.MOST_REFITS


def test_fewer_refits_make_longer_blocks() -> None:
    assert track_record.plan(days(240), refits=4) == Plan(120, 30)


def test_order_of_the_sales_does_not_matter() -> None:
    assert track_record.plan(days(60)[::-1]) == track_record.plan(days(60))


def test_sales_of_one_day_push_the_beginning_back() -> None:
    """Twenty before, thirty on one day, thirty after: thirty are known only after that day."""
    crowded = [*days(20), *[FIRST + timedelta(days=400)] * 30, *[FIRST + timedelta(days=500 + n) for n in range(30)]]
    assert track_record.plan(crowded) == Plan(50, 3)


def test_sales_all_of_one_day_have_no_record() -> None:
    assert track_record.plan([FIRST] * 200) is None
    assert "There are 200, but too many of them on one day." in track_record.what_is_needed(200)


@pytest.mark.parametrize(("sales", "said"), [(0, "There are 0."), (1, "There is 1."), (39, "There are 39.")])
def test_too_few_sales_say_how_many_are_needed(sales: int, said: str) -> None:
    sentence = track_record.what_is_needed(sales)
    assert sentence.startswith("A track record needs 40 sales")
    assert sentence.endswith(said)


def test_drift_is_read_at_each_first_of_a_month_and_at_both_ends() -> None:
    found = track_record.drift_days([date(2024, 2, 15), date(2023, 11, 20), date(2024, 1, 1)])
    assert found == [date(2023, 11, 20), date(2023, 12, 1), date(2024, 1, 1), date(2024, 2, 1), date(2024, 2, 15)]
    assert track_record.drift_days([date(2024, 1, 1)]) == [date(2024, 1, 1)]
    assert track_record.drift_days([]) == []


def test_an_honest_record_is_not_flagged() -> None:
    assert track_record.failings(GOOD) == []


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"inside": 36, "share_high": 0.72, "share_low": 0.47}, "Of the last 60 sales 36 ended inside the band"),
        ({"share_high": 0.799}, "the band is too narrow, and more than chance explains"),
        ({"share_low": 0.81}, "the band is too wide"),
        ({"prd_low": 1.031, "prd_high": 1.1}, "Dear vehicles are estimated too low"),
        ({"prd_low": 0.9, "prd_high": 0.979}, "Dear vehicles are estimated too high"),
    ],
)
def test_what_chance_does_not_explain_is_flagged(changed: dict[str, Any], said: str) -> None:
    (found,) = track_record.failings({**GOOD, **changed})
    assert said in found


@pytest.mark.parametrize(
    "changed",
    [
        {"prd": 1.05, "prd_low": 1.02, "prd_high": 1.09},  # the point is out of range, its interval is not wholly
        {"prd_low": 1.03},  # touches the range
        {"prd_high": 0.98},
        {"share_high": 0.8},
        {"banded": 0, "share_low": None, "share_high": None},
        {"prd": None, "prd_low": None, "prd_high": None},
    ],
)
def test_what_chance_may_explain_is_not_flagged(changed: dict[str, Any]) -> None:
    assert track_record.failings({**GOOD, **changed}) == []


def test_the_plain_sentence() -> None:
    assert track_record.in_plain_words(GOOD) == "Of the last 60 sales, 49 ended inside the band."
    assert track_record.in_plain_words({**GOOD, "count": 63}).endswith("For 3 more there was no band.")
    assert track_record.in_plain_words({**GOOD, "banded": 0}).startswith("None of the last 60 sales had a band")


def test_a_few_misses_are_said_to_be_no_alarm() -> None:
    said = track_record.what_chance_does(GOOD)
    assert "between 70 % and 90 %" in said
    assert "(42 to 54 sales)" in said
    assert "no alarm" in said


@pytest.mark.parametrize(
    ("record", "said"),
    [
        ({"figures": GOOD}, ["Of the last 60 sales, 49 ended inside the band."]),
        ({"needed": "Not yet."}, ["Not yet."]),
        ({}, []),
    ],
)
def test_record_in_a_few_lines(record: dict[str, Any], said: list[str]) -> None:
    assert track_record.in_a_few_lines(record) == said


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({}, "estimates are on the level of the prices"),
        ({"median_ratio": 1.08}, "estimates lie 8.0 % above the prices"),
        ({"median_ratio": 0.9}, "estimates lie 10.0 % below the prices"),
        ({}, "dear and cheap vehicles are estimated alike"),
        ({"prd": 1.06}, "dear vehicles are estimated low beside cheap ones"),
        ({"prd": 0.95}, "dear vehicles are estimated high beside cheap ones"),
        ({}, "the ratio falls by 1.2 % when the value doubles"),
        ({"prb": 0.05}, "the ratio rises by 5.0 % when the value doubles"),
    ],
)
def test_each_figure_has_its_word(changed: dict[str, Any], said: str) -> None:
    assert said in [row.means for row in track_record.meanings({**GOOD, **changed})]


def test_figures_that_there_are_not_are_left_out() -> None:
    assert track_record.meanings({**GOOD, "median_ratio": None}) == ()
    assert len(track_record.meanings({**GOOD, "prb": None})) == len(track_record.meanings(GOOD)) - 1


@pytest.mark.parametrize(
    ("percent", "said"), [("5", "+5.0 %"), ("-12.34", "−12.3 %"), ("0", "0.0 %"), ("-0.04", "0.0 %")]
)
def test_change_is_written_with_its_sign(percent: str, said: str) -> None:
    assert track_record.signed(Decimal(percent), places=1) == said
