"""Scores of the survival bench against hand arithmetic."""

import numpy as np
import pytest

from tests.bench.survival_scores import brier, calibration_gap, integrated_brier, marks_of

DAYS, ENDED = np.array([1.0, 2.0, 3.0, 4.0]), np.array([True, False, True, True])
ALL = {"days": DAYS, "ended": ENDED, "all_days": DAYS, "all_ended": ENDED}


def test_brier_score_is_the_hand_example() -> None:
    # One of four is censored on day 2, when three are at risk: from there on the uncensored stand for 3/2 each.
    # Forecast S 0.9 0.6 0.5 0.8 at day 2.5: (0.9² + 0 + (0.5² + 0.2²) * 3/2) / 4 = (0.81 + 0.435) / 4.
    told = np.array([[0.9], [0.6], [0.5], [0.8]])
    assert brier(told, times=np.array([2.5]), **ALL)[0] == pytest.approx(0.31125)
    # At day 3.5 the end on day 3 counts with the chance just before it: (0.81 + 0.25 * 3/2 + 0.04 * 3/2) / 4.
    assert brier(told, times=np.array([3.5]), **ALL)[0] == pytest.approx(0.31125)


def test_forecast_of_even_chances_scores_a_quarter() -> None:
    assert integrated_brier(np.full((4, 2), 0.5), times=np.array([0.5, 2.5]), **ALL) == pytest.approx(0.25)


def test_end_comes_before_a_censoring_of_that_day() -> None:
    days, ended = np.array([2.0, 2.0]), np.array([True, False])
    cases = {"days": days, "ended": ended, "all_days": days, "all_ended": ended}
    assert brier(np.ones((2, 1)), times=np.array([2.0]), **cases)[0] == pytest.approx(0.5)


def test_calibration_gap_is_that_of_kaplan_meier_in_each_tenth() -> None:
    days, ended = np.tile([1.0, 3.0], 10), np.ones(20, dtype=bool)  # half are there after day 2, in each tenth
    assert calibration_gap(np.repeat(np.arange(10) / 100 + 0.5, 2), at=2, days=days, ended=ended) == pytest.approx(
        0.045
    )


def test_marks_go_up_to_the_ninth_tenth_of_the_days() -> None:
    assert marks_of(np.arange(1.0, 102.0))[[0, -1]] == pytest.approx([91 / 40, 91])
