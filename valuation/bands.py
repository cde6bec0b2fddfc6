"""The band: ranks of out-of-sample errors, and the folds in which those errors are made."""

import math
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.stats import t

from valuation.reading import Array, Table, Words

USUAL_COUNT = 20.0  # errors that the usual law is worth
USUAL_TAIL = 6.0  # its degrees of freedom
_USUAL_SIZE = float(t(USUAL_TAIL).expect(np.abs))
HALF_LIFE = 40.0  # sales
LATE_COUNT = 60.0  # usual errors that are held against the late ones
FAR = 4.0
Index = NDArray[np.int64]
Hashes = NDArray[np.uint64]


@dataclass(frozen=True)
class Tails:
    """How far a band reaches below and above the median, in predictive standard deviations, each at least 0."""

    below: float
    above: float


def rank_needed(count: int, *, coverage: float) -> int:
    """Rank of the error, of `count` in rising order, that bounds one side of a band.

    Parameters
    ----------
    count : number of out-of-sample errors
    coverage : share of sales to fall inside the two-sided band, between 0 and 1

    Returns
    -------
    ceil((count + 1) (1 + coverage) / 2); greater than `count` where no finite band exists.

    Notes
    -----
    Each side gives up half of 1 - coverage. Reckoned in whole numbers, since floats can push the ceiling up
    by one.
    Source: Vovk, Gammerman & Shafer 2005; the ranks for one side of 80 % are those for both sides of 90 %.

    Examples
    --------
    >>> rank_needed(9, coverage=0.80), rank_needed(30, coverage=0.80), rank_needed(8, coverage=0.80)
    (9, 28, 9)
    """
    return math.ceil((count + 1) * (1 + Fraction(str(coverage))) / 2)


def least_count(coverage: float) -> int:
    """The fewest errors that can carry a finite band.

    Examples
    --------
    >>> least_count(0.80), least_count(0.90), least_count(0.95)
    (9, 19, 39)
    """
    given_up = (1 - Fraction(str(coverage))) / 2
    return math.ceil(1 / given_up) - 1


def tails(scores: Array, *, coverage: float, weights: Array | None = None) -> Tails | None:
    """Reach of the band on each side from out-of-sample errors in predictive standard deviations.

    Parameters
    ----------
    scores : (actual - median) / sd in logs, shape (n_errors,), in any order
    weights : how much each error counts, shape (n_errors,); without, each counts 1

    Returns
    -------
    None where there are too few errors for a finite band. A side never crosses the median.

    Notes
    -----
    Each side is the smallest q with W(q) + m T(q / c) >= (N + m + 1) (1 + coverage) / 2: W the weight of the errors
    up to q, N of all; m = `USUAL_COUNT` errors as they usually are, T the Student law of `USUAL_TAIL` degrees of
    freedom and c its scale, from the mean size of the errors. With m = 0 it is the conformal rank; the usual errors
    keep a band from hanging on the two or three largest of few.

    Source: Vovk, Gammerman & Shafer 2005 for the ranks; the mixture is own derivation.

    Examples
    --------
    >>> found = tails(np.array([-2.0, -1, -1, 0, 0, 1, 1, 2, 3]), coverage=0.80)
    >>> round(found.below, 2), round(found.above, 2)
    (2.0, 2.14)
    """
    weights = np.ones(len(scores)) if weights is None else weights
    count = float(weights.sum())
    if count < least_count(coverage) - 1e-9:
        return None
    order = np.argsort(scores, kind="stable")
    scores, weights = scores[order], weights[order]
    scale = (float(weights @ np.abs(scores)) + USUAL_COUNT * _USUAL_SIZE) / ((count + USUAL_COUNT) * _USUAL_SIZE)
    needed = (count + USUAL_COUNT + 1) * (1 + coverage) / 2
    above = _quantile(scores, weights=weights, scale=scale, needed=needed)
    below = _quantile(-scores[::-1], weights=weights[::-1], scale=scale, needed=needed)
    return Tails(max(0.0, below), max(0.0, above))


def _quantile(scores: Array, *, weights: Array, scale: float, needed: float) -> float:
    """The smallest q at which the weight of the scores up to q and the usual errors up to q reach what is needed."""
    before = np.concatenate([[0.0], np.cumsum(weights)])
    share = np.clip((needed - before) / USUAL_COUNT, 0.0, 1.0)
    smooth = scale * t(USUAL_TAIL).ppf(share)  # where the usual errors alone would fill up what is lacking
    upper = np.append(scores, np.inf)
    at = int(np.argmax(smooth <= upper))
    lower = scores[at - 1] if at else -np.inf
    return float(max(smooth[at], lower))


def late_factor(ahead: Array, *, usual: Array) -> float:
    """How much larger the errors of late are than usual, shrunk towards equal.

    Parameters
    ----------
    ahead : errors of sales told ahead of time, in predictive standard deviations, in order of time, shape (n_ahead,)
    usual : those of single sales held out, shape (n_errors,)

    Returns
    -------
    (m A + sum of v |ahead|) / (m A + A sum of v): A the mean of |usual|, v a weight that halves every `HALF_LIFE`
    sales back, m = `LATE_COUNT`; sizes beyond `FAR` count as `FAR`. 1 where there is none.

    Notes
    -----
    In place of stepwise adapting the level (Gibbs & Candès 2021), which moves the band with every single sale: own
    derivation.

    Examples
    --------
    >>> late_factor(np.array([2.0, -2.0]), usual=np.array([1.0, -1.0])) > 1
    True
    """
    sizes, size = np.minimum(np.abs(ahead), FAR), float(np.minimum(np.abs(usual), FAR).mean())
    decay = 0.5 ** (np.arange(len(ahead))[::-1] / HALF_LIFE)
    worth = LATE_COUNT * size
    return (worth + float(decay @ sizes)) / (worth + size * float(decay.sum()))


def row_hashes(table: Table) -> Hashes:
    """A number per row that depends on its inputs alone: not on its place, nor on its price."""
    columns = pd.DataFrame({**table.numbers, **table.words}, index=range(table.size))
    if columns.shape[1] == 0:
        return np.zeros(table.size, dtype=np.uint64)
    return np.asarray(pd.util.hash_pandas_object(columns, index=False), dtype=np.uint64)


def word_hashes(words: Words, *, otherwise: Hashes) -> Hashes:
    """A number per group; a row whose group is not known is a group by itself."""
    own = pd.util.hash_array(words, categorize=True)
    out: Hashes = np.where(words == "", otherwise, own).astype(np.uint64)
    return out


def folds(hashes: Hashes, *, count: int) -> Index:
    """Part rows into folds by content: equal hashes share a fold, groups are dealt out in hash order.

    Returns
    -------
    Fold number per row, 0 to min(count, groups) - 1.

    Examples
    --------
    >>> folds(np.array([7, 3, 7, 9, 4], dtype=np.uint64), count=2).tolist()
    [0, 0, 0, 1, 1]
    """
    _, group = np.unique(hashes, return_inverse=True)
    return np.asarray(group % count, dtype=np.int64)


def shares(groups: Hashes) -> Array:
    """A weight per row such that every group counts 1.

    Examples
    --------
    >>> shares(np.array([7, 3, 7], dtype=np.uint64)).tolist()
    [0.5, 1.0, 0.5]
    """
    _, group, count = np.unique(groups, return_inverse=True, return_counts=True)
    out: Array = 1.0 / count[group]
    return out
