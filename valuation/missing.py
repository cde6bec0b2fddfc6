"""What a missing number may have been: its own distribution given what is known of the vehicle."""

from dataclasses import dataclass

import numpy as np
from numpy.polynomial.hermite_e import hermegauss
from numpy.typing import NDArray

from valuation.reading import Array, Table

ROUNDS = 50
PRIOR_ROWS = 5.0  # of uncorrelated, standardised rows: keeps a dozen sales from claiming a perfect correlation
_NODES, _WEIGHTS = hermegauss(7)
NODES: Array = _NODES
NODE_WEIGHTS: Array = _WEIGHTS / _WEIGHTS.sum()


@dataclass(frozen=True)
class Guess:
    """Mean and sd of the missing entries of one column: `rows` says which entries."""

    rows: NDArray[np.intp]
    mean: Array
    sd: Array

    def cloud(self) -> Array:
        """Values to average over, shape (nodes, rows); the weights are `NODE_WEIGHTS`."""
        out: Array = self.mean + NODES[:, None] * self.sd
        return out


@dataclass(frozen=True)
class Joint:
    """Means, sds and correlations of the numeric inputs.

    Notes
    -----
    A missing value is guessed from the known inputs that do not rise only: were condition guessed from
    originality, better originality could lower a price through the guess.
    """

    names: tuple[str, ...]
    free: tuple[bool, ...]
    mean: Array
    sd: Array
    correlation: Array

    def guesses(self, table: Table) -> dict[str, Guess]:
        """For each column with missing entries what they may have been."""
        standard = self._standard(table)
        gaps = np.isnan(standard)
        if not gaps.any():
            return {}
        middle, spread = np.zeros_like(standard), np.zeros_like(standard)
        usable = ~gaps & np.array(self.free)
        patterns, kind = np.unique(usable, axis=0, return_inverse=True)
        for number, seen in enumerate(patterns):
            rows = np.flatnonzero(kind == number)
            slope = np.linalg.solve(self.correlation[np.ix_(seen, seen)], self.correlation[seen]).T
            middle[rows] = standard[np.ix_(rows, seen)] @ slope.T
            spread[rows] = np.diag(self.correlation) - (slope * self.correlation[:, seen]).sum(axis=1)
        return {
            name: self._guess(column, rows=np.flatnonzero(gaps[:, column]), middle=middle, spread=spread)
            for column, name in enumerate(self.names)
            if gaps[:, column].any()
        }

    def _standard(self, table: Table) -> Array:
        raw = np.column_stack([table.numbers[name] for name in self.names] or [np.empty((table.size, 0))])
        out: Array = (raw - self.mean) / self.sd
        return out

    def _guess(self, column: int, *, rows: NDArray[np.intp], middle: Array, spread: Array) -> Guess:
        sd = self.sd[column] * np.sqrt(np.maximum(spread[rows, column], 0.0))  # below 0 only by rounding
        return Guess(rows, self.mean[column] + self.sd[column] * middle[rows, column], sd)


def learn_joint(table: Table, *, correlated: tuple[str, ...], rising: tuple[str, ...], alone: tuple[str, ...]) -> Joint:
    """Learn the distribution of the numeric inputs by EM for a normal sample with gaps.

    Parameters
    ----------
    correlated : names of inputs that may inform each other and may be used for guessing
    rising : names that are guessed from those, never used for guessing
    alone : names that are guessed by their own mean and sd only (flags)

    Notes
    -----
    Source: Dempster, Laird & Rubin 1977; the prior of `PRIOR_ROWS` rows is a choice of ours.
    """
    names = (*correlated, *rising, *alone)
    raw = np.column_stack([table.numbers[name] for name in names] or [np.empty((table.size, 0))])
    mean, sd = np.nanmean(raw, axis=0), np.nanstd(raw, axis=0)
    sd = np.where(sd > 0, sd, 1.0)
    standard = (raw - mean) / sd
    linked = len(correlated) + len(rising)
    shift = np.zeros(len(names))
    correlation = np.eye(len(names))
    shift[:linked], correlation[:linked, :linked] = _normal_with_gaps(standard[:, :linked])
    for column in range(linked, len(names)):
        correlation[column, column] = np.nanvar(standard[:, column])
    free = tuple(name in correlated for name in names)
    return Joint(names, free, mean + shift * sd, sd, correlation)


def _normal_with_gaps(standard: Array) -> tuple[Array, Array]:
    """Mean and covariance of a standardised sample with NaN, with a weak prior of independence."""
    size, width = standard.shape
    mean, covariance = np.zeros(width), np.eye(width)
    seen = ~np.isnan(standard)
    patterns, kind = np.unique(seen, axis=0, return_inverse=True)
    members = [np.flatnonzero(kind == number) for number in range(len(patterns))]
    for _ in range(ROUNDS if not seen.all() else 1):
        filled = np.where(seen, standard, 0.0)
        extra = np.zeros((width, width))
        for known, rows in zip(patterns, members, strict=True):
            gap = ~known
            slope = np.linalg.solve(covariance[np.ix_(known, known)], covariance[np.ix_(known, gap)])
            filled[np.ix_(rows, gap)] = mean[gap] + (standard[np.ix_(rows, known)] - mean[known]) @ slope
            left = covariance[np.ix_(gap, gap)] - covariance[np.ix_(gap, known)] @ slope
            extra[np.ix_(gap, gap)] += len(rows) * left
        mean = filled.mean(axis=0)
        apart = filled - mean
        covariance = (apart.T @ apart + extra + PRIOR_ROWS * np.eye(width)) / (size + PRIOR_ROWS)
    return mean, covariance
