"""Measures against worked figures and against scipy."""

from typing import Any

import numpy as np
import pytest
from scipy.stats import binomtest

from valuation import BadInput, BadOption, coverage, interval_score, ratio_study

PRICES = np.array([20, 25, 30, 40, 45, 60, 72, 70, 135, 100]) * 1000.0
ESTIMATES = np.array([18, 24.5, 31, 42, 39.5, 58, 75, 66, 120, 98]) * 1000.0


def test_ratio_study_of_ten_sales() -> None:
    """By the formulas of the IAAO Standard on Ratio Studies (2013); the open library assesspy 2.0.2 agrees."""
    study = ratio_study(ESTIMATES, PRICES)
    assert study.count == 10
    assert study.median_ratio == pytest.approx(0.973333, abs=5e-7)
    assert study.mean_ratio == pytest.approx(0.966119, abs=5e-7)
    assert study.weighted_ratio == pytest.approx(0.958124, abs=5e-7)
    assert study.cod == pytest.approx(5.227495, abs=5e-7)
    assert study.prd == pytest.approx(1.008345, abs=5e-7)
    assert study.prb == pytest.approx(-0.004519, abs=5e-7)
    assert study.within_10 == 0.80  # one is exactly -10 % and counts
    assert study.median_error == pytest.approx(0.045833, abs=5e-7)
    assert study.mean_error == pytest.approx(-0.033881, abs=5e-7)
    assert study.spread == pytest.approx(0.063533, abs=5e-7)


def test_ratio_study_of_five_sales() -> None:
    """The second worked example of the same source."""
    study = ratio_study([9, 11, 20, 27, 50], [10, 10, 20, 30, 50])
    assert (study.median_ratio, round(study.cod, 9), study.weighted_ratio) == (1.0, 6.0, 0.975)
    assert study.prd == pytest.approx(1.005128, abs=5e-7)
    assert study.prb == pytest.approx(-0.009967, abs=5e-7)


def test_ratio_study_of_equal_values_has_no_slope() -> None:
    assert np.isnan(ratio_study([10, 10], [10, 10]).prb)


@pytest.mark.parametrize(("predicted", "actual"), [([1.0], [1.0]), ([1.0, -1.0], [1.0, 1.0]), ([1.0, 1.0], [1.0, 0.0])])
def test_ratio_study_refuses_what_has_no_ratio(predicted: list[float], actual: list[float]) -> None:
    with pytest.raises(BadInput, match="must be positive and at least two"):
        ratio_study(predicted, actual)


@pytest.mark.parametrize(("inside", "count"), [(0, 7), (7, 7), (49, 60), (3, 4)])
def test_coverage_interval_is_that_of_scipy(inside: int, count: int) -> None:
    """scipy.stats.binomtest(...).proportion_ci(method="exact")."""
    actual = np.array([1.0] * inside + [5.0] * (count - inside))
    found = coverage(low=np.zeros(count), high=np.full(count, 2.0), actual=actual, confidence=0.9)
    exact = binomtest(inside, count).proportion_ci(confidence_level=0.9, method="exact")
    assert (found.inside, found.count, found.share) == (inside, count, inside / count)
    assert (found.low, found.high) == pytest.approx((exact.low, exact.high))


def test_coverage_counts_the_ends() -> None:
    assert coverage(low=[1.0, 1.0], high=[2.0, 2.0], actual=[1.0, 2.0]).inside == 2


def test_interval_score_by_hand() -> None:
    """Gneiting & Raftery 2007, equation 43: width, and 2 / 0.2 = 10 for each unit outside."""
    scores = interval_score(low=[10.0] * 3, high=[20.0] * 3, actual=[15.0, 8.0, 21.0], coverage=0.8)
    assert scores == pytest.approx([10.0, 30.0, 20.0])


def test_interval_score_is_least_for_the_true_quantiles() -> None:
    draws = np.random.default_rng(0).normal(size=20_000)
    reaches = np.linspace(0.8, 1.8, 41)
    means = [interval_score(low=np.full(20_000, -r), high=np.full(20_000, r), actual=draws).mean() for r in reaches]
    assert reaches[int(np.argmin(means))] == pytest.approx(1.2816, abs=0.05)  # the normal quantile at 0.9, from memory


@pytest.mark.parametrize("share", [0.0, 1.0, 80])
def test_share_out_of_range_is_refused(share: float) -> None:
    with pytest.raises(BadOption, match="coverage must be between 0 and 1"):
        interval_score(low=[1.0], high=[2.0], actual=[1.0], coverage=share)
    with pytest.raises(BadOption, match="confidence must be between 0 and 1"):
        coverage(low=[1.0], high=[2.0], actual=[1.0], confidence=share)


@pytest.mark.parametrize(
    ("low", "text"),
    [([], "of one shape"), ([[1.0]], "of one shape"), ([1.0, 2.0], "of one shape"), ([np.nan], "finite")],
)
def test_wrong_shape_or_missing_value_is_refused(low: Any, text: str) -> None:
    with pytest.raises(BadInput, match=text):
        coverage(low=low, high=[2.0], actual=[1.0])
