"""Measures against worked figures and against scipy."""

from typing import Any

import numpy as np
import pytest
from scipy.stats import binomtest, bootstrap

from valuation import BadInput, BadOption, coverage, honest_share, interval_score, prd_interval, ratio_study

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


def test_prd_interval_holds_the_prd_and_narrows_with_more_sales() -> None:
    few = prd_interval(ESTIMATES, PRICES)
    many = prd_interval(np.tile(ESTIMATES, 20), np.tile(PRICES, 20))
    assert few[0] < 1.008345 < few[1]
    assert few[0] < many[0] < 1.008345 < many[1] < few[1]


def test_prd_interval_is_that_of_draws_one_by_one() -> None:
    """The same draws through `ratio_study` itself, and through scipy's bootstrap."""
    generator = np.random.default_rng(0)
    drawn = [generator.integers(10, size=10) for _ in range(1000)]
    prds = [ratio_study(ESTIMATES[index], PRICES[index]).prd for index in drawn]
    found = prd_interval(ESTIMATES, PRICES)
    assert found == pytest.approx(tuple(np.quantile(prds, [0.025, 0.975])), abs=1e-12)

    def prd(estimate: Any, price: Any, axis: int = -1) -> Any:
        return (estimate / price).mean(axis=axis) / (estimate.sum(axis=axis) / price.sum(axis=axis))

    peer = bootstrap(
        (ESTIMATES, PRICES), prd, paired=True, vectorized=True, n_resamples=20_000, method="percentile", rng=1
    )
    assert found == pytest.approx(tuple(peer.confidence_interval), abs=0.004)


def test_prd_interval_of_many_sales_is_drawn_in_pieces(monkeypatch: pytest.MonkeyPatch) -> None:
    whole = prd_interval(ESTIMATES, PRICES, draws=50)
    monkeypatch.setattr("valuation.metrics.DRAWN_AT_ONCE", 70)
    assert prd_interval(ESTIMATES, PRICES, draws=50) == pytest.approx(whole, abs=1e-12)


@pytest.mark.parametrize("given", [{"draws": 0}, {"confidence": 1.0}])
def test_prd_interval_refuses_options_out_of_range(given: dict[str, Any]) -> None:
    with pytest.raises(BadOption, match="must be"):
        prd_interval(ESTIMATES, PRICES, **given)


def test_prd_interval_refuses_what_has_no_ratio() -> None:
    with pytest.raises(BadInput, match="positive and at least two"):
        prd_interval([1.0], [1.0])


@pytest.mark.parametrize(
    ("errors", "low", "high"), [(30, 0.68, 0.91), (100, 0.73, 0.86), (300, 0.76, 0.84), (1000, 0.78, 0.82)]
)
def test_honest_share_of_endless_sales_is_that_of_the_beta_law(errors: int, low: float, high: float) -> None:
    """Realised coverage at 80 % nominal, 5 to 95 % range, from n past errors: computed from Beta(k, n + 1 - k)."""
    found = honest_share(200_000, errors=errors)
    assert found == pytest.approx((low, high), abs=0.006)


def test_honest_share_of_a_simulated_record() -> None:
    """60 sales held against a band made from 60 errors, 20,000 times over, by ranks of uniform draws."""
    generator = np.random.default_rng(3)
    reach = np.sort(generator.uniform(size=(20_000, 60)), axis=1)[:, 48]  # the 49th smallest: ceil(61 × 0.8)
    share = (generator.uniform(size=(20_000, 60)) <= reach[:, None]).mean(axis=1)
    low, high = honest_share(60, errors=60)
    assert np.quantile(share, [0.05, 0.95]) == pytest.approx([low, high], abs=1 / 60)
    assert honest_share(60)[0] > low  # a band that is exactly right spreads less


@pytest.mark.parametrize(
    ("given", "text"),
    [
        ({"count": 0}, "count must be at least 1"),
        ({"count": 10, "coverage": 1.0}, "coverage must be between 0 and 1"),
        ({"count": 10, "confidence": 0.0}, "confidence must be between 0 and 1"),
        ({"count": 10, "errors": 3}, "errors must be enough for a band of 0.8, got 3"),
    ],
)
def test_honest_share_refuses_options_out_of_range(given: dict[str, Any], text: str) -> None:
    with pytest.raises(BadOption, match=text):
        honest_share(**given)
