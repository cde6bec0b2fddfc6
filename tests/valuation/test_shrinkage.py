"""The strengths of shrinkage against libraries that compute the same thing another way."""

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose
from numpy.typing import NDArray
from scipy.optimize import lsq_linear, minimize
from sklearn.gaussian_process import GaussianProcessRegressor
from sklearn.gaussian_process.kernels import ConstantKernel, DotProduct, WhiteKernel

from tests.valuation.histories import EXTRAS, ames, windsor, windsor_model
from valuation import BadInput, BadOption, NotConverged, PriceModel
from valuation.design import BASE, Block
from valuation.reading import Array
from valuation.shrinkage import (
    Moments,
    Posterior,
    Prior,
    Strengths,
    bound,
    leave_one_out,
    solve,
    solve_free,
    tune,
    weak_prior,
)

BLOCKS = (Block(BASE, BASE, 0, 1), Block("smooth-line", "a", 1, 3), Block("level", "b", 4, 4))
RISING = (
    Block(BASE, BASE, 0, 1),
    Block("rising-line", "a", 1, 1, rising=True),
    Block("rising-bend", "a", 2, 3, rising=True),
    Block("smooth-line", "b", 5, 2),
)


def invented(*, rows: int = 60, seed: int = 0) -> tuple[Array, Array]:
    rng = np.random.default_rng(seed)
    x = np.column_stack([np.ones(rows), rng.normal(size=(rows, 7))])
    weights = np.array([0.5, 0.8, -0.6, 0.7, 0.1, -0.1, 0.05, 0.0])
    return x, x @ weights + rng.normal(0, 0.5, size=rows)


def moments(x: Array, y: Array) -> Moments:
    return Moments(x.T @ x, x.T @ y, float(y @ y), len(y))


def log_evidence(logs: Array, x: Array, y: Array) -> float:
    """Restricted log likelihood in its dense form (rows × rows), up to a constant."""
    variances = np.exp(logs)
    covariance = variances[2] * np.eye(len(y))
    for number, block in enumerate(BLOCKS[1:]):
        covariance += variances[number] * x[:, block.columns] @ x[:, block.columns].T
    inverse = np.linalg.inv(covariance)
    one = np.ones(len(y))
    mean = (one @ inverse @ y) / (one @ inverse @ one)
    left = float((y - mean) @ inverse @ (y - mean))
    return -0.5 * float(np.linalg.slogdet(covariance)[1] + np.log(one @ inverse @ one) + left)


def log_prior(logs: Array, prior: Prior) -> float:
    centre = np.append(prior.centre.blocks[1:], prior.centre.noise)
    return float(-0.5 * prior.weight * (logs + centre / np.exp(logs)).sum())


def test_tuned_strengths_are_the_dense_optimum() -> None:
    x, y = invented()
    prior = weak_prior(BLOCKS, scale=float(y.var()))
    found = tune(moments(x, y), blocks=BLOCKS, prior=prior, start=prior.centre).strengths
    dense = minimize(lambda logs: -log_evidence(logs, x, y) - log_prior(logs, prior), np.full(3, -1.0), tol=1e-12)
    assert_allclose(np.log(np.append(found.blocks[1:], found.noise)), dense.x, atol=2e-4)


def test_tuned_strengths_have_no_gradient_left() -> None:
    x, y = invented(seed=1)
    prior = weak_prior(BLOCKS, scale=float(y.var()))
    found = tune(moments(x, y), blocks=BLOCKS, prior=prior, start=prior.centre).strengths
    logs = np.log(np.append(found.blocks[1:], found.noise))
    for step in np.eye(3) * 1e-4:
        ends = [log_evidence(logs + sign * step, x, y) + log_prior(logs + sign * step, prior) for sign in (1, -1)]
        assert abs(ends[0] - ends[1]) / 2e-4 < 1e-3


def test_one_random_group_equals_a_mixed_model() -> None:
    """statsmodels.MixedLM by restricted likelihood: variance between and within groups, and the group effects."""
    mixed = pytest.importorskip("statsmodels.api", reason="statsmodels fits the mixed model this is checked against")
    frame, price = ames()
    log_price = np.log(price)
    dummies = pd.get_dummies(frame["neighbourhood"], dtype=float).to_numpy()
    x = np.column_stack([np.ones(len(price)), dummies])
    blocks = (Block(BASE, BASE, 0, 1), Block("level", "neighbourhood", 1, dummies.shape[1]))
    start = Strengths(np.array([1.0, 0.1]), 0.1)
    prior = Prior(start, weight=1e-12)
    found = tune(moments(x, log_price - 12), blocks=blocks, prior=prior, start=start)
    other = mixed.MixedLM(log_price, np.ones(len(price)), groups=frame["neighbourhood"])
    result = other.fit(reml=True, method="bfgs", gtol=1e-12)
    assert_allclose(found.strengths.noise, result.scale, rtol=1e-6)
    assert_allclose(found.strengths.blocks[1], np.asarray(result.cov_re)[0, 0], rtol=1e-6)
    assert_allclose(found.weights[0] + 12, np.asarray(result.params)[0], rtol=1e-6)
    effects = np.array([result.random_effects[name].iloc[0] for name in sorted(result.random_effects)])
    assert_allclose(found.weights[1:], effects, atol=1e-6)


def test_fixed_strengths_equal_a_gaussian_process() -> None:
    """scikit-learn's GaussianProcessRegressor with the same covariance, the flat base as a very wide constant."""
    x, y = invented()
    blocks = (BLOCKS[0], Block("smooth-line", "a", 1, 7))
    mine = solve(moments(x, y), blocks=blocks, strengths=Strengths(np.array([1.0, 0.3]), 0.2))
    kernel = (
        ConstantKernel(1e8, "fixed") + ConstantKernel(0.3, "fixed") * DotProduct(0, "fixed") + WhiteKernel(0.2, "fixed")
    )
    other = GaussianProcessRegressor(kernel, optimizer=None, alpha=0).fit(x[:, 1:], y)
    new = np.column_stack([np.ones(9), np.random.default_rng(2).normal(size=(9, 7))])
    mean, sd = other.predict(new[:, 1:], return_std=True)
    assert_allclose(new @ mine.weights, mean, atol=1e-6)
    assert_allclose(np.sqrt(0.2 + np.einsum("ij,jk,ik->i", new, mine.covariance, new)), sd, atol=1e-6)


def test_without_shrinkage_it_is_least_squares() -> None:
    """statsmodels OLS on the Windsor sales, to 6 digits: prices, slopes and the noise."""
    regression = pytest.importorskip(
        "statsmodels.api", reason="statsmodels fits the regression this is checked against"
    )
    frame, price = windsor()
    model = windsor_model("none").fit(frame, price)
    names = ["lotsize", "bedrooms", "garagepl", "bathrms", "stories", *EXTRAS]
    other = regression.OLS(np.log(price), regression.add_constant(frame[names])).fit()
    np.testing.assert_allclose(model.predict(frame), np.exp(other.fittedvalues), rtol=1e-6, atol=0.006)
    slopes = model.slopes()
    for name in names:
        assert slopes[name] == pytest.approx(other.params[name], rel=1e-6), name
    assert model.additive_.strengths.noise == pytest.approx(other.scale, rel=1e-6)


def test_least_squares_with_a_repeated_column_is_the_shortest() -> None:
    x, y = invented()
    twice = np.column_stack([x, x[:, 1]])
    found = solve_free(moments(twice, y), blocks=BLOCKS)
    shortest = np.linalg.lstsq(twice, y, rcond=None)[0]
    assert_allclose(found.weights, shortest, atol=1e-9)


def test_more_columns_than_rows_leaves_no_noise() -> None:
    x, y = invented(rows=5)
    found = solve_free(moments(x, y), blocks=BLOCKS)
    assert_allclose(x @ found.weights, y, atol=1e-8)
    assert found.strengths.noise == 0


def test_least_squares_needs_more_sales_than_effects() -> None:
    frame = pd.DataFrame({"make": [f"make {number}" for number in range(5)]})
    with pytest.raises(BadInput, match="there must be more sales than effects, got 5 sales"):
        PriceModel(nested=("make",), date=None, shrinkage="none").fit(frame, [1.0, 2.0, 3.0, 4.0, 5.0])


def test_slopes_of_a_shrunk_model_are_refused() -> None:
    with pytest.raises(BadOption, match="slopes needs shrinkage to be 'none', got 'evidence'"):
        PriceModel(nested=(), date=None).fit(pd.DataFrame(index=range(3)), [1.0, 2.0, 3.0]).slopes()


@pytest.mark.parametrize("turn", [1.0, -1.0])
def test_bounded_slopes_equal_a_general_solver(turn: float) -> None:
    """scipy.optimize.lsq_linear on the same problem written as rows: slopes with their prior, the others free."""
    rng = np.random.default_rng(3)
    ramps = np.clip(rng.uniform(0, 3, size=(50, 1)) - np.arange(3), 0, 1)
    x = np.column_stack([np.ones(50), ramps.sum(axis=1), ramps, rng.normal(size=(50, 2))])
    y = turn * (ramps @ np.array([1.0, -0.4, 0.3])) + x[:, 5] + rng.normal(0, 0.3, size=50)
    strengths = Strengths(np.array([1.0, 0.5, 0.2, 0.4]), 0.09)
    weights = bound(solve(moments(x, y), blocks=RISING, strengths=strengths), blocks=RISING)
    prior = np.linalg.cholesky(np.linalg.inv(np.full((3, 3), 0.5) + 0.2 * np.eye(3))).T
    free = x[:, [0, 2, 3, 4, 5, 6]]
    rows = np.vstack([free / 0.3, np.zeros((5, 6))])
    rows[50:53, 1:4] = prior
    rows[53:, 4:] = np.eye(2) / np.sqrt(0.4)
    low = np.array([-np.inf, 0, 0, 0, -np.inf, -np.inf])
    other = lsq_linear(rows, np.append(y / 0.3, np.zeros(5)), bounds=(low, np.inf), tol=1e-14)
    assert_allclose(weights[[0, 2, 3, 4, 5, 6]], other.x, atol=1e-6)
    assert weights[1] == 0


def test_infinite_shrinkage_is_the_mean() -> None:
    x, y = invented()
    found = solve(moments(x, y), blocks=BLOCKS, strengths=Strengths(np.array([1.0, 1e-12, 1e-12]), 0.2))
    assert_allclose(x @ found.weights, y.mean(), atol=1e-8)


def test_no_group_seen_twice_leans_on_the_prior_not_on_the_noise() -> None:
    rng = np.random.default_rng(0)
    frame = pd.DataFrame({"make": [f"make {number}" for number in range(14)]})
    price = np.exp(10 + rng.normal(0, 0.5, size=14))
    model = PriceModel(nested=("make",), date=None).fit(frame, price)
    assert not model.evidence(pd.DataFrame({"make": ["another"]}))["enough"].any()


def test_numbers_that_do_not_settle_are_refused() -> None:
    x, y = invented()
    broken = Moments(-(x.T @ x), x.T @ y, float(y @ y), len(y))
    with pytest.raises(NotConverged, match="positive definite"):
        solve(broken, blocks=BLOCKS, strengths=Strengths(np.ones(3), 1.0))


def test_too_few_rounds_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("valuation.shrinkage.ROUNDS", 2)
    x, y = invented()
    prior = weak_prior(BLOCKS, scale=1.0)
    with pytest.raises(NotConverged, match="must settle within 2 rounds"):
        tune(moments(x, y), blocks=BLOCKS, prior=prior, start=prior.centre)


@pytest.mark.parametrize("seed", range(4))
def test_very_many_sales_settle(seed: int) -> None:
    """Eight hundred thousand sales, and blocks of very different strength: 400 sales, each counted 2,000 times."""
    rng = np.random.default_rng(seed)
    widths = (1, 1, 7, 1, 7, 1, 5, 10, 40, 6, 4, 3, 12, 60)
    starts = 1 + np.cumsum((0, *widths[:-1]))
    levels = (Block("level", str(start), int(start), width) for start, width in zip(starts, widths, strict=True))
    blocks = (Block(BASE, BASE, 0, 1), *levels)
    spread = np.concatenate([[1.0], *(np.full(width, 10 ** rng.uniform(-2.5, 0)) for width in widths)])
    x = np.column_stack([np.ones(400), rng.normal(size=(400, sum(widths)))])
    y = x @ (rng.normal(size=len(spread)) * spread) + rng.normal(0, 0.1, size=400)
    once = moments(x, y)
    many = Moments(2000 * once.gram, 2000 * once.cross, 2000 * once.square, 2000 * once.count)
    prior = weak_prior(blocks, scale=float(y.var()))
    found = tune(many, blocks=blocks, prior=prior, start=prior.centre)
    assert found.strengths.noise < 0.02  # its own, 0.01, less what 159 effects take of 400 sales


def test_leaving_one_out_in_closed_form_equals_fitting_again() -> None:
    """Sixty refits by brute force, each without one row, the variances held."""
    x, y = invented()
    x = x[:, :7]
    weights = np.random.default_rng(4).uniform(0.2, 1.0, size=len(y))
    strengths = Strengths(np.array([1.0, 0.4, 0.2, 0.3]), 0.25)

    def fitted(rows: NDArray[np.bool_]) -> Posterior:
        weighed = x[rows] * weights[rows, None]
        own = Moments(weighed.T @ x[rows], weighed.T @ y[rows], float(weights[rows] @ y[rows] ** 2), int(rows.sum()))
        return solve(own, blocks=RISING, strengths=strengths)

    everyone = np.ones(len(y), dtype=bool)
    mean, variance = leave_one_out(x, y=y, weights=weights, posterior=fitted(everyone))
    for row in range(len(y)):
        other = fitted(np.arange(len(y)) != row)
        assert mean[row] == pytest.approx(x[row] @ other.weights, abs=1e-9)
        assert variance[row] == pytest.approx(x[row] @ other.covariance @ x[row], rel=1e-9)
