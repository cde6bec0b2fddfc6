"""Logistic regression with a normal prior on its weights: the one place where chances a week are fitted."""

from dataclasses import dataclass

import numpy as np
from scipy.special import expit

from valuation.errors import NotConverged
from valuation.reading import Array

STEPS = 100
SETTLED = 1e-10  # of the step in each weight, in log odds
FINEST = 2.0**-20  # of a Newton step: below it nothing is left to gain


@dataclass(frozen=True)
class Logistic:
    """Weights with their covariance (the inverse curvature at the optimum), and the log likelihood without prior."""

    weights: Array
    covariance: Array
    log_likelihood: float


def fit_logistic(
    design: Array,
    *,
    outcome: Array,
    counts: Array,
    precision: Array,
    centre: Array | None = None,
    start: Array | None = None,
) -> Logistic:
    """The most probable weights of a logistic regression under a normal prior.

    Parameters
    ----------
    design : shape (n_rows, n_weights)
    outcome : shape (n_rows,), 0 to 1: share of the row's trials that came out as yes
    counts : shape (n_rows,), 0 or more: trials of each row
    precision : shape (n_weights, n_weights): inverse covariance of the prior; zeros for none
    centre : mean of the prior, shape (n_weights,); zeros if not given
    start : weights to begin with, shape (n_weights,); the centre if not given

    Returns
    -------
    Logistic
        In log odds per unit of each column.

    Raises
    ------
    NotConverged
        The weights did not settle: without a prior that is so where the outcomes can be told apart entirely.

    Notes
    -----
    Newton's method on Σ counts (y log h + (1 - y) log(1 - h)) - ½ (w - m)'P(w - m), h = 1 / (1 + exp(-Xw)), halving a
    step that does not gain. Source: McCullagh & Nelder 1989, section 4.4.

    Examples
    --------
    >>> one_of_four = np.array([1.0, 0.0, 0.0, 0.0])
    >>> found = fit_logistic(np.ones((4, 1)), outcome=one_of_four, counts=np.ones(4), precision=np.zeros((1, 1)))
    >>> round(float(found.weights[0]), 6)  # log(1/3)
    -1.098612
    """
    middle = np.zeros(design.shape[1]) if centre is None else centre
    weights = middle.copy() if start is None else start.astype(np.float64)
    problem = _Problem(design, outcome, counts, precision, middle)
    height = problem.height(weights)
    for _ in range(STEPS):
        slope, bend = problem.slope_and_bend(weights)
        step = _solved(bend, slope=slope)
        taken = 1.0
        while True:
            tried = weights + taken * step
            reached = problem.height(tried)
            if reached >= height or taken < FINEST:
                break
            taken /= 2
        weights, height = tried, reached
        if np.abs(taken * step).max(initial=0.0) < SETTLED or taken < FINEST:
            inverse = np.asarray(np.linalg.inv(bend), dtype=np.float64)
            return Logistic(weights, inverse, height + problem.penalty(weights))
    raise NotConverged(f"the weights must settle within {STEPS} steps, got a last step of {np.abs(step).max():.2g}")


def _solved(bend: Array, *, slope: Array) -> Array:
    try:
        out: Array = np.asarray(np.linalg.solve(bend, slope), dtype=np.float64)
    except np.linalg.LinAlgError as error:
        raise NotConverged("the columns must tell rows apart without a prior, got columns that say the same") from error
    return out


@dataclass(frozen=True)
class _Problem:
    design: Array
    outcome: Array
    counts: Array
    precision: Array
    centre: Array

    def penalty(self, weights: Array) -> float:
        away = weights - self.centre
        return 0.5 * float(away @ self.precision @ away)

    def height(self, weights: Array) -> float:
        odds = self.design @ weights
        likelihood = self.counts * (self.outcome * odds - np.logaddexp(0.0, odds))
        return float(likelihood.sum()) - self.penalty(weights)

    def slope_and_bend(self, weights: Array) -> tuple[Array, Array]:
        """Of the height; the bend is minus its second derivative."""
        chance = expit(self.design @ weights)
        slope = self.design.T @ (self.counts * (self.outcome - chance)) - self.precision @ (weights - self.centre)
        spread = (self.counts * chance * (1 - chance))[:, None]
        return slope, (self.design * spread).T @ self.design + self.precision
