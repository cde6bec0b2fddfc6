"""One fit of the additive model to some rows of a history, with doubtful rows weighing less."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.stats import t as student

from valuation.averaging import Chain, average
from valuation.design import Design, Expanded
from valuation.elsewhere import KIND
from valuation.errors import BadInput
from valuation.reading import Array, Table
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
from valuation.weighing import USUAL, learn_noises

KEPT = 40_000_000  # numbers of a matrix that is kept (320 MB); a larger one is laid out again at each pass
TURNS, AGAIN = 5, 1  # of row weights and fit: from nothing, and from a fit to nearly the same rows
ROUGH = 8  # steps of the search for the strengths in one turn
LONG, SHORT = Chain(draws=150, warm=30), Chain(draws=20, warm=4)  # likewise
MANY = 1000  # sales from which on one optimum is as good as an average
# Degrees of freedom of the noise that are tried, with what each has in advance in log probability.
TAILS = {4.0: 0.0, 7.0: 1.0, 30.0: 0.0}
FEW = 12  # sales up to which the tail is not asked about
SCALE_FLOOR = 1e-4  # variance of log price below which prices hardly differ: keeps equal prices from a zero prior


@dataclass(frozen=True)
class Additive:
    """A fitted model of log price. `covariance` is zero in the columns of rising inputs: better is never less sure.

    `tail` is the number of degrees of freedom of the noise, infinite where all rows weigh alike; `ratios` are the
    variances of the noise of each kind of sale elsewhere over that of the lot's own.
    """

    weights: Array
    covariance: Array
    strengths: Strengths
    tail: float
    ratios: Array = field(default_factory=lambda: np.empty(0))

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
    """The sales of a lot as a matrix, in pieces: all kept where they fit, else laid out again at each pass.

    The first `here` rows are the lot's own; those after them, if any, are sales elsewhere. `kind` is the number of
    each row's kind among `kinds`, -1 for the lot's own.
    """

    def __init__(self, design: Design, *, table: Table, log_price: Array, here: int | None = None) -> None:
        self.design, self.table, self.log_price = design, table, log_price
        self.here = table.size if here is None else here
        words = table.words.get(KIND, np.full(table.size, "", dtype=object))
        self.kinds = tuple(sorted({str(word) for word in words} - {""}))
        self.kind = np.array([self.kinds.index(word) if word else -1 for word in words], dtype=np.intp)
        small = table.size * design.width <= KEPT
        self._kept = list(design.pieces(table)) if small else None

    @cached_property
    def own(self) -> "History":
        """The lot's own sales alone, in the same columns."""
        if self.here == self.table.size:
            return self
        return History(self.design, table=self.table.take(slice(self.here)), log_price=self.log_price[: self.here])

    def times(self, ratios: Array) -> Array:
        """The ratio of each row: 1 for the lot's own."""
        out: Array = np.append(ratios, 1.0)[self.kind]
        return out

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

    def predict_some(self, model: Additive, *, rows: NDArray[np.int64]) -> tuple[Array, Array]:
        """The same for the rows of an index array."""
        there = self.design.expand(self.table.take(rows))
        return model.mean(there), model.variance(there)

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
    history: History, *, used: Array, heavy: bool, shrunk: bool = True, start: Additive | None = None
) -> Additive:
    """Fit to the rows where `used` is 1; rows where it is 0 are held out.

    Parameters
    ----------
    used : shape (n_sales,), 1 or 0
    heavy : Student-t noise: a sale far from its like weighs less, none is dropped
    shrunk : False gives least squares
    start : a fit to nearly the same rows: the search is then short

    Notes
    -----
    Row weights are noise / (ratio × noise + doubt), ratio 1 for the lot's own sales, times (t + 1) / (t + r²) with
    heavy tails, r the standardised residual and t the one of `TAILS` under which the sales are most probable, each
    given all others; weights, ratios and fit take turns. Then the strengths are averaged over; with `MANY` sales or
    more their optimum is taken.
    Source: Lange, Little & Taylor 1989 for the t weights; weighing by doubt and the choice of t are own derivation.
    """
    y = history.log_price[used > 0]
    centre = float(y.mean())
    if not shrunk:
        plain = _finished(_free(history, weights=used, centre=centre), history=history, centre=centre, tail=np.inf)
        return replace(plain, ratios=np.ones(len(history.kinds)))
    prior = weak_prior(history.design.blocks, scale=max(float(y.var()), SCALE_FLOOR))
    search = _Search(history, used.astype(np.float64), centre, prior)
    if start is not None:
        weights = search.used * _row_weights(history, model=start)
        found = search.turns(AGAIN, start=_Way(weights, start.strengths, start.tail, start.ratios))
    else:
        tails, ratios = _tails(len(y), heavy=heavy), np.full(len(history.kinds), USUAL)
        weights = search.used / history.times(ratios)
        ways = [search.turns(TURNS, start=_Way(weights, prior.centre, tail, ratios)) for tail in tails]
        found = ways[0] if len(ways) == 1 else max(ways, key=lambda way: TAILS[way.tail] + search.height(way))
    moments, blocks = history.moments(found.weights, centre=centre), history.design.blocks
    if len(y) >= MANY:
        posterior = tune(moments, blocks=blocks, prior=prior, start=found.strengths)
    else:
        chain = LONG if start is None else SHORT
        posterior = average(moments, blocks=blocks, prior=prior, start=found.strengths, chain=chain)
    return replace(_finished(posterior, history=history, centre=centre, tail=found.tail), ratios=found.ratios)


def _tails(sales: int, *, heavy: bool) -> list[float]:
    """The tails to try: all, or the one most probable in advance where there are few sales to ask."""
    if not heavy:
        return [np.inf]
    return list(TAILS) if sales > FEW else [max(TAILS, key=lambda tail: TAILS[tail])]


@dataclass(frozen=True)
class _Way:
    """Where the turns of row weights and fit start or end."""

    weights: Array
    strengths: Strengths
    tail: float
    ratios: Array


@dataclass(frozen=True)
class _Search:
    """The rows of one fit; `centre` is taken off the log prices first."""

    history: History
    used: Array
    centre: float
    prior: Prior

    def turns(self, count: int, *, start: _Way) -> _Way:
        weights, strengths, ratios, blocks = start.weights, start.strengths, start.ratios, self.history.design.blocks
        for _ in range(count):
            moments = self.history.moments(weights, centre=self.centre)
            rough = tune(moments, blocks=blocks, prior=self.prior, start=strengths, rounds=ROUGH)
            strengths = rough.strengths
            model = _finished(rough, history=self.history, centre=self.centre, tail=start.tail)
            model = _with_noises(model, history=self.history, used=self.used)
            ratios, weights = model.ratios, self.used * _row_weights(self.history, model=model)
        return _Way(weights, strengths, start.tail, ratios)

    def height(self, way: _Way) -> float:
        """Log probability of each price given all others, summed."""
        blocks = self.history.design.blocks
        moments = self.history.moments(way.weights, centre=self.centre)
        posterior = solve(moments, blocks=blocks, strengths=way.strengths)
        total, times = 0.0, self.history.times(way.ratios)
        for rows, piece in self.history.pieces():
            here = way.weights[rows] > 0
            y, weights = self.history.log_price[rows][here] - self.centre, way.weights[rows][here]
            mean, unsure = leave_one_out(piece.matrix[here], y=y, weights=weights, posterior=posterior)
            doubt = piece.doubt(posterior.weights, variances=way.strengths.blocks)[here]
            sd = np.sqrt(way.strengths.noise * times[rows][here] + unsure + doubt)
            total += float((student.logpdf((y - mean) / sd, way.tail) - np.log(sd)).sum())
        return total


def _row_weights(history: History, *, model: Additive) -> Array:
    noise, doubts = model.strengths.noise, history.doubts(model)
    weights = noise / (noise * history.times(model.ratios) + doubts)
    if np.isfinite(model.tail):
        mean, variance = history.predict(model)
        unsure = variance - noise / (noise / (noise + doubts))
        square = ((history.log_price - mean) ** 2 + unsure) * weights / noise
        weights = weights * (model.tail + 1) / (model.tail + square)
    return weights


def _with_noises(model: Additive, *, history: History, used: Array) -> Additive:
    """The noise of the lot's own sales and the ratios anew, from the residuals of the rows that are used."""
    if not history.kinds:
        return model
    mean, variance = history.predict(model)
    doubt, noise = history.doubts(model), model.strengths.noise
    square = (history.log_price - mean) ** 2 + np.maximum(variance - noise - doubt, 0.0)
    kind = np.where(used > 0, history.kind, -2)
    noise, ratios = learn_noises(square, doubt=doubt, noise=noise, tail=model.tail, kind=kind, count=len(history.kinds))
    return replace(model, strengths=replace(model.strengths, noise=noise), ratios=ratios)


def _free(history: History, *, weights: Array, centre: float) -> Posterior:
    moments = history.moments(weights, centre=centre)
    posterior = solve_free(moments, blocks=history.design.blocks)
    if posterior.strengths.noise <= 0:
        raise BadInput(f"without shrinkage there must be more sales than effects, got {moments.count} sales")
    return posterior


def _finished(posterior: Posterior, *, history: History, centre: float, tail: float) -> Additive:
    """The weights within their bounds, on the scale of the prices."""
    blocks = history.design.blocks
    final = bound(posterior, blocks=blocks)
    final[0] += centre
    covariance = posterior.covariance.copy()
    for block in blocks:
        if block.rising:
            covariance[block.columns], covariance[:, block.columns] = 0.0, 0.0
    return Additive(final, covariance, posterior.strengths, tail)
