"""How well a model did: coverage, sharpness, and the figures of a ratio study."""

import math
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import numpy as np
from scipy.stats import beta, betabinom, binom

from valuation.errors import BadInput, BadOption
from valuation.reading import Array

DRAWN_AT_ONCE = 2_000_000  # numbers of a bootstrap that exist at once


@dataclass(frozen=True)
class Coverage:
    """How many of `count` prices fell inside their bands, with the Clopper–Pearson interval of the share."""

    inside: int
    count: int
    share: float
    low: float
    high: float


@dataclass(frozen=True)
class RatioStudy:
    """Ratios of estimate to price; see `ratio_study`."""

    count: int
    median_ratio: float
    mean_ratio: float
    weighted_ratio: float
    cod: float
    prd: float
    prb: float
    within_10: float
    median_error: float
    mean_error: float
    spread: float


def coverage(actual: Any, *, low: Any, high: Any, confidence: float = 0.95) -> Coverage:
    """Count the prices inside their bands, ends included.

    Parameters
    ----------
    actual, low, high : currency units, shape (n_sales,), n_sales at least 1; no value missing
    confidence : of the interval of the share, between 0 and 1

    Raises
    ------
    BadInput
        Shapes differ, are empty, or a value is not finite.

    Notes
    -----
    Bounds are quantiles of beta laws: (1 - c)/2 of Beta(x, n - x + 1) and (1 + c)/2 of Beta(x + 1, n - x).
    Source: Clopper & Pearson 1934, Biometrika 26.

    Examples
    --------
    >>> found = coverage([2, 3, 4, 1], low=[1, 1, 1, 1], high=[3, 3, 3, 3])
    >>> found.inside, found.share, round(found.low, 3), round(found.high, 3)
    (3, 0.75, 0.194, 0.994)
    """
    if not 0 < confidence < 1:
        raise BadOption(f"confidence must be between 0 and 1, got {confidence!r}")
    bottom, top, y = _same_shape(low=low, high=high, actual=actual)
    inside, count = int(((bottom <= y) & (y <= top)).sum()), len(y)
    tail = (1 - confidence) / 2
    least = 0.0 if inside == 0 else float(beta.ppf(tail, inside, count - inside + 1))
    most = 1.0 if inside == count else float(beta.ppf(1 - tail, inside + 1, count - inside))
    return Coverage(inside, count, inside / count, least, most)


def interval_score(actual: Any, *, low: Any, high: Any, coverage: float = 0.80) -> Array:
    """Width of each band plus a penalty for what falls outside; lower is better.

    Parameters
    ----------
    actual, low, high : any unit (take logs first for a score in log price), shape (n_sales,)
    coverage : the stated coverage of the bands, between 0 and 1

    Returns
    -------
    One score per sale in the unit given, shape (n_sales,).

    Notes
    -----
    score = (high - low) + 2/a max(low - y, 0) + 2/a max(y - high, 0), a = 1 - coverage.
    Source: Gneiting & Raftery 2007, J. Am. Stat. Assoc. 102, equation 43.

    Examples
    --------
    >>> interval_score([15.0, 22.0], low=[10.0, 10.0], high=[20.0, 20.0], coverage=0.75).tolist()
    [10.0, 26.0]
    """
    if not 0 < coverage < 1:
        raise BadOption(f"coverage must be between 0 and 1, got {coverage!r}")
    bottom, top, y = _same_shape(low=low, high=high, actual=actual)
    outside = np.maximum(bottom - y, 0) + np.maximum(y - top, 0)
    out: Array = (top - bottom) + outside * 2 / (1 - coverage)
    return out


def ratio_study(predicted: Any, actual: Any) -> RatioStudy:
    """The figures of a ratio study, of estimates that were made without the sale they are held against.

    Parameters
    ----------
    predicted, actual : currency units, shape (n_sales,), positive, n_sales at least 2

    Returns
    -------
    `cod` in percent, all else as shares. `prb` is NaN where all values are equal: no slope can be told.

    Raises
    ------
    BadInput
        Shapes differ, a value is not positive and finite, or fewer than two sales.

    Notes
    -----
    With r = predicted / actual and M its median: COD = 100 mean|r - M| / M; PRD = mean r / (sum predicted /
    sum actual); PRB = slope of (r - M)/M on log2 of (predicted/M + actual)/2; errors are r - 1; spread is
    their standard deviation (n - 1); within_10 counts a ratio of exactly 0.9 or 1.1 (a hundred-millionth
    either way is rounding).
    Source: IAAO, Standard on Ratio Studies, 2013.

    Examples
    --------
    >>> study = ratio_study([9, 11, 20, 27, 50], [10, 10, 20, 30, 50])
    >>> study.median_ratio, round(study.cod, 6), round(study.prd, 6), round(study.prb, 6)
    (1.0, 6.0, 1.005128, -0.009967)
    """
    estimate, price = _same_shape(predicted=predicted, actual=actual)
    if len(price) < 2 or estimate.min() <= 0 or price.min() <= 0:
        raise BadInput("predicted and actual must be positive and at least two, got otherwise")
    ratio = estimate / price
    middle = float(np.median(ratio))
    weighted = float(estimate.sum() / price.sum())
    value = np.log2((estimate / middle + price) / 2)
    apart = value - value.mean()
    steep = float(apart @ ((ratio - middle) / middle)) / float(apart @ apart) if np.ptp(value) > 0 else float("nan")
    error = ratio - 1
    return RatioStudy(
        count=len(ratio),
        median_ratio=middle,
        mean_ratio=float(ratio.mean()),
        weighted_ratio=weighted,
        cod=100 * float(np.abs(ratio - middle).mean()) / middle,
        prd=float(ratio.mean()) / weighted,
        prb=steep,
        within_10=float((np.abs(error) <= 0.10 + 1e-8).mean()),
        median_error=float(np.median(np.abs(error))),
        mean_error=float(error.mean()),
        spread=float(error.std(ddof=1)),
    )


def prd_interval(
    predicted: Any, actual: Any, *, draws: int = 1000, confidence: float = 0.95, seed: int = 0
) -> tuple[float, float]:
    """How far the PRD of a ratio study could be off by the luck of which sales were in it.

    Parameters
    ----------
    predicted, actual : currency units, shape (n_sales,), positive, n_sales at least 2
    draws : resamples, at least 1
    confidence : share of the resamples inside the interval, between 0 and 1
    seed : of the draws: the same sales in the same order give the same interval

    Returns
    -------
    Low and high end, a pure number as PRD itself.

    Raises
    ------
    BadInput
        Shapes differ, a value is not positive and finite, or fewer than two sales.
    BadOption
        `draws` or `confidence` is out of its range.

    Notes
    -----
    Sales are drawn with replacement, n at a time; the ends are the quantiles (1 - c)/2 and (1 + c)/2 of the
    PRD of the draws. Drawn in pieces, so that memory does not grow with draws × n.
    Source: Efron & Tibshirani 1993, section 13.3 (percentile interval).

    Examples
    --------
    >>> low, high = prd_interval([9, 11, 20, 27, 50], [10, 10, 20, 30, 50])
    >>> low < 1.005128 < high
    True
    >>> prd_interval([12, 24], [10, 20])
    (1.0, 1.0)
    """
    if draws < 1:
        raise BadOption(f"draws must be at least 1, got {draws!r}")
    if not 0 < confidence < 1:
        raise BadOption(f"confidence must be between 0 and 1, got {confidence!r}")
    estimate, price = _same_shape(predicted=predicted, actual=actual)
    if len(price) < 2 or estimate.min() <= 0 or price.min() <= 0:
        raise BadInput("predicted and actual must be positive and at least two, got otherwise")
    generator, ratio, found = np.random.default_rng(seed), estimate / price, np.empty(draws)
    at_once = max(1, DRAWN_AT_ONCE // len(price))
    for start in range(0, draws, at_once):
        drawn = generator.integers(len(price), size=(min(at_once, draws - start), len(price)))
        weighted = estimate[drawn].sum(axis=1) / price[drawn].sum(axis=1)
        found[start : start + len(drawn)] = ratio[drawn].mean(axis=1) / weighted
    low, high = np.quantile(found, [(1 - confidence) / 2, (1 + confidence) / 2])
    return float(low), float(high)


def honest_share(
    count: int, *, coverage: float = 0.80, errors: int | None = None, confidence: float = 0.90
) -> tuple[float, float]:
    """Between what the share of `count` sales inside an honest band is to be expected.

    Parameters
    ----------
    count : number of sales the band is held against, at least 1
    coverage : the stated coverage of the band, between 0 and 1
    errors : number of past errors the band was made from; None where the band is exactly right
    confidence : how often the share lies between the two, between 0 and 1

    Returns
    -------
    The least and the greatest share, each from 0 to 1.

    Raises
    ------
    BadOption
        A number is out of its range, or there are too few errors for any band.

    Notes
    -----
    Given m errors and k = ceil((m + 1) coverage), the share a conformal band really holds follows
    Beta(k, m + 1 - k); the number inside, of `count`, is then beta-binomial (binomial without `errors`). Ends
    are its quantiles (1 - c)/2 and (1 + c)/2.
    Source: Vovk 2012 (conditional validity) for the beta law; the mixture is its direct consequence.

    Examples
    --------
    >>> honest_share(10)
    (0.6, 1.0)
    >>> low, high = honest_share(100_000, errors=30)
    >>> round(low, 2), round(high, 2)
    (0.68, 0.91)
    """
    if count < 1:
        raise BadOption(f"count must be at least 1, got {count!r}")
    for name, value in (("coverage", coverage), ("confidence", confidence)):
        if not 0 < value < 1:
            raise BadOption(f"{name} must be between 0 and 1, got {value!r}")
    law = binom(count, coverage)
    if errors is not None:
        rank = math.ceil((errors + 1) * Fraction(str(coverage)))
        if rank > errors:
            raise BadOption(f"errors must be enough for a band of {coverage:g}, got {errors!r}")
        law = betabinom(count, rank, errors + 1 - rank)
    low, high = law.ppf((1 - confidence) / 2), law.ppf((1 + confidence) / 2)
    return float(low) / count, float(high) / count


def _same_shape(**columns: Any) -> list[Array]:
    arrays = [np.asarray(values, dtype=np.float64) for values in columns.values()]
    names = ", ".join(columns)
    shapes = {array.shape for array in arrays}
    if len(shapes) > 1 or arrays[0].ndim != 1 or arrays[0].size == 0:
        raise BadInput(f"{names} must be of one shape (n,), got {', '.join(str(a.shape) for a in arrays)}")
    if not all(np.isfinite(array).all() for array in arrays):
        raise BadInput(f"{names} must be finite, got a value that is missing or infinite")
    return arrays
