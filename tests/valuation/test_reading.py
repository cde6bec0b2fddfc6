"""What a column may hold."""

from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

import numpy as np
import pandas as pd
import pytest

from valuation import BadInput
from valuation.reading import JOIN, Roles, price_column, read

GRADE = Roles(rising=("grade",))


def numbers_of(values: Any) -> list[float]:
    table = read(pd.DataFrame({"miles": pd.Series(values)}), roles=Roles(smooth=("miles",)))
    return [float(value) for value in table.numbers["miles"]]


@pytest.mark.parametrize(
    "values",
    [
        [1, 2, None],
        [1.0, 2.0, np.nan],
        pd.array([1, 2, None], dtype="Int64"),
        pd.Series([Decimal(1), Decimal(2), None], dtype=object),
        pd.Series([1, 2, pd.NA], dtype=object),
    ],
)
def test_numbers_in_any_dress_are_read_alike(values: Any) -> None:
    assert numbers_of(values) == pytest.approx([1.0, 2.0, np.nan], nan_ok=True)


def test_truth_values_are_numbers() -> None:
    assert numbers_of([True, False]) == [1.0, 0.0]


@pytest.mark.parametrize("values", [["1", "2"], pd.Series([1, "2"], dtype=object), [date(2020, 1, 1)] * 2])
def test_text_for_a_number_is_refused(values: Any) -> None:
    with pytest.raises(BadInput, match="miles must be a number, got"):
        numbers_of(values)


def test_a_column_of_dates_for_a_number_is_refused() -> None:
    with pytest.raises(BadInput, match="miles must be a number, got a column of datetime64"):
        numbers_of(pd.to_datetime(["2020-01-01"]))


def test_a_column_of_missing_text_is_a_column_of_missing_numbers() -> None:
    assert np.isnan(numbers_of(pd.array([None, None], dtype="str"))).all()


def test_infinity_is_refused_with_its_row() -> None:
    frame = pd.DataFrame({"miles": [1.0, -np.inf]}, index=["a", "b"])
    with pytest.raises(BadInput, match="miles must be finite, got -inf in row 'b'"):
        read(frame, roles=Roles(smooth=("miles",)))


def test_what_is_not_a_frame_is_refused() -> None:
    with pytest.raises(BadInput, match="must be a pandas DataFrame, got list"):
        read([1, 2], roles=Roles())  # type: ignore[arg-type]


def test_a_missing_column_is_named_beside_those_there() -> None:
    with pytest.raises(BadInput, match="must have the column 'miles', got a, b"):
        read(pd.DataFrame({"a": [1], "b": [2]}), roles=Roles(smooth=("miles",)))
    with pytest.raises(BadInput, match="got no columns"):
        read(pd.DataFrame(), roles=Roles(smooth=("miles",)))


def test_a_column_that_comes_twice_is_refused() -> None:
    twice = pd.DataFrame([[1, 2]], columns=["miles", "miles"])
    with pytest.raises(BadInput, match="must have the column 'miles' once, got it 2 times"):
        read(twice, roles=Roles(smooth=("miles",)))


def grade_of(**columns: Any) -> tuple[float, float, float]:
    table = read(pd.DataFrame({name: [value] for name, value in columns.items()}), roles=GRADE)
    low, middle, high = table.low["grade"][0], table.numbers["grade"][0], table.high["grade"][0]
    return float(low), float(middle), float(high)


@pytest.mark.parametrize(
    ("columns", "expected"),
    [
        ({"grade": 60}, (60, 60, 60)),
        ({"grade_low": 40, "grade_high": 80}, (40, 60, 80)),
        ({"grade": 70, "grade_low": 40, "grade_high": 80}, (40, 70, 80)),
        ({"grade": 70, "grade_low": None, "grade_high": None}, (70, 70, 70)),
        ({"grade": 70, "grade_low": 60, "grade_high": None}, (60, 70, 70)),
    ],
)
def test_an_interval_may_be_given_three_ways(columns: dict[str, Any], expected: tuple[float, ...]) -> None:
    assert grade_of(**columns) == expected


def test_an_unknown_interval_is_missing() -> None:
    assert np.isnan(grade_of(grade_low=None, grade_high=None)).all()


@pytest.mark.parametrize(
    ("columns", "text"),
    [
        ({"grade_low": 40, "grade_high": None}, "grade must have both ends or neither"),
        ({"grade_low": 80, "grade_high": 40}, "grade must have low <= middle <= high"),
        ({"grade": 90, "grade_low": 40, "grade_high": 80}, "grade must have low <= middle <= high"),
        ({"grade_low": 40}, "must have the column 'grade_high'"),
    ],
)
def test_a_broken_interval_is_refused(columns: dict[str, Any], text: str) -> None:
    with pytest.raises(BadInput, match=text):
        grade_of(**columns)


@pytest.mark.parametrize(
    "values",
    [
        ["1970-01-11", None],
        [date(1970, 1, 11), None],
        pd.to_datetime(["1970-01-11", None]),
        [datetime(1970, 1, 11, tzinfo=UTC), None],
        pd.to_datetime(["1970-01-11", None]).tz_localize("UTC"),
    ],
)
def test_dates_in_any_dress_are_days_since_1970(values: Any) -> None:
    table = read(pd.DataFrame({"on": pd.Series(values)}), roles=Roles(date="on"))
    assert table.numbers["on"][0] == 10.0
    assert np.isnan(table.numbers["on"][1])


def test_a_nested_name_holds_its_path() -> None:
    frame = pd.DataFrame({"make": ["Tarn ", "MERROW", None, "tarn"], "model": ["Six", "six", "Six", ""]})
    words = read(frame, roles=Roles(nested=("make", "model"))).words
    assert list(words["make"]) == ["tarn", "merrow", "", "tarn"]
    assert list(words["model"]) == [f"tarn{JOIN}six", f"merrow{JOIN}six", "", ""]


def test_a_whole_number_is_the_same_word_with_and_without_a_missing_one() -> None:
    whole = read(pd.DataFrame({"model": [911, 12]}), roles=Roles(nested=("model",)))
    gapped = read(pd.DataFrame({"model": [911, 12, None]}), roles=Roles(nested=("model",)))
    assert list(whole.words["model"]) == list(gapped.words["model"])[:2] == ["911", "12"]


def test_taking_rows_takes_all_columns() -> None:
    frame = pd.DataFrame({"make": ["a", "b"], "miles": [1.0, 2.0], "grade": [3.0, 4.0]})
    table = read(frame, roles=Roles(nested=("make",), smooth=("miles",), rising=("grade",)))
    one = table.take(slice(1, 2))
    assert (one.size, one.words["make"][0], one.numbers["miles"][0], one.low["grade"][0]) == (1, "b", 2.0, 4.0)


def test_prices_may_be_decimals() -> None:
    assert price_column([Decimal("1.50"), Decimal(2)], size=2).tolist() == [1.5, 2.0]
