"""One fit of the additive model to some rows of a history, with doubtful rows weighing less."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from valuation.design import Design, Expanded
from valuation.errors import BadInput
from valuation.reading import Array, Table
from valuation.shrinkage import TOLERANCE, Moments, Prior, Strengths, bound, solve_free, tune, weak_prior

KEPT = 40_000_000  # numbers of a matrix that is kept (320 MB); a larger one is laid out again at each pass
REWEIGHTS = 4
ROUGH = 1e-3  # tolerance of the fits between two reweightings
TAIL = 5.0  # degrees of freedom of the heavy-tailed noise
SCALE_FLOOR = 1e-4  # variance of log price below which prices hardly differ: keeps equal prices from a zero prior


@dataclass(frozen=True)
class Additive:
    """A fitted model of log price. `covariance` is zero in the columns of rising inputs: better is never less sure."""

    weights: Array
    covariance: Array
    strengths: Strengths

    def mean(self, rows: Expanded) -> Array:
        """Median of log price, shape (rows,). Summed per row, so that a row alone gives the same digits."""
        out: Array = np.einsum("ij,j->i", rows.matrix, self.weights)
        return out

    def variance(self, rows: Expanded) -> Array:
        """Variance of log price of one sale like each row: noise, unsure weights, and what is not known of it."""
        unsure = np.maximum(np.einsum("ij,ij->i", rows.matrix @ self.covariance, rows.matrix), 0.0)
        doubt = rows.doubt(self.weights, variances=self.strengths.blocks)
        out: Array = self.strengths.noise + unsure + doubt
        return out


class History:
    """The sales of a lot as a matrix, in pieces: all kept where they fit, else laid out again at each pass."""

    def __init__(self, design: Design, *, table: Table, log_price: Array) -> None:
        self.design, self.table, self.log_price = design, table, log_price
        small = table.size * design.width <= KEPT
        self._kept = list(design.pieces(table)) if small else None

    def pieces(self) -> Iterator[tuple[slice, Expanded]]:
        return iter(self._kept) if self._kept is not None else self.design.pieces(self.table)

    def moments(self, weights: Array, *, centre: float) -> Moments:
        """Sums over all rows; a row of weight zero is not there."""
        width = self.design.width
        gram, cross, square = np.zeros((width, width)), np.zeros(width), 0.0
        for rows, piece in self.pieces():
            y, w = self.log_price[rows] - centre, weights[rows]
            weighted = piece.matrix * w[:, None]
            gram += piece.matrix.T @ weighted
            cross += weighted.T @ y
            square += float(w @ y**2)
        return Moments(gram, cross, square, int(np.count_nonzero(weights)))

    def predict(self, model: Additive) -> tuple[Array, Array]:
        """Median and variance of log price of every sale under a model."""
        mean, variance = np.empty(self.table.size), np.empty(self.table.size)
        for rows, piece in self.pieces():
            mean[rows], variance[rows] = model.mean(piece), model.variance(piece)
        return mean, variance

    def typical(self) -> Array:
        """The mean of every column over the sales: the sale that parts are told against."""
        total = sum((piece.matrix.sum(axis=0) for _, piece in self.pieces()), np.zeros(self.design.width))
        out: Array = total / self.table.size
        return out

    def doubts(self, model: Additive) -> Array:
        """Variance from missing inputs alone, per sale."""
        out = np.empty(self.table.size)
        for rows, piece in self.pieces():
            out[rows] = piece.doubt(model.weights, variances=model.strengths.blocks)
        return out


def fit_rows(
    history: History, *, used: Array, heavy: bool, shrunk: bool = True, start: Strengths | None = None
) -> Additive:
    """Fit to the rows where `used` is 1; rows where it is 0 are held out.

    Parameters
    ----------
    used : shape (n_sales,), 1 or 0
    heavy : Student-t noise: a sale far from its like weighs less, none is dropped
    shrunk : False gives least squares
    start : where to start the search for the variances

    Notes
    -----
    Row weights are noise / (noise + doubt), times (t + 1) / (t + r²) with heavy tails, r the standardised
    residual and t = `TAIL`; they and the fit take turns `REWEIGHTS` times.
    Source: Lange, Little & Taylor 1989 for the t weights; weighing by doubt is own derivation.
    """
    y = history.log_price[used > 0]
    centre = float(y.mean())
    prior = weak_prior(history.design.blocks, scale=max(float(y.var()), SCALE_FLOOR))
    weights = used.astype(np.float64)
    again = start or prior.centre
    model = _fit_once(history, weights=weights, search=Search(centre, prior, again, shrunk, ROUGH))
    for _ in range(REWEIGHTS if shrunk else 0):
        changed = used * _row_weights(history, model=model, heavy=heavy)
        if np.array_equal(changed, weights):
            break
        weights = changed
        model = _fit_once(history, weights=weights, search=Search(centre, prior, model.strengths, shrunk, ROUGH))
    return _fit_once(history, weights=weights, search=Search(centre, prior, model.strengths, shrunk, TOLERANCE))


def _row_weights(history: History, *, model: Additive, heavy: bool) -> Array:
    noise = model.strengths.noise
    weights = noise / (noise + history.doubts(model))
    if heavy:
        mean, variance = history.predict(model)
        unsure = variance - noise / weights
        square = ((history.log_price - mean) ** 2 + unsure) * weights / noise
        weights = weights * (TAIL + 1) / (TAIL + square)
    return weights


@dataclass(frozen=True)
class Search:
    """How to look for the variances of one fit. `centre` is taken off the log prices first."""

    centre: float
    prior: Prior
    start: Strengths
    shrunk: bool
    tolerance: float


def _fit_once(history: History, *, weights: Array, search: Search) -> Additive:
    blocks = history.design.blocks
    moments = history.moments(weights, centre=search.centre)
    if search.shrunk:
        start, tolerance = search.start, search.tolerance
        posterior = tune(moments, blocks=blocks, prior=search.prior, start=start, tolerance=tolerance)
    else:
        posterior = solve_free(moments, blocks=blocks)
        if posterior.strengths.noise <= 0:
            raise BadInput(f"without shrinkage there must be more sales than effects, got {moments.count} sales")
    final = bound(posterior, moments=moments, blocks=blocks)
    final[0] += search.centre
    covariance = posterior.covariance.copy()
    for block in blocks:
        if block.rising:
            covariance[block.columns], covariance[:, block.columns] = 0.0, 0.0
    return Additive(final, covariance, posterior.strengths)
