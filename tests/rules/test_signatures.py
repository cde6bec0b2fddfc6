"""Strokes of a signature: what is a drawing, what is too little or too much, and who signed how."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.errors import Refused
from inventory.rules import signatures
from inventory.rules.signatures import Signature, check_signature, check_strokes, parse_strokes

HAND = [[[100, 100], [200, 300], [300, 90], [500, 310]], [[650, 200]]]
points = st.tuples(st.integers(0, 1000), st.integers(0, 400)).map(list)


def code_of(strokes: Any) -> str:
    with pytest.raises(Refused) as caught:
        check_strokes(strokes, field="giver_strokes")
    assert caught.value.field == "giver_strokes"
    assert "typing the name" in caught.value.mend
    return caught.value.code


def test_drawing_comes_back_as_it_was() -> None:
    assert check_strokes(HAND, field="x") == HAND
    assert check_strokes(tuple(tuple(map(tuple, stroke)) for stroke in HAND), field="x") == HAND


@given(st.lists(st.lists(points, min_size=1, max_size=30), min_size=1, max_size=20))
def test_every_drawing_is_kept_whole_or_is_too_small(strokes: list[list[list[int]]]) -> None:
    flat = [point for stroke in strokes for point in stroke]
    reach = sum(max(p[axis] for p in flat) - min(p[axis] for p in flat) for axis in (0, 1))
    if len(flat) < signatures.LEAST_POINTS or reach < signatures.LEAST_REACH:
        assert code_of(strokes) == "too_short"
    else:
        assert check_strokes(strokes, field="x") == strokes


@pytest.mark.parametrize(
    "strokes",
    [
        "scrawl", None, {"a": 1}, 7, [7], ["ab"], [[]], [[[1]]], [[[1, 2, 3]]], [["ab"]], [[["1", "2"]]],
        [[[True, False]]], [[[1.5, 2]]], [[[float("nan"), 2]]], [[[1001, 5]]], [[[5, 401]]], [[[-1, 5]]], [[[5, -1]]],
        [[[None, 5]]], [[[10**30, 5]]],
    ],
)  # fmt: skip
def test_what_is_no_drawing_is_refused(strokes: Any) -> None:
    assert code_of(strokes) == "not_strokes"


@pytest.mark.parametrize(
    "strokes",
    [[], [[[5, 5]]], [[[0, 0], [1000, 400], [0, 0], [9, 9]]], [[[100 + step, 100] for step in range(59)]]],
)
def test_tap_or_slip_of_the_finger_is_too_small(strokes: Any) -> None:
    assert code_of(strokes) == "too_short"


def test_least_reach_is_enough() -> None:
    line = [[100 + 15 * step, 100] for step in range(5)]  # 60 across with 5 points: both limits exactly
    assert check_strokes([line], field="x") == [line]


def test_more_than_the_most_is_refused_and_the_most_is_not() -> None:
    point = [[5, 5], [900, 300]]
    assert len(check_strokes([point] * signatures.MOST_STROKES, field="x")) == signatures.MOST_STROKES
    assert code_of([point] * (signatures.MOST_STROKES + 1)) == "too_long"
    long = point * (signatures.MOST_POINTS // 2)
    assert check_strokes([long], field="x") == [long]
    assert code_of([[*long, [1, 1]]]) == "too_long"
    assert code_of([long, [[1, 1]]]) == "too_long"


@pytest.mark.parametrize(("text", "read"), [("", []), ("  ", []), ("[[[1,2]]]", [[[1, 2]]]), ("null", None)])
def test_text_of_the_page_is_read(text: str, read: Any) -> None:
    assert parse_strokes(text, field="x") == read


@pytest.mark.parametrize(
    ("text", "code"),
    [("[[", "not_strokes"), ("[" * 99_000, "not_strokes"), ("<svg>", "not_strokes"), ("1" * 100_001, "too_long")],
)
def test_text_that_is_no_drawing_is_refused(text: str, code: str) -> None:
    with pytest.raises(Refused) as caught:
        parse_strokes(text, field="x")
    assert caught.value.code == code


@pytest.mark.parametrize(
    ("signature", "name", "code"),
    [
        (Signature(typed=True), " ", "no_name"),
        (Signature(strokes=HAND), "", "no_name"),
        (Signature(), "Ada Fenwick", "not_signed"),
        (Signature(strokes=HAND, typed=True), "Ada Fenwick", "signed_twice"),
        (Signature(strokes=[[[1, 1]]]), "Ada Fenwick", "too_short"),
    ],
)
def test_signature_that_says_too_little_or_two_things_is_refused(signature: Signature, name: str, code: str) -> None:
    with pytest.raises(Refused) as caught:
        check_signature(signature, name=name, field="taker_strokes")
    assert (caught.value.code, caught.value.field) == (code, "taker_strokes")


def test_signature_is_drawn_or_typed() -> None:
    assert check_signature(Signature(strokes=HAND), name="Ada", field="x") == ("drawn", HAND)
    assert check_signature(Signature(typed=True), name="Ada", field="x") == ("typed", [])
