"""How much a sale elsewhere counts: the variance of its noise over that of the lot's own sales."""

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize_scalar
from scipy.stats import norm
from scipy.stats import t as student

from valuation.reading import Array

USUAL, SPREAD = 2.0, 1.0  # what the ratio is believed to be before any price is seen, and the sd of its log
MOST = 1000.0  # of the ratio: such sales count for nothing
FAR = 100.0  # how far the noise of the lot's own sales may lie from where it is looked for, as a factor
Index = NDArray[np.intp]


def learn_noises(
    square: Array, *, doubt: Array, noise: float, tail: float, kind: Index, count: int
) -> tuple[float, Array]:
    """The noise of the lot's own sales, and for each kind of sale elsewhere the ratio of its noise variance to that.

    Parameters
    ----------
    square : squared residual and variance of the median, of log price, shape (n_sales,)
    doubt : variance from missing inputs, shape (n_sales,)
    noise : where the variance of the noise of the lot's own sales is looked for
    tail : degrees of freedom of the noise, infinite for normal noise
    kind : number of the kind, shape (n_sales,): -1 for the lot's own, below that for sales that do not count
    count : number of kinds

    Returns
    -------
    The variance of the lot's own noise, and ratios of shape (count,), each from 1 to `MOST`: a sale elsewhere never
    counts for more than one of the lot's own. A kind without rows gets `USUAL`.

    Notes
    -----
    The most probable values under residual ~ Student(tail) with squared scale ratio × noise + doubt; of a ratio also
    ln ratio ~ Normal(ln USUAL, SPREAD²). Both are read from their own rows: were the noise shared in one step, the many
    sales elsewhere would set it. Source: own derivation.

    Examples
    --------
    >>> square, kind = np.repeat([0.01, 0.09], 200), np.repeat([-1, 0], 200)
    >>> noise, ratio = learn_noises(square, doubt=np.zeros(400), noise=0.05, tail=np.inf, kind=kind, count=1)
    >>> round(noise, 4), round(float(ratio[0]), 1)
    (0.01, 8.9)
    """
    own = kind == -1
    if own.any():
        noise *= _factor(square[own], doubt=doubt[own], noise=noise, tail=tail, ends=(1 / FAR, FAR), spread=np.inf)
    ratios = np.full(count, USUAL)
    for number in range(count):
        rows = kind == number
        if rows.any():
            ends = (1.0, MOST)
            ratios[number] = _factor(square[rows], doubt=doubt[rows], noise=noise, tail=tail, ends=ends, spread=SPREAD)
    return noise, ratios


def _factor(
    square: Array, *, doubt: Array, noise: float, tail: float, ends: tuple[float, float], spread: float
) -> float:
    """By what the noise is multiplied so that these residuals are most probable."""
    law = student(tail) if np.isfinite(tail) else norm()

    def fall(log: float) -> float:
        sd = np.sqrt(np.exp(log) * noise + doubt)
        told = float((law.logpdf(np.sqrt(square) / sd) - np.log(sd)).sum())
        return float(0.5 * ((log - np.log(USUAL)) / spread) ** 2) - told

    found = minimize_scalar(fall, bounds=tuple(np.log(ends)), method="bounded", options={"xatol": 1e-5})
    return float(np.exp(found.x))
