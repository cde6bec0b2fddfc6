"""Averaging over the strengths of shrinkage: it repeats itself, and agrees with one optimum where rows are many."""

import numpy as np
from numpy.testing import assert_allclose

from valuation.averaging import Chain, average
from valuation.design import BASE, Block
from valuation.reading import Array
from valuation.shrinkage import Moments, Posterior, tune, weak_prior

BLOCKS = (Block(BASE, BASE, 0, 1), Block("smooth-line", "a", 1, 3), Block("level", "b", 4, 4))


def problem(rows: int) -> tuple[Array, Moments]:
    rng = np.random.default_rng(0)
    x = np.column_stack([np.ones(rows), rng.normal(size=(rows, 7))])
    y = x @ np.array([0.5, 0.8, -0.6, 0.7, 0.1, -0.1, 0.05, 0.0]) + rng.normal(0, 0.5, size=rows)
    return x, Moments(x.T @ x, x.T @ y, float(y @ y), rows)


def both(rows: int) -> tuple[Posterior, Posterior]:
    _, moments = problem(rows)
    prior = weak_prior(BLOCKS, scale=1.75)
    one = tune(moments, blocks=BLOCKS, prior=prior, start=prior.centre)
    chain = Chain(draws=400, warm=50)
    return one, average(moments, blocks=BLOCKS, prior=prior, start=prior.centre, chain=chain)


def test_the_same_sums_give_the_same_digits() -> None:
    assert np.array_equal(both(30)[1].weights, both(30)[1].weights)


def test_with_many_rows_it_is_the_optimum() -> None:
    one, mean = both(20_000)
    assert_allclose(mean.weights, one.weights, atol=1e-4)
    assert_allclose(mean.strengths.noise, one.strengths.noise, rtol=0.01)
    assert_allclose(np.sqrt(np.diag(mean.covariance)), np.sqrt(np.diag(one.covariance)), rtol=0.02)


def test_with_few_rows_it_is_less_sure_than_the_optimum() -> None:
    one, mean = both(15)
    assert np.diag(mean.covariance).mean() > np.diag(one.covariance).mean()
    assert np.linalg.eigvalsh(mean.covariance).min() > 0
