"""Weights averaged over what the strengths of shrinkage may be, where few sales cannot tell one optimum."""

from dataclasses import dataclass

import numpy as np
from scipy.linalg import solve_triangular

from valuation.design import Block
from valuation.reading import Array
from valuation.shrinkage import Moments, Posterior, Prior, Strengths, cholesky_of, inverse_of, precision

SEED = 20_000  # any number: the same sales give the same draws
THIN = 5  # draws from one that adds its conditional covariance to the next: it changes little, and costs most
SCALE_WEIGHT = (
    1.0  # of the prior of the common scale of all blocks, in gamma shape: it may be several times more or less
)


@dataclass(frozen=True)
class Chain:
    """How many draws of the strengths are taken, after how many that are thrown away."""

    draws: int
    warm: int


def average(moments: Moments, *, blocks: tuple[Block, ...], prior: Prior, start: Strengths, chain: Chain) -> Posterior:
    """The weights' mean and covariance with the variances of blocks and noise averaged over their posterior.

    Parameters
    ----------
    start : where the chain starts; near the optimum it needs few draws to warm up

    Returns
    -------
    Weights and covariance of the mixture; `strengths` are harmonic means of the blocks' variances and the mean
    of the noise.

    Notes
    -----
    Gibbs sampling: weights given variances are normal; each variance given its block's weights is inverse
    gamma, as is the noise given the residuals; the centres of the blocks' priors share a factor of their own,
    gamma given the variances. What is averaged are the conditional means and covariances, not the drawn
    weights: law of total variance. Draws come from a fixed seed.

    Source: Gelfand & Smith 1990 (sampling, and averaging of conditional moments); the common factor is own
    derivation.
    """
    rng = np.random.default_rng(SEED)
    state = _State(start, 1.0)
    width = len(moments.cross)
    mean, within, squares = np.zeros(width), np.zeros((width, width)), np.zeros((width, width))
    inverses, noise, inverted = np.zeros(len(blocks)), 0.0, 0
    for number in range(-chain.warm, chain.draws):
        matrix = moments.gram / state.strengths.noise
        matrix[np.diag_indices_from(matrix)] += precision(blocks, strengths=state.strengths)
        factor = cholesky_of(matrix)
        half = _solved(factor, moments.cross / state.strengths.noise)
        middle, drawn = _solved(factor, np.column_stack([half, half + rng.standard_normal(width)]), turned=True).T
        if number >= 0:
            mean += middle
            squares += np.outer(middle, middle)
            inverses += 1 / state.strengths.blocks
            noise += state.strengths.noise
            if number % THIN == 0:
                within += inverse_of(factor)
                inverted += 1
        state = _next(state, weights=drawn, moments=moments, blocks=blocks, prior=prior, rng=rng)
    mean /= chain.draws
    covariance = within / inverted + squares / chain.draws - np.outer(mean, mean)
    return Posterior(mean, covariance, Strengths(chain.draws / inverses, noise / chain.draws))


def _solved(factor: Array, right: Array, *, turned: bool = False) -> Array:
    """The factor's inverse (or its transpose's) times the right-hand side."""
    trans = "T" if turned else "N"
    return np.asarray(solve_triangular(factor, right, lower=True, trans=trans, check_finite=False), dtype=np.float64)


@dataclass(frozen=True)
class _State:
    strengths: Strengths
    factor: float  # of the centres of all blocks' priors


def _next(
    state: _State,
    *,
    weights: Array,
    moments: Moments,
    blocks: tuple[Block, ...],
    prior: Prior,
    rng: np.random.Generator,
) -> _State:
    """New variances given the drawn weights."""
    starts = [block.start for block in blocks]
    widths = np.array([block.width for block in blocks])
    sizes = np.add.reduceat(weights**2, starts)
    worth = prior.weight * prior.centre.blocks
    shape = SCALE_WEIGHT + prior.weight * (len(blocks) - 1) / 2
    factor = rng.gamma(shape) / (SCALE_WEIGHT + float((worth / state.strengths.blocks)[1:].sum()) / 2)
    variances = (sizes + worth * factor) / 2 / rng.gamma((widths + prior.weight) / 2)
    left = max(0.0, moments.square - 2 * float(weights @ moments.cross) + float(weights @ moments.gram @ weights))
    noise = (left + prior.weight * prior.centre.noise) / 2 / rng.gamma((moments.count + prior.weight) / 2)
    variances[0] = 1.0  # the base's is never used
    return _State(Strengths(variances, float(noise)), factor)
