"""Stays as weeks at risk."""

from typing import Any

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from valuation import BadInput
from valuation.weekly import LONGEST, ask_on, read_stays


def stay(**changes: Any) -> pd.DataFrame:
    row: dict[str, Any] = {
        "listed_on": "2030-01-01", "exposed_days": 10.0, "end": "sold", "reason": "", "followed": False,
        "asks": ((0, 20_000.0),), "price": None, "likely": 18_000.0, "sd": 0.2, "make": "One",
    }  # fmt: skip
    return pd.DataFrame({name: [value] for name, value in (row | changes).items()})


@pytest.mark.parametrize(
    ("end", "days", "weeks", "sold", "taken"),
    [
        ("sold", 1, 1, 1, 0),
        ("sold", 7, 1, 1, 0),
        ("sold", 8, 2, 1, 0),
        ("withdrawn", 8, 2, 0, 1),
        ("listed", 6, 0, 0, 0),
        ("listed", 8, 1, 0, 0),
        (" Sold ", 8, 2, 1, 0),
        ("sold", 7 * LONGEST, LONGEST, 1, 0),
        ("sold", 7 * LONGEST + 1, LONGEST, 0, 0),
        ("withdrawn", 9 * LONGEST, LONGEST, 0, 0),
    ],
)
def test_stay_is_at_risk_until_it_ends_or_was_last_seen(end: str, days: int, weeks: int, sold: int, taken: int) -> None:
    found = read_stays(stay(end=end, exposed_days=float(days))).weeks
    assert_array_equal(found.week, np.arange(1, weeks + 1))
    assert (found.sold.sum(), found.taken.sum()) == (sold, taken)


def test_each_week_has_the_ask_of_its_middle_and_a_cut_alone_is_fresh_for_three() -> None:
    asks = ((0, 30_000.0), (10, 28_000.0), (40, 29_000.0))  # week 2 has its middle on day 10.5, week 6 on 38.5
    found = read_stays(stay(exposed_days=56.0, asks=asks)).weeks
    assert_allclose(np.exp(found.ask), [30_000, *[28_000] * 5, *[29_000] * 2])
    assert_array_equal(found.fresh, [0, 1, 1, 1, 0, 0, 0, 0])


def test_season_comes_back_after_a_year() -> None:
    season = read_stays(stay(exposed_days=7.0 * 105)).weeks.season
    assert_allclose(np.linalg.norm(season, axis=1), 1.0)
    assert np.abs(season[52] - season[0]).max() < 0.03


def test_ask_that_followed_a_suggestion_is_not_read_as_one_that_was_free() -> None:
    assert np.isnan(read_stays(stay(followed=True)).first_ask[0])
    assert read_stays(stay()).first_ask[0] == np.log(20_000)


def test_reason_for_price_is_told_from_all_others() -> None:
    frame = pd.concat([stay(end="withdrawn", reason=reason) for reason in ("Price", "title", None)])
    assert read_stays(frame).for_price.tolist() == [True, False, False]


def test_interest_that_nobody_counted_is_missing_and_none_is_none() -> None:
    frame = pd.concat([stay(interest=count) for count in (None, 0, 7)])
    assert_array_equal(read_stays(frame).interest, [np.nan, 0, 7])
    assert_array_equal(read_stays(stay()).interest, [np.nan])


def test_missing_words_are_empty_and_capitals_do_not_count() -> None:
    frame = pd.concat([stay(), stay(make=" ONE "), stay(make=None)])
    assert read_stays(frame, words=("make",)).words["make"].tolist() == ["one", "one", ""]


@pytest.mark.parametrize(
    ("changes", "names"),
    [
        ({"end": "lost"}, "end"),
        ({"exposed_days": 0.0}, "exposed_days"),
        ({"exposed_days": None}, "exposed_days"),
        ({"asks": ()}, "asks"),
        ({"asks": ((1, 20_000.0),)}, "asks"),
        ({"asks": ((0, 20_000.0), (0, 19_000.0))}, "asks"),
        ({"asks": ((0, 0.0),)}, "asks"),
        ({"likely": 0.0}, "likely"),
        ({"sd": 0.0}, "sd"),
        ({"price": -1.0}, "price"),
        ({"listed_on": None}, "listed_on"),
        ({"followed": None}, "followed"),
        ({"interest": -1}, "interest"),
        ({"interest": 2.5}, "interest"),
    ],
)
def test_what_cannot_be_read_is_refused_with_its_column_and_row(changes: dict[str, Any], names: str) -> None:
    with pytest.raises(BadInput, match=names) as refusal:
        read_stays(stay(**changes).set_axis(["seven"]))
    assert (refusal.value.column, refusal.value.row) == (names, "seven")


@pytest.mark.parametrize("name", ["listed_on", "exposed_days", "end", "reason", "followed", "asks", "price",
                                  "likely", "sd", "make"])  # fmt: skip
def test_missing_column_is_refused_by_name(name: str) -> None:
    with pytest.raises(BadInput, match=f"'{name}'"):
        read_stays(stay().drop(columns=name), words=("make",))


def test_ask_on_a_day_is_the_last_that_was_set() -> None:
    assert ask_on([(0, 3.0), (5, 2.0)], day=400) == 2.0
