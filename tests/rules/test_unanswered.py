"""What open questions may turn out to be: shares add up to 1, and come from the lot's own rows."""

from collections import Counter
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.rules.scores import FIRST_POLICY, Interval
from inventory.rules.unanswered import (
    GRADE_PRIOR,
    MOST_QUANTILES,
    STANDING_PRIOR,
    answers_from_sales,
    ends_of,
    frequencies,
    is_missing,
    quantiles,
    reckoned,
    shares,
)


def test_empty_lot_has_the_shares_beforehand() -> None:
    assert shares({}, prior=GRADE_PRIOR) == {4: Fraction(3, 10), 3: Fraction(3, 10), 2: Fraction(1, 5),
                                             1: Fraction(1, 10), 0: Fraction(1, 10)}  # fmt: skip
    assert set(STANDING_PRIOR) == set(FIRST_POLICY["standings"])


@given(st.dictionaries(st.integers(0, 4), st.integers(0, 10_000)))
def test_shares_add_up_to_one_and_none_is_impossible(counted: dict[int, int]) -> None:
    found = shares(counted, prior=GRADE_PRIOR)
    assert sum(found.values()) == 1
    assert min(found.values()) > 0


def test_many_counts_outweigh_those_beforehand() -> None:
    assert shares(Counter({2: 9_990}), prior=GRADE_PRIOR)[2] == Fraction(9_992, 10_000)


@pytest.mark.parametrize("count", [1, 20, 21, 22, 500])
def test_quantiles_are_equally_likely_and_in_the_middle(count: int) -> None:
    found = quantiles(range(count))
    assert len(found) == min(count, MOST_QUANTILES)
    assert sum(share for share, _ in found) == 1
    values = [value for _, value in found]
    assert values == sorted(set(values))
    assert abs(sum(values) / len(values) - (count - 1) / 2) <= 0.5
    assert values[len(values) // 2] == count // 2


def test_no_values_give_no_answers() -> None:
    assert quantiles([]) == frequencies([]) == []


def test_words_are_counted_without_regard_to_capitals() -> None:
    assert frequencies(["Coupe", "coupe ", "Sedan"]) == [(Fraction(2, 3), "coupe"), (Fraction(1, 3), "sedan")]


def test_odometer_status_that_nobody_stated_is_missing() -> None:
    assert is_missing("not_stated", column="odometer_status")
    assert is_missing(None, column="mileage")
    assert is_missing("", column="body")
    assert not is_missing(0, column="mileage")


def test_answers_of_a_figure_are_whole_intervals_of_past_sales() -> None:
    ends = [(Decimal(40), Decimal(60)), (None, None), (Decimal(20), Decimal(30))]
    rows = [{"condition_low": low, "condition_high": high} for low, high in ends]
    found = answers_from_sales(rows, name="condition")
    assert [dict(one.changes) for one in found] == [
        {"condition_low": Decimal(20), "condition_high": Decimal(30)},
        {"condition_low": Decimal(40), "condition_high": Decimal(60)},
    ]


def test_answers_of_an_input_leave_out_what_sales_do_not_tell() -> None:
    rows = [{"odometer_status": said} for said in ("actual", "not_stated", "", "actual", "not_actual")]
    found = answers_from_sales(rows, name="odometer_status")
    assert [(one.share, one.changes["odometer_status"]) for one in found] == [
        (Fraction(2, 3), "actual"), (Fraction(1, 3), "not_actual"),
    ]  # fmt: skip
    assert answers_from_sales([{"mileage": None}], name="mileage") == []


def test_figure_in_the_columns_of_the_history() -> None:
    assert ends_of(None, figure="originality") == {"originality_low": None, "originality_high": None}
    span = Interval(Decimal(1), Decimal(2))
    assert reckoned({4: Fraction(1)}, figure="condition", found={4: span})[0].changes == {
        "condition_low": Decimal(1), "condition_high": Decimal(2),
    }  # fmt: skip
