"""Chance of an end in each period still at risk: life tables, and a discrete-time hazard with covariates."""

from dataclasses import dataclass
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit
from sklearn.base import BaseEstimator

from valuation.errors import BadInput, BadOption, NotConverged, NotFitted
from valuation.logistic import Logistic, fit_logistic
from valuation.reading import Array

Whole = NDArray[np.int64]

BASELINES = ("free", "smooth")
ROUNDS = 200  # of fit and strengths
STILL = 1e-3  # relative change of every strength below which the rounds end
LEVEL_SD = 5.0  # prior of the level of a smooth baseline, in log odds: next to nothing
# Weak inverse-gamma prior of each strength: as much as one weight of this size (log odds) would tell.
ON_MARK = 1e-12  # relative distance to the end of a period that is taken for rounding
PRIOR_COUNT, STEP_SIZE, EFFECT_SIZE = 1.0, 0.3, 0.3


@dataclass(frozen=True)
class LifeTable:
    """At each time with an end: how many were at risk, how many ended, and the share still going on after it."""

    times: Array
    at_risk: Array
    ended: Array
    survival: Array


def life_table(durations: Any, ended: Any) -> LifeTable:
    """The Kaplan-Meier estimate.

    Parameters
    ----------
    durations : shape (n,), above 0, in any unit
    ended : shape (n,), true where the end was seen, false where it was not (censored)

    Returns
    -------
    LifeTable
        One entry per distinct time with an end, in rising order.

    Raises
    ------
    BadInput
        Nothing is given, or a duration is missing, infinite or not above 0.

    Notes
    -----
    S(t) = Π over times ≤ t of (1 - ended / at risk); who is censored at a time was at risk at it.
    Source: Kaplan & Meier 1958.

    Examples
    --------
    >>> found = life_table([1, 2, 2, 3], [True, True, False, True])
    >>> found.times.tolist(), found.survival.round(4).tolist()
    ([1.0, 2.0, 3.0], [0.75, 0.5, 0.0])
    """
    times, seen = _checked(durations, ended)
    marks = np.unique(times[seen])
    at_risk = (times[None, :] >= marks[:, None]).sum(axis=1).astype(np.float64)
    gone = (times[seen][None, :] == marks[:, None]).sum(axis=1).astype(np.float64)
    return LifeTable(marks, at_risk, gone, np.cumprod(1 - gone / at_risk))


def cumulative_incidence(hazard: Array, *, other: Array) -> Array:
    """Chance of an end by each period, where another kind of end may come first.

    Parameters
    ----------
    hazard : shape (..., n_periods): chance of the end in a period, given that nothing ended before it
    other : the same shape: chance of the other end in a period, given that neither came until then

    Returns
    -------
    Shape (..., n_periods), rising.

    Notes
    -----
    F_t = Σ over k ≤ t of h_k Π over j < k of (1 - h_j)(1 - o_j): within a period the end comes first. A greater hazard
    in any period never lowers it. Source: discrete form of Prentice et al. 1978.

    Examples
    --------
    >>> cumulative_incidence(np.array([0.10, 0.15, 0.20, 0.20]), other=np.zeros(4)).round(4).tolist()
    [0.1, 0.235, 0.388, 0.5104]
    """
    going_on = np.cumprod((1 - hazard) * (1 - other), axis=-1)
    before = np.concatenate([np.ones_like(going_on[..., :1]), going_on[..., :-1]], axis=-1)
    out: Array = np.cumsum(hazard * before, axis=-1)
    return out


@dataclass(frozen=True)
class PersonPeriods:
    """One row per subject and period at risk: `who` and `period` (from 1), and whether the end came in it."""

    who: Whole
    period: Whole
    ended: Array


def person_periods(durations: Any, ended: Any, *, width: float = 1.0) -> PersonPeriods:
    """Durations as the rows that a discrete-time hazard is fitted to.

    Parameters
    ----------
    durations, ended : as in `life_table`
    width : of a period, in the unit of the durations

    Returns
    -------
    PersonPeriods
        A subject is at risk in period k, from (k - 1) width to k width, if it ended in it or got through it whole.
        One that was censored inside a period does not count in that period.

    Raises
    ------
    BadInput
        As in `life_table`.
    BadOption
        The width is not above 0.

    Source: Singer & Willett 1993.

    Examples
    --------
    >>> rows = person_periods([10, 14], [True, False], width=7)
    >>> rows.who.tolist(), rows.period.tolist(), rows.ended.tolist()
    ([0, 0, 1, 1], [1, 2, 1, 2], [0.0, 1.0, 0.0, 0.0])
    """
    times, seen = _checked(durations, ended)
    if not width > 0:
        raise BadOption(f"width must be above 0, got {width!r}")
    parts = times / width
    near = np.rint(parts)
    parts = np.where(np.abs(parts - near) < ON_MARK * near, near, parts)  # 1.1 / 0.1 is 11, whatever floats say
    whole = np.where(seen, np.ceil(parts), np.floor(parts)).astype(np.int64)
    who = np.repeat(np.arange(len(times)), whole)
    first = np.repeat(np.cumsum(whole) - whole, whole)
    period = (np.arange(len(who)) - first + 1).astype(np.int64)
    return PersonPeriods(who, period, (seen[who] & (period == whole[who])).astype(np.float64))


class DiscreteHazard(BaseEstimator):  # type: ignore[misc]  # scikit-learn has no types
    """Logistic regression of the chance of an end in each period at risk.

    Parameters
    ----------
    width : of a period, in the unit of the durations
    baseline : "smooth", log odds by period as a random walk whose steps the evidence sizes; "free", one weight for each
        period in which an end was seen, no chance in the others
    shrink : whether effects of covariates are shrunk to zero as far as the evidence says

    Attributes
    ----------
    periods_ : periods that the baseline knows, shape (n_periods,)
    certain_ : periods in which every one at risk ended, if the baseline is free: the chance there is 1
    baseline_ : log odds in each of `periods_` at the mean of the covariates
    effects_ : log odds per unit of each covariate
    covariance_ : of baseline and effects (of standardised covariates: their `scale_` is the sd of the subjects)
    step_, effect_ : variances of the steps of the baseline and of the effects; infinite where nothing is shrunk

    Notes
    -----
    With a free baseline, no covariates and durations in whole periods the survival is Kaplan and Meier's. After the
    last known period the last chance goes on ("smooth"), or nothing ends any more ("free").

    Source: Singer & Willett 1993; strengths by the fixed point of MacKay 1992 with a weak prior, around
    the normal approximation of the weights.

    Examples
    --------
    >>> model = DiscreteHazard(baseline="free").fit(np.empty((4, 0)), [1, 2, 2, 3], [True, True, False, False])
    >>> model.survival(np.empty((1, 0)), times=[1, 2, 3]).round(4).tolist()
    [[0.75, 0.5, 0.5]]
    """

    def __init__(self, *, width: float = 1.0, baseline: str = "smooth", shrink: bool = True) -> None:
        self.width = width
        self.baseline = baseline
        self.shrink = shrink

    def fit(self, X: Any, durations: Any, ended: Any) -> Self:
        """Learn from subjects.

        Parameters
        ----------
        X : shape (n, n_covariates), numbers, constant over time
        durations, ended : as in `life_table`

        Raises
        ------
        BadInput
            The shapes do not agree, a number is missing, or no end was seen.
        BadOption
            A parameter is out of its range.
        NotConverged
            Without shrinkage the outcomes can be told apart entirely, or the strengths did not settle.
        """
        self._check()
        covariates = _matrix(X, rows=len(durations))
        rows = person_periods(durations, ended, width=self.width)
        if not rows.ended.any():
            raise BadInput("durations must hold at least one end that was seen, got none")
        self.n_features_in_ = covariates.shape[1]
        self.centre_ = covariates.mean(axis=0)
        spread = covariates.std(axis=0)
        self.scale_ = np.where(spread > 0, spread, 1.0)
        self.periods_, certain = self._known(rows)
        kept = np.isin(rows.period, self.periods_)
        place = np.searchsorted(self.periods_, rows.period[kept])
        walked = np.eye(len(self.periods_))[place]
        standard = ((covariates - self.centre_) / self.scale_)[rows.who[kept]]
        found = self._fitted(np.hstack([walked, standard]), outcome=rows.ended[kept])
        self.certain_ = certain
        self.baseline_ = found.weights[: len(self.periods_)]
        self.effects_ = found.weights[len(self.periods_) :] / self.scale_
        self.covariance_ = found.covariance
        self.log_likelihood_ = found.log_likelihood
        return self

    def _check(self) -> None:
        if self.baseline not in BASELINES:
            raise BadOption(f"baseline must be one of {', '.join(BASELINES)}, got {self.baseline!r}")
        if not self.width > 0:
            raise BadOption(f"width must be above 0, got {self.width!r}")

    def _known(self, rows: PersonPeriods) -> tuple[Whole, Whole]:
        """Periods with a weight, and those in which every one at risk ended: a weight of those would have no end."""
        every = np.arange(1, int(rows.period.max()) + 1, dtype=np.int64)
        if self.baseline == "smooth":
            return every, every[:0]
        at_risk = np.bincount(rows.period, minlength=len(every) + 1)[1:]
        ended = np.bincount(rows.period, weights=rows.ended, minlength=len(every) + 1)[1:]
        return every[(ended > 0) & (ended < at_risk)], every[(ended > 0) & (ended == at_risk)]

    def _fitted(self, design: Array, *, outcome: Array) -> Logistic:
        """Fit and strengths take turns until they agree."""
        walk, width = len(self.periods_), design.shape[1]
        strengths = np.array([STEP_SIZE**2, EFFECT_SIZE**2])
        free = np.array([self.baseline == "smooth", self.shrink])  # which of both the evidence sets
        strengths[~free] = np.inf
        found = self._once(design, outcome=outcome, strengths=strengths, start=np.zeros(width))
        for _ in range(ROUNDS if free.any() else 0):
            told = np.array([
                _strength(np.diff(np.eye(walk, width), axis=0), found=found, was=strengths[0], size=STEP_SIZE),
                _strength(np.eye(width)[walk:], found=found, was=strengths[1], size=EFFECT_SIZE),
            ])  # fmt: skip
            moved = np.abs(told[free] / strengths[free] - 1).max()
            strengths = np.where(free, told, np.inf)
            found = self._once(design, outcome=outcome, strengths=strengths, start=found.weights)
            if moved < STILL:
                break
        else:
            if free.any():
                raise NotConverged(f"the strengths must settle within {ROUNDS} rounds, got {strengths}")
        self.step_, self.effect_ = float(strengths[0]), float(strengths[1])
        return found

    def _once(self, design: Array, *, outcome: Array, strengths: Array, start: Array) -> Logistic:
        walk = len(self.periods_)
        precision = _precision(
            walk, covariates=design.shape[1] - walk, step=float(strengths[0]), effect=float(strengths[1])
        )
        return fit_logistic(design, outcome=outcome, counts=np.ones(len(outcome)), precision=precision, start=start)

    def survival(self, X: Any, *, times: Any) -> Array:
        """Chance that no end came by each time.

        Parameters
        ----------
        X : shape (n, n_covariates)
        times : shape (n_times,), 0 or more, in the unit of the durations; inside a period the chance runs through
            it at one hazard

        Returns
        -------
        Shape (n, n_times).

        Raises
        ------
        BadInput
            X has another number of covariates than in `fit`, or one is missing.
        NotFitted
            `fit` has not been called.
        """
        if not hasattr(self, "effects_"):
            raise NotFitted("DiscreteHazard must be fitted first: call fit")
        covariates = _matrix(X, rows=len(X))
        if covariates.shape[1] != self.n_features_in_:
            raise BadInput(f"X must have {self.n_features_in_} covariates, got {covariates.shape[1]}")
        ends = np.asarray(times, dtype=np.float64) / self.width
        last = max(int(np.ceil(ends.max(initial=0.0))), 1)
        odds = self._odds(last)[None, :] + ((covariates - self.centre_) @ self.effects_)[:, None]
        going = np.concatenate([np.ones((len(odds), 1)), np.cumprod(expit(-odds), axis=1)], axis=1)
        whole = np.minimum(np.floor(ends).astype(np.int64), last)
        if self.baseline == "free":  # ends fall on the marks: between them nothing happens
            return np.asarray(going[:, whole])
        part = ends - whole
        out: Array = going[:, whole] ** (1 - part) * going[:, np.minimum(whole + 1, last)] ** part
        return out

    def _odds(self, count: int) -> Array:
        known = max([0, *self.periods_.tolist(), *self.certain_.tolist()])
        out = np.full(max(count, known), -np.inf)
        out[known:] = self.baseline_[-1] if self.baseline == "smooth" else -np.inf
        out[self.periods_ - 1], out[self.certain_ - 1] = self.baseline_, np.inf
        return out[:count]


def _precision(walk: int, *, covariates: int, step: float, effect: float) -> Array:
    out = np.zeros((walk + covariates, walk + covariates))
    steps = np.diff(np.eye(walk), axis=0)
    out[:walk, :walk] = steps.T @ steps / step
    if np.isfinite(step):
        out[0, 0] += 1 / LEVEL_SD**2
    out[walk:, walk:] = np.eye(covariates) / effect
    return out


def _strength(contrast: Array, *, found: Logistic, was: float, size: float) -> float:
    """Variance of some contrasts of the weights: their squares over how many of them the evidence has settled."""
    squares = float(((contrast @ found.weights) ** 2).sum())
    settled = len(contrast) - float(np.trace(contrast @ found.covariance @ contrast.T)) / was
    return (squares + PRIOR_COUNT * size**2) / (settled + PRIOR_COUNT)


def _matrix(given: Any, *, rows: int) -> Array:
    out = np.asarray(given, dtype=np.float64)
    if out.ndim != 2 or len(out) != rows:
        raise BadInput(f"X must have one row of covariates for each of {rows} durations, got shape {out.shape}")
    if not np.isfinite(out).all():
        raise BadInput("X must hold numbers only, got one that is missing or infinite")
    return out


def _checked(durations: Any, ended: Any) -> tuple[Array, Any]:
    times, seen = np.asarray(durations, dtype=np.float64), np.asarray(ended, dtype=bool)
    if times.ndim != 1 or times.shape != seen.shape or not len(times):
        raise BadInput(f"durations and ended must be as long as each other, got {times.shape} and {seen.shape}")
    good = (times > 0) & np.isfinite(times)
    if not good.all():
        raise BadInput(f"durations must be above 0 and finite, got {times[~good][0]:g}", column="durations")
    return times, seen
