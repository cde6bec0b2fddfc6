"""What one number turns into before it meets its weights: a line, a low-rank smooth, rising steps.

Every basis is learnt from inputs alone, never from prices, so that folds may share it.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.linalg import eigh

from valuation.reading import Array

CENTRES = 8  # of the low-rank smooth: more changes nothing visible at a length of one standard deviation
SEGMENTS = 5  # of a rising input
TINY = 1e-7
YEAR = 365.25  # days
# How far a line goes on outside the range seen, in standard deviations. After 40 sales the next vehicle lies outside
# with chance 2/41 in each input, and a flat line misses by all that it lies outside; much farther out a typing error is
# as likely.
BEYOND = 1.0


@dataclass(frozen=True)
class Line:
    """(x - mean) / sd, held flat outside the range. A flag has mean 0 and sd 1."""

    mean: float
    sd: float
    low: float
    high: float

    @property
    def widths(self) -> tuple[int, ...]:
        return (1,)

    def columns(self, x: Array) -> Array:
        """Shape (..., 1)."""
        out: Array = ((np.clip(x, self.low, self.high) - self.mean) / self.sd)[..., None]
        return out


@dataclass(frozen=True)
class Smooth:
    """A line and a low-rank radial smooth from which the line is projected out.

    Notes
    -----
    The smooth is the Nyström form of a Gaussian process with kernel exp(-(u - v)²/2), in units of one standard
    deviation (of dates, a year or more): k(x, centres) E with E E' = K⁻¹ at the centres. Outside the range seen the
    bend is held flat, and the line goes on for `BEYOND`, or, if `endless`, for ever (a trend of the market).

    Source: Williams & Seeger 2001 for the low-rank form; the projection is common practice in additive
    models.
    """

    mean: float
    sd: float
    low: float
    high: float
    endless: bool
    centres: Array
    root: Array
    line: Array

    @property
    def widths(self) -> tuple[int, ...]:
        return (1, self.root.shape[1]) if self.root.size else (1,)

    def columns(self, x: Array) -> Array:
        """Shape (..., 1 + rank)."""
        held = (np.clip(x, self.low, self.high) - self.mean) / self.sd
        margin = np.inf if self.endless else BEYOND * self.sd
        straight = (np.clip(x, self.low - margin, self.high + margin) - self.mean) / self.sd
        if not self.root.size:
            return straight[..., None]
        bend = _kernel(held, centres=self.centres) @ self.root - self.line[0] - held[..., None] * self.line[1]
        out: Array = np.concatenate([straight[..., None], bend], axis=-1)
        return out


@dataclass(frozen=True)
class Rising:
    """Ramps between knots, so that non-negative weights make a function that never falls.

    Outside the range seen the end ramps go on for `BEYOND`; then it is flat.

    The first column is the sum of all ramps, which is a straight line: its weight is the common slope, those
    of the ramps are departures from it.
    """

    knots: Array
    sd: float
    centre: Array

    @property
    def widths(self) -> tuple[int, ...]:
        ramps = len(self.knots) - 1
        return (1, ramps)

    def columns(self, x: Array) -> Array:
        """Shape (..., 1 + number of ramps)."""
        ramps = _ramps(x, knots=self.knots, margin=BEYOND * self.sd) / self.sd - self.centre
        out: Array = np.concatenate([ramps.sum(axis=-1, keepdims=True), ramps], axis=-1)
        return out


Basis = Line | Smooth | Rising


def _kernel(x: Array, *, centres: Array) -> Array:
    out: Array = np.exp(-0.5 * (x[..., None] - centres) ** 2)
    return out


def _ramps(x: Array, *, knots: Array, margin: float) -> Array:
    low, high = knots[:-1].copy(), knots[1:].copy()
    low[0] -= margin
    high[-1] += margin
    out: Array = np.clip(x[..., None], low, high) - knots[:-1]
    return out


def make_line(known: Array) -> Line:
    """A standardised line, from the values known."""
    return Line(float(known.mean()), float(known.std()), float(known.min()), float(known.max()))


def make_smooth(known: Array, *, endless: bool, bends: bool) -> Smooth:
    """A smooth from the values known (at least two different ones). Without `bends` it is the line alone.

    `endless` is for dates, in days, whose unit is a year or more: the sales of one summer say next to nothing of a
    trend, and measured in their own spread of weeks the prior would let a market move in weeks by as much as
    vehicles differ.
    """
    mean, sd = float(known.mean()), float(known.std())
    if endless:
        sd = max(sd, YEAR)
    held = (known - mean) / sd
    centres = _spread_points(held, count=CENTRES)
    empty = np.empty((0, 0))
    if not bends or len(centres) < 3:
        return Smooth(mean, sd, float(known.min()), float(known.max()), endless, centres, empty, empty)
    values, vectors = eigh(_kernel(centres, centres=centres))
    keep = values > TINY * values[-1]
    # row by row, as a stored one comes back: products then agree to the last digit
    root = np.ascontiguousarray(vectors[:, keep] / np.sqrt(values[keep]))
    raw = _kernel(held, centres=centres) @ root
    line = np.linalg.lstsq(np.column_stack([np.ones_like(held), held]), raw, rcond=None)[0]
    return Smooth(mean, sd, float(known.min()), float(known.max()), endless, centres, root, line)


def make_rising(known: Array, *, bends: bool) -> Rising:
    """Ramps between quantiles of the values known (at least two different ones); one ramp without `bends`."""
    knots = _spread_points(known, count=SEGMENTS + 1 if bends else 2)
    sd = float(known.std())
    return Rising(knots, sd, (_ramps(known, knots=knots, margin=0.0) / sd).mean(axis=0))


def _spread_points(known: Array, *, count: int) -> Array:
    """Up to `count` different values that part the known ones evenly, ends included."""
    distinct = np.unique(known)
    if len(distinct) <= count:
        return distinct
    points: Array = np.quantile(known, np.linspace(0, 1, count), method="nearest")
    return np.asarray(pd.unique(points), dtype=np.float64)
