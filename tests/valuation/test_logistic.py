"""Logistic regression with a prior, against statsmodels and scikit-learn."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from sklearn.linear_model import LogisticRegression

from valuation import NotConverged
from valuation.logistic import fit_logistic
from valuation.reading import Array


def invented(*, rows: int = 300) -> tuple[Array, Array]:
    rng = np.random.default_rng(5)
    x = np.column_stack([np.ones(rows), rng.normal(size=(rows, 2))])
    return x, (rng.random(rows) < 1 / (1 + np.exp(-x @ [-1.0, 0.8, 0.0]))).astype(float)


def test_fit_without_prior_is_that_of_statsmodels() -> None:
    logit = pytest.importorskip("statsmodels.api", reason="statsmodels is what this is checked against").Logit
    x, y = invented()
    found = fit_logistic(x, outcome=y, counts=np.ones(len(y)), precision=np.zeros((3, 3)))
    reference = logit(y, x).fit(disp=0, tol=1e-12)
    assert_allclose(found.weights, reference.params, rtol=1e-8)
    assert_allclose(np.sqrt(np.diag(found.covariance)), reference.bse, rtol=1e-6)
    assert found.log_likelihood == pytest.approx(reference.llf, rel=1e-10)


def test_fit_with_prior_is_ridge_of_scikit_learn() -> None:
    x, y = invented()
    found = fit_logistic(x, outcome=y, counts=np.ones(len(y)), precision=np.diag([0.0, 4.0, 4.0]))
    ridge = LogisticRegression(C=0.25, tol=1e-12, max_iter=10_000).fit(x[:, 1:], y)
    assert_allclose(found.weights, [*ridge.intercept_, *ridge.coef_[0]], atol=1e-6)


def test_fit_of_counts_is_fit_of_single_trials() -> None:
    single = fit_logistic(np.ones((5, 1)), outcome=np.array([1.0, 0, 0, 1, 0]), counts=np.ones(5), precision=np.eye(1))
    counted = fit_logistic(np.ones((1, 1)), outcome=np.array([0.4]), counts=np.array([5.0]), precision=np.eye(1))
    assert_allclose(counted.weights, single.weights, atol=1e-12)
    assert_allclose(counted.covariance, single.covariance, atol=1e-12)


def test_fit_with_enormous_precision_stays_at_zero() -> None:
    x, y = invented()
    found = fit_logistic(x, outcome=y, counts=np.ones(len(y)), precision=1e12 * np.eye(3))
    assert_allclose(found.weights, 0.0, atol=1e-9)


@pytest.mark.parametrize("columns", [1, 2])
def test_fit_without_end_is_refused(columns: int) -> None:
    with pytest.raises(NotConverged):  # all yes; two columns that say the same
        fit_logistic(
            np.ones((4, columns)), outcome=np.ones(4), counts=np.ones(4), precision=np.zeros((columns, columns))
        )


def test_start_far_away_comes_home_by_halving_steps_that_go_too_far() -> None:
    found = fit_logistic(
        np.ones((2, 1)), outcome=np.array([1.0, 0.0]), counts=np.ones(2), precision=np.zeros((1, 1)),
        start=np.array([4.0]),  # a whole step would lead to -23, where it is worse
    )  # fmt: skip
    assert_allclose(found.weights, 0.0, atol=1e-10)


def test_without_trials_the_centre_of_the_prior_stays() -> None:
    found = fit_logistic(
        np.eye(2), outcome=np.zeros(2), counts=np.zeros(2), precision=np.eye(2), centre=np.array([-4.6, 1.0])
    )
    assert_allclose(found.weights, [-4.6, 1.0])
    assert found.log_likelihood == 0


def test_search_that_does_not_settle_says_how_far_it_was(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("valuation.logistic.STEPS", 1)
    x, y = invented()
    with pytest.raises(NotConverged, match="within 1 steps"):
        fit_logistic(x, outcome=y, counts=np.ones(len(y)), precision=np.zeros((3, 3)))
