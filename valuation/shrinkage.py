"""How strongly each block is shrunk, decided by the evidence; and the weights that follow.

The model is y = X w + noise, w ~ Normal(0, variance of its block), noise ~ Normal(0, noise / weight of the
row), with a flat prior on the first column. Only the moments X'X, X'y and y'y enter, so that no matrix of
rows × rows ever exists.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cholesky, lapack, solve_triangular
from scipy.optimize import nnls

from valuation.design import Block
from valuation.errors import NotConverged
from valuation.reading import Array

ROUNDS = 2000
TOLERANCE = 1e-5
LEAP = 4  # rounds from one leap to the next
LONGEST = 10.0  # steps in one leap
CALM = 60  # rounds after which there are no leaps
# The weak prior of each variance counts as PRIOR_WEIGHT observed weights whose mean square is this share of
# the variance of log price. Chosen once for all data: a line may matter, a bend is a correction to it.
PRIOR_WEIGHT = 1.0
PRIOR_SHARE = {"line": 0.05, "bend": 0.01, "level": 0.05, "flags": 0.02, "gaps": 0.01}
NOISE_SHARE = 0.1


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
    tolerance: float = TOLERANCE,
) -> Posterior:
    """Find the variances that make the prices most probable, and the weights under them.

    Parameters
    ----------
    start : where the search starts
    tolerance : the search ends when no variance moves by more than this share

    Notes
    -----
    At the optimum of log evidence + log prior each variance satisfies
    s² = (Σ w² + a m) / (γ + a), γ = number of weights - trace(covariance) / s²,
    with a and m the weight and centre of the prior (inverse gamma); the noise likewise. This is iterated.

    Source: MacKay 1992, "Bayesian interpolation", Neural Computation 4(3), for the fixed point; the prior's
    terms are own derivation.

    Raises
    ------
    NotConverged
        After `ROUNDS` rounds the variances still move.
    """
    logs, before = _logs(start), np.zeros(len(blocks) + 1)
    for number in range(ROUNDS):
        posterior = solve(moments, blocks=blocks, strengths=_strengths(logs))
        step = _logs(_improve(posterior, moments=moments, blocks=blocks, prior=prior)) - logs
        if float(np.max(np.abs(step))) < tolerance:
            return posterior
        logs, before = logs + step * _pace(step, before=before, number=number), step
    moved = float(np.max(np.abs(step)))
    raise NotConverged(f"the strengths of shrinkage must settle within {ROUNDS} rounds, got a last step of {moved:.2g}")


def _pace(step: Array, *, before: Array, number: int) -> Array:
    """How much of its step each variance takes: half where it swings, now and then a leap where it creeps.

    A leap goes where steps that shrink at the present rate would end. After `CALM` rounds there are no leaps, and ever
    smaller shares of the step are taken, so that no cycle can last.
    """
    ratio = np.divide(step, before, out=np.zeros_like(step), where=before != 0)
    pace = np.where(ratio < 0, 0.5, 1.0)
    if number < CALM and number % LEAP == LEAP - 1:
        pace = np.where(ratio > 0, 1 / (1 - np.minimum(ratio, 1 - 1 / LONGEST)), pace)
    return np.asarray(pace * min(1.0, 2 * CALM / (number + 1)), dtype=np.float64)


def _logs(strengths: Strengths) -> Array:
    out: Array = np.log(np.append(strengths.blocks, strengths.noise))
    return out


def _strengths(logs: Array) -> Strengths:
    values = np.exp(logs)
    return Strengths(values[:-1], float(values[-1]))


def _improve(posterior: Posterior, *, moments: Moments, blocks: tuple[Block, ...], prior: Prior) -> Strengths:
    old, w = posterior.strengths, posterior.weights
    spread = np.diag(posterior.covariance)
    new = old.blocks.copy()
    used = 1.0  # the base
    for number, block in enumerate(blocks[1:], start=1):
        told = max(0.0, block.width - float(spread[block.columns].sum()) / old.blocks[number])  # below 0: rounding
        used += told
        size = float(w[block.columns] @ w[block.columns])
        new[number] = (size + prior.weight * prior.centre.blocks[number]) / (told + prior.weight)
    left = max(0.0, moments.square - 2 * float(w @ moments.cross) + float(w @ moments.gram @ w))
    free = max(0.0, moments.count - used)
    noise = (left + prior.weight * prior.centre.noise) / (free + prior.weight)
    return Strengths(new, noise)


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
    covariance = _inverse(matrix)
    return Posterior(covariance @ moments.cross / strengths.noise, covariance, strengths)


def _inverse(matrix: Array) -> Array:
    """Inverse of a positive definite matrix."""
    factor, failed = lapack.dpotrf(matrix, lower=1, overwrite_a=1)
    if failed:
        raise NotConverged("the normal equations must be positive definite, got otherwise")
    half, _ = lapack.dpotri(factor, lower=1, overwrite_c=1)
    out: Array = np.tril(half) + np.tril(half, -1).T
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


def bound(posterior: Posterior, *, moments: Moments, blocks: tuple[Block, ...]) -> Array:
    """The weights once more, with the slopes of every rising input held at zero or above.

    Parameters
    ----------
    posterior : from `solve` or `solve_free` on the same moments; its variances are kept

    Returns
    -------
    Weights of shape (width,): those of the ramps are non-negative, that of the common slope is zero (it is
    part of them).

    Notes
    -----
    With slopes d = common slope + departure, d has prior covariance s1² 11' + s2² I. Everything else is
    eliminated (Schur complement), and what remains is a non-negative least squares problem, solved exactly.

    Source: Lawson & Hanson 1974 for the solver; the elimination is own derivation.
    """
    lines = [(number, block) for number, block in enumerate(blocks) if block.rising and block.kind.endswith("-line")]
    if not lines:
        return posterior.weights
    ramps = np.concatenate([_indices(blocks[number + 1]) for number, _ in lines])
    hidden = np.concatenate([ramps, *(_indices(block) for _, block in lines)])
    rest = np.setdiff1d(np.arange(len(posterior.weights)), hidden)
    strengths = posterior.strengths
    noise = 1.0 if np.isinf(strengths.blocks[0]) else strengths.noise  # without shrinkage the noise cancels
    matrix = moments.gram / noise
    matrix[np.diag_indices_from(matrix)] += precision(blocks, strengths=strengths)
    target = moments.cross / noise
    to_rest = _pseudo_inverse(matrix[np.ix_(rest, rest)])
    across = matrix[np.ix_(rest, ramps)]
    left = moments.gram[np.ix_(ramps, ramps)] / noise - across.T @ to_rest @ across
    left += _slope_precision(lines, blocks=blocks, strengths=strengths)
    slopes = _non_negative(left, target=target[ramps] - across.T @ to_rest @ target[rest])
    weights = np.zeros_like(posterior.weights)
    weights[ramps] = slopes
    weights[rest] = to_rest @ (target[rest] - across @ slopes)
    return weights


def _indices(block: Block) -> NDArray[np.intp]:
    return np.arange(block.start, block.start + block.width)


def _pseudo_inverse(matrix: Array) -> Array:
    return np.asarray(np.linalg.pinv(matrix, hermitian=True), dtype=np.float64)


def _slope_precision(lines: list[tuple[int, Block]], *, blocks: tuple[Block, ...], strengths: Strengths) -> Array:
    pieces = []
    for number, _ in lines:
        width = blocks[number + 1].width
        common, apart = strengths.blocks[number], strengths.blocks[number + 1]
        if np.isinf(common):
            pieces.append(np.zeros((width, width)))
        else:
            pieces.append(np.linalg.inv(np.full((width, width), common) + apart * np.eye(width)))
    size = sum(len(piece) for piece in pieces)
    out = np.zeros((size, size))
    at = 0
    for piece in pieces:
        out[at : at + len(piece), at : at + len(piece)] = piece
        at += len(piece)
    return out


def _non_negative(matrix: Array, *, target: Array) -> Array:
    """argmin ½ d'Md - t'd over d >= 0, with M positive definite."""
    upper = cholesky(matrix)
    return np.asarray(nnls(upper, solve_triangular(upper, target, trans="T"))[0], dtype=np.float64)
