"""The band: ranks of out-of-sample errors, and the folds in which those errors are made."""

import math
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from valuation.reading import Array, Table, Words

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


def tails(scores: Array, *, coverage: float) -> Tails | None:
    """Reach of the band on each side from out-of-sample errors in predictive standard deviations.

    Parameters
    ----------
    scores : (actual - median) / sd in logs, shape (n_errors,), in rising order

    Returns
    -------
    None where there are too few errors for a finite band. A side never crosses the median.

    Examples
    --------
    >>> tails(np.array([-2.0, -1, -1, 0, 0, 1, 1, 2, 3]), coverage=0.80)
    Tails(below=2.0, above=3.0)
    """
    rank = rank_needed(len(scores), coverage=coverage)
    if rank > len(scores):
        return None
    return Tails(max(0.0, -float(scores[-rank])), max(0.0, float(scores[rank - 1])))


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
