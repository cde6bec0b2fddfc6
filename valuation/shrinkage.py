"""How strongly each block is shrunk, decided by the evidence; and the weights that follow.

The model is y = X w + noise, w ~ Normal(0, variance of its block), noise ~ Normal(0, noise / weight of the
row), with a flat prior on the first column. Only the moments X'X, X'y and y'y enter, so that no matrix of
rows × rows ever exists.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import lapack
from scipy.optimize import minimize, nnls

from valuation.design import Block
from valuation.errors import NotConverged
from valuation.reading import Array

ROUNDS = 500  # evaluations of the evidence before the search is called a failure
TOLERANCE = 1e-6  # of the slope of log evidence, at which the search ends
REACH = 8.0  # how far in logs one search goes beyond where it starts: farther, sums lose their digits
STEEP = 1e-2  # a slope that is no optimum
STEEP_ROWS = 10_000  # up to as many rows; of more the evidence has more digits before the point and fewer behind it
AFRESH = 3  # searches begun again where one ended: what it remembers of the bends can hold it back
# The weak prior of each variance counts as PRIOR_WEIGHT observed weights whose mean square is this share of
# the variance of log price. Chosen once for all data: a line may matter, a bend is a correction to it.
PRIOR_WEIGHT = 2.0
PRIOR_SHARE = {"line": 0.05, "bend": 0.01, "level": 0.1, "flags": 0.05, "gaps": 0.01, "together": 0.05}
PRIOR_SHARE |= {
    "offset": 0.1,
    "apart": 0.01,
}  # of sales elsewhere: that 20 % apart is no surprise, and what differs within
NOISE_SHARE = 0.05


@dataclass(frozen=True)
class Moments:
    """X'WX, X'Wy, y'Wy and the number of rows behind them."""

    gram: Array
    cross: Array
    square: float
    count: int


@dataclass(frozen=True)
class Strengths:
    """Variance of each block (the first, the base, is free: infinite and never used) and of the noise."""

    blocks: Array
    noise: float


@dataclass(frozen=True)
class Posterior:
    """Weights with their covariance: `covariance` is that of the unbounded weights."""

    weights: Array
    covariance: Array
    strengths: Strengths


@dataclass(frozen=True)
class Prior:
    """What is believed of the variances before any price is seen: `centre`, worth `weight` observations each."""

    centre: Strengths
    weight: float = PRIOR_WEIGHT


def weak_prior(blocks: tuple[Block, ...], *, scale: float) -> Prior:
    """The prior of every fit. `scale` is the variance of log price."""
    return Prior(Strengths(np.array([share_of(block) for block in blocks]) * scale, NOISE_SHARE * scale))


def share_of(block: Block) -> float:
    """The prior mean square of a block's weights as a share of the variance of log price."""
    return PRIOR_SHARE.get(block.kind.rsplit("-", 1)[-1], 1.0)


def tune(
    moments: Moments,
    *,
    blocks: tuple[Block, ...],
    prior: Prior,
    start: Strengths,
    rounds: int | None = None,
) -> Posterior:
    """Find the variances that make the prices most probable, and the weights under them.

    Parameters
    ----------
    start : where the search starts
    rounds : stop after so many steps, wherever the search is; without, it goes on to the optimum

    Notes
    -----
    Maximised over the logs of all variances: log evidence + log prior,
    -½ [N ln n + Σ k ln s² + ln det M + (y'Wy - w'X'Wy) / n] - ½ a Σ (ln v + m / v),
    M = X'WX / n + D, n the noise, k the width of a block with variance s², v each variance, a and m the weight and
    centre of its prior (inverse gamma). The slope by ln s² is ½ [(w'w + a m) / s² - (k - tr C / s² + a)], C = M⁻¹.

    Source: MacKay 1992, "Bayesian interpolation", Neural Computation 4(3), for the evidence and its slope; the
    prior's terms are own derivation; the search is scipy's L-BFGS-B.

    Raises
    ------
    NotConverged
        Without `rounds`: the slope is not flat after `ROUNDS` steps.
    """
    low, high = _logs(start).min() - REACH, _logs(start).max() + REACH
    # Log evidence bends by half a row in the log of the noise, by about one in the others: all are measured alike, else
    # of 100,000 rows the noise alone is searched for, and no step is small enough.
    unit = np.append(np.ones(len(blocks) - 1), np.sqrt(max(1.0, moments.count / 2)))

    def fall(scaled: Array) -> tuple[float, Array]:
        height, slope = _evidence(scaled / unit, moments=moments, blocks=blocks, prior=prior)
        return -height, -slope / unit

    at, steep = _logs(start)[1:] * unit, np.inf
    for _ in range(1 if rounds is not None else 1 + AFRESH):
        found = minimize(
            fall,
            at,
            jac=True,
            method="L-BFGS-B",
            bounds=[(low * one, high * one) for one in unit],
            options={"maxiter": rounds or ROUNDS, "gtol": TOLERANCE, "ftol": 1e-16, "maxcor": 20},
        )
        at, steep = found.x, float(np.abs(found.jac).max())
        if steep <= STEEP:
            break
    if rounds is None and steep > STEEP * max(1.0, moments.count / STEEP_ROWS):
        raise NotConverged(f"the strengths of shrinkage must settle within {ROUNDS} rounds, got a slope of {steep:.2g}")
    return solve(moments, blocks=blocks, strengths=_strengths(at / unit))


def _evidence(logs: Array, *, moments: Moments, blocks: tuple[Block, ...], prior: Prior) -> tuple[float, Array]:
    """Log evidence + log prior, up to a constant, and its slope by the log of each variance, the noise last."""
    strengths = _strengths(logs)
    matrix, pulls = moments.gram / strengths.noise, precision(blocks, strengths=strengths)
    matrix[np.diag_indices_from(matrix)] += pulls
    factor = cholesky_of(matrix)
    covariance = inverse_of(factor)
    weights = covariance @ moments.cross / strengths.noise
    weights += covariance @ (moments.cross / strengths.noise - matrix @ weights)  # what the inverse left over
    widths = np.array([block.width for block in blocks[1:]])
    starts = [block.start for block in blocks[1:]]
    values, centres = strengths.blocks[1:], prior.centre.blocks[1:]
    sizes = np.add.reduceat(weights**2, starts) if starts else np.empty(0)
    spreads = np.add.reduceat(np.diag(covariance), starts) if starts else np.empty(0)
    told = widths - spreads / values
    fit = float(weights @ moments.cross)
    left = max(0.0, moments.square - 2 * fit + float(weights @ moments.gram @ weights))
    height = moments.count * logs[-1] + float(widths @ logs[:-1]) + 2 * float(np.log(np.diag(factor)).sum())
    # (y'Wy - w'X'Wy) / n as what is left and what is pulled: an error of w enters squared. Told the short way it moves
    # the height of 100,000 rows by more than the search has to climb.
    height += left / strengths.noise + float(pulls @ weights**2)
    height += prior.weight * float((logs + np.append(centres, prior.centre.noise) / np.exp(logs)).sum())
    slope = (sizes + prior.weight * centres) / values - told - prior.weight
    free = moments.count - 1.0 - float(told.sum())
    noise = (left + prior.weight * prior.centre.noise) / strengths.noise - free - prior.weight
    return -0.5 * height, 0.5 * np.append(slope, noise)


def _logs(strengths: Strengths) -> Array:
    """Of all variances, the base's first, the noise last."""
    out: Array = np.log(np.append(strengths.blocks, strengths.noise))
    return out


def _strengths(logs: Array) -> Strengths:
    """From the logs of all variances but the base's, which is never used."""
    values = np.exp(logs)
    return Strengths(np.append(1.0, values[:-1]), float(values[-1]))


def precision(blocks: tuple[Block, ...], *, strengths: Strengths) -> Array:
    """1 / variance of each column, 0 for the base."""
    per_column = np.concatenate(
        [np.full(block.width, 1 / value) for block, value in zip(blocks, strengths.blocks, strict=True)]
    )
    per_column[0] = 0.0
    return per_column


def solve(moments: Moments, *, blocks: tuple[Block, ...], strengths: Strengths) -> Posterior:
    """Weights and their covariance with the variances given; no sign is imposed.

    Notes
    -----
    covariance = (X'WX / noise + D)⁻¹, weights = covariance X'Wy / noise, D diagonal with 1 / variance.
    """
    matrix = moments.gram / strengths.noise
    matrix[np.diag_indices_from(matrix)] += precision(blocks, strengths=strengths)
    covariance = inverse_of(cholesky_of(matrix))
    return Posterior(covariance @ moments.cross / strengths.noise, covariance, strengths)


def leave_one_out(matrix: Array, *, y: Array, weights: Array, posterior: Posterior) -> tuple[Array, Array]:
    """What each row would be told to be by all others, without fitting again.

    Parameters
    ----------
    matrix : rows of the design, shape (rows, width)
    y : what was fitted, shape (rows,)
    weights : of the rows, shape (rows,), positive
    posterior : from `solve`, fitted to these rows among others, its variances held

    Returns
    -------
    Mean and variance of x w without the row, each of shape (rows,).

    Notes
    -----
    With v = x C x' and h = weight v / noise: mean = y - (y - x w) / (1 - h), variance = v / (1 - h).
    Source: Sherman & Morrison 1950 applied to the normal equations.
    """
    spread = np.einsum("ij,ij->i", matrix @ posterior.covariance, matrix)
    left = 1 - weights * spread / posterior.strengths.noise
    return y - (y - matrix @ posterior.weights) / left, spread / left


def cholesky_of(matrix: Array) -> Array:
    """Lower Cholesky factor of a positive definite matrix (which is overwritten)."""
    factor, failed = lapack.dpotrf(matrix, lower=1, overwrite_a=1)
    if failed:
        raise NotConverged("the normal equations must be positive definite, got otherwise")
    out: Array = factor
    return out


def inverse_of(factor: Array) -> Array:
    """Inverse of the matrix with this lower Cholesky factor."""
    half, _ = lapack.dpotri(factor, lower=1)  # its upper triangle is zero, as the factor's is
    out: Array = half + half.T
    out[np.diag_indices_from(out)] /= 2
    return out


def solve_free(moments: Moments, *, blocks: tuple[Block, ...]) -> Posterior:
    """Weights without any shrinkage: least squares, of least length where columns repeat each other.

    Notes
    -----
    noise = residual sum of squares / (rows - rank), 0 where no row is left over. The smallest weights are taken
    where several fit equally.
    """
    values, vectors = np.linalg.eigh(moments.gram)
    kept = values > values[-1] * len(values) * np.finfo(float).eps
    inverse = (vectors[:, kept] / values[kept]) @ vectors[:, kept].T
    weights = inverse @ moments.cross
    free = moments.count - int(kept.sum())
    noise = max(0.0, moments.square - float(weights @ moments.cross)) / free if free > 0 else 0.0
    return Posterior(weights, inverse * noise, Strengths(np.full(len(blocks), np.inf), noise))


def bound(posterior: Posterior, *, blocks: tuple[Block, ...]) -> Array:
    """The weights once more, with the slopes of every rising input held at zero or above.

    Returns
    -------
    Weights of shape (width,): those of the ramps are non-negative, that of the common slope is zero (it is
    part of them).

    Notes
    -----
    The most probable weights under Normal(weights, covariance) given that all slopes d = common slope +
    departure are at least 0: the slopes minimise (d - m)' V⁻¹ (d - m), V and m their covariance and mean (a
    non-negative least squares problem, solved exactly), and every other weight moves with them by regression.

    Source: Lawson & Hanson 1974 for the solver; the rest is own derivation.
    """
    lines = [(number, block) for number, block in enumerate(blocks) if block.rising and block.kind.endswith("-line")]
    if not lines:
        return posterior.weights
    ramps = np.concatenate([_indices(blocks[number + 1]) for number, _ in lines])
    common = np.concatenate([np.full(blocks[number + 1].width, block.start) for number, block in lines])
    weights, covariance = posterior.weights, posterior.covariance
    across = covariance[:, ramps] + covariance[:, common]
    spread = across[ramps] + across[common]
    middle = weights[ramps] + weights[common]
    values, vectors = np.linalg.eigh(spread)
    kept = values > values[-1] * len(values) * np.finfo(float).eps
    root = (vectors[:, kept] / np.sqrt(values[kept])).T
    slopes = np.asarray(nnls(root, root @ middle)[0], dtype=np.float64)
    out: Array = weights + across @ (root.T @ (root @ (slopes - middle)))
    out[common] = 0.0
    out[ramps] = slopes
    return out


def _indices(block: Block) -> NDArray[np.intp]:
    return np.arange(block.start, block.start + block.width)
