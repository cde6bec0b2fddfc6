"""What an answer is worth: equal to pricing every answer, and to what answers drawn at random come to."""

from functools import cache
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.valuation.histories import Lot, drawn_lot
from valuation import BadInput, NotFitted, PriceModel, vehicle_model
from valuation.knowing import Answer, expected_widths

QUESTIONS: dict[str, list[Answer]] = {
    "underside": [
        (0.5, {"condition_low": 45.0, "condition_high": 80.0}),
        (0.3, {"condition_low": 35.0, "condition_high": 70.0}),
        (0.2, {"condition_low": 20.0, "condition_high": 35.0}),
    ],
    "mileage": [(0.25, {"mileage": miles}) for miles in (12_000.0, 48_000.0, 90_000.0, 160_000.0)],
    "class": [(0.6, {"build_class": "restored"}), (0.4, {"build_class": "modified"})],
}
DRAWS = 4000


@cache
def usual() -> PriceModel:
    lot = drawn_lot(120, seed=3)
    return vehicle_model().fit(lot.inputs, lot.price)


def subject(**changes: Any) -> pd.DataFrame:
    inputs = drawn_lot(120, seed=3).inputs
    row = inputs.fillna(inputs.mode().iloc[0]).head(1)
    ends = {"condition_low": 20.0, "condition_high": 80.0, "originality_low": 50.0, "originality_high": 70.0}
    return row.assign(**{**ends, "mileage": np.nan, "build_class": None, **changes})


def width(frame: pd.DataFrame) -> float:
    band = usual().band(frame)
    return float((band["high"] - band["low"]).iloc[0])


def test_worth_is_that_of_pricing_every_answer_one_by_one() -> None:
    told = expected_widths(usual(), subject(), questions=QUESTIONS)
    assert list(told.index) == list(QUESTIONS)
    for name, answers in QUESTIONS.items():
        expected = sum(chance * width(subject(**changes)) for chance, changes in answers)
        assert told.loc[name, "width"] == pytest.approx(expected, abs=1e-6)
        assert told.loc[name, "worth"] == pytest.approx(width(subject()) - expected, abs=1e-6)
        assert told.loc[name, "answers"] == len(answers)


@pytest.mark.parametrize("name", QUESTIONS)
def test_worth_is_the_mean_change_of_width_over_answers_drawn_at_random(name: str) -> None:
    """4,000 draws, each priced by itself (not in one frame with others), within 3 standard errors."""
    answers = QUESTIONS[name]
    rng = np.random.default_rng(7)
    drawn = rng.choice(len(answers), size=DRAWS, p=[chance for chance, _ in answers])
    now = width(subject())
    changes = now - np.array([width(subject(**answers[number][1])) for number in range(len(answers))])[drawn]
    worth = expected_widths(usual(), subject(), questions=QUESTIONS).loc[name, "worth"]
    assert abs(changes.mean() - worth) <= 3 * changes.std(ddof=1) / np.sqrt(DRAWS)


def test_question_is_worth_the_same_alone_as_among_others() -> None:
    together = expected_widths(usual(), subject(), questions=QUESTIONS)
    alone = [expected_widths(usual(), subject(), questions={name: QUESTIONS[name]}) for name in QUESTIONS]
    pd.testing.assert_frame_equal(together, pd.concat(alone))


def test_answer_that_changes_nothing_is_worth_exactly_nothing() -> None:
    told = expected_widths(usual(), subject(), questions={"nothing": [(0.3, {}), (0.7, {"condition_low": 20.0})]})
    assert told.loc["nothing", "worth"] == 0.0


def test_worth_below_zero_is_not_clipped() -> None:
    """A dearer vehicle has a wider band: learning for certain that it is of a dear model widens it in money."""
    dear = subject(condition_low=20.0, condition_high=20.0)
    told = expected_widths(
        usual(), dear, questions={"mended": [(1.0, {"condition_low": 95.0, "condition_high": 95.0})]}
    )
    assert told.loc["mended", "worth"] < 0


def test_answer_without_a_band_is_left_out_and_told_as_a_share() -> None:
    lot = drawn_lot(60, seed=5)
    one_make = lot.inputs.assign(make="Merrow", model=["Alder", "Birch"] * 30)
    model = vehicle_model().fit(one_make, lot.price)
    vehicle = one_make.head(1)
    seen, unseen = {"mileage": 30_000.0}, {"make": "never seen", "model": "never seen"}
    told = expected_widths(model, vehicle, questions={"a": [(0.25, seen), (0.75, unseen)], "b": [(1.0, unseen)]})
    band = model.band(vehicle.assign(**seen)).iloc[0]
    assert told.loc["a", "width"] == pytest.approx(band["high"] - band["low"], abs=1e-6)
    assert told["without_band"].tolist() == [0.75, 1.0]
    assert np.isnan(told.loc["b", "width"])
    assert np.isnan(told.loc["b", "worth"])


def test_without_a_band_now_only_the_width_to_expect_is_told() -> None:
    lot = drawn_lot(60, seed=5)
    one_make = lot.inputs.assign(make="Merrow", model=["Alder", "Birch"] * 30)
    model = vehicle_model().fit(one_make, lot.price)
    unknown = one_make.head(1).assign(make=None, model=None)
    told = expected_widths(model, unknown, questions={"make": [(1.0, {"make": "Merrow", "model": "Alder"})]})
    assert told.loc["make", "width"] > 0
    assert np.isnan(told.loc["make", "worth"])


@settings(max_examples=40, deadline=None, database=None, derandomize=True)
@given(st.lists(st.integers(1, 9), min_size=1, max_size=6), st.integers(0, 100))
def test_expected_width_lies_between_the_narrowest_and_the_widest_answer(weights: list[int], low: int) -> None:
    answers: list[Answer] = [
        (weight / sum(weights), {"condition_low": float(low), "condition_high": min(100.0, low + 15.0 * place)})
        for place, weight in enumerate(weights)
    ]
    widths = [width(subject(**changes)) for _, changes in answers]
    told = expected_widths(usual(), subject(), questions={"it": answers}).loc["it", "width"]
    assert min(widths) - 1e-6 <= told <= max(widths) + 1e-6


@pytest.mark.parametrize(
    ("answers", "said"),
    [
        ([], "add up to 1"),
        ([(0.5, {})], "add up to 1"),
        ([(1.5, {}), (-0.5, {})], "add up to 1"),
        ([(1.0, {"colour of the sky": "blue"})], "which frame lacks"),
    ],
)
def test_question_that_is_none_is_refused(answers: list[Answer], said: str) -> None:
    with pytest.raises(BadInput, match=said):
        expected_widths(usual(), subject(), questions={"it": answers})


def test_two_vehicles_at_once_and_a_model_not_fitted_are_refused(lot: Lot) -> None:
    with pytest.raises(BadInput, match="one row, got 2"):
        expected_widths(usual(), lot.inputs.head(2), questions={})
    with pytest.raises(NotFitted):
        expected_widths(vehicle_model(), subject(), questions={})


def test_no_questions_give_no_rows() -> None:
    assert expected_widths(usual(), subject(), questions={}).empty
