"""What inputs do only in combination: a low-rank radial smooth of all of them at once."""

from dataclasses import dataclass

import numpy as np
from scipy.linalg import eigh

from valuation.reading import Array

LENGTH = 0.5  # of the smooth, in root mean square standard deviations over all inputs
MOST_CENTRES = 200
MOST_COLUMNS = 60  # the smoothest directions: what is left out is rougher than few sales can tell
TINY = 1e-6


@dataclass(frozen=True)
class Together:
    """A radial smooth of points whose coordinates are all inputs that do not rise only.

    Notes
    -----
    The Nyström form of a Gaussian process with kernel exp(-|u - v|² / (2 length²)): k(x, centres) E, E the
    scaled eigenvectors of the kernel among the centres with the largest eigenvalues. A number counts in
    standard deviations and is held flat outside the range seen; two different values of a category are as far
    apart as two numbers are on average, √2.

    Source: Williams & Seeger 2001 for the low-rank form; the scales are a choice of ours.
    """

    length: float
    centres: Array
    root: Array

    @property
    def width(self) -> int:
        return int(self.root.shape[1])

    def columns(self, points: Array) -> Array:
        """Shape (rows, width) for points of shape (rows, coordinates)."""
        out: Array = _kernel(points, centres=self.centres, length=self.length) @ self.root
        return out


def _kernel(points: Array, *, centres: Array, length: float) -> Array:
    squares = (points**2).sum(axis=1)[:, None] + (centres**2).sum(axis=1) - 2 * points @ centres.T
    out: Array = np.exp(-0.5 * np.maximum(squares, 0.0) / length**2)
    return out


def make_together(points: Array, *, inputs: int) -> Together:
    """Learn the smooth from the points of a history.

    Parameters
    ----------
    points : shape (n_sales, coordinates), in an order that has nothing to do with prices
    inputs : number of inputs behind the coordinates (a category is one input and many coordinates)
    """
    distinct = np.unique(points, axis=0)
    chosen = np.linspace(0, len(points) - 1, MOST_CENTRES).astype(np.int64)
    centres = distinct if len(distinct) <= MOST_CENTRES else np.unique(points[chosen], axis=0)
    length = LENGTH * float(np.sqrt(inputs))
    values, vectors = eigh(_kernel(centres, centres=centres, length=length))
    kept = np.flatnonzero(values > TINY * values[-1])[::-1][:MOST_COLUMNS]
    # row by row, as a stored one comes back: products then agree to the last digit
    return Together(length, centres, np.ascontiguousarray(vectors[:, kept] / np.sqrt(values[kept])))
