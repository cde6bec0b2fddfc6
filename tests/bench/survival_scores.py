"""How far forecasts of survival are off, where some ends were not seen."""

from typing import Any

import numpy as np

from valuation.hazard import life_table
from valuation.reading import Array

TENTHS, COUNT = 10, 40
FAR = 0.9  # quantile of the days up to which forecasts are scored: beyond it few are still at risk


def marks_of(days: Array) -> Array:
    """Evenly spaced times from the first to the last that is scored."""
    return np.linspace(0, float(np.quantile(days, FAR)), COUNT + 1)[1:]


def brier(survival: Array, *, times: Array, days: Array, ended: Any, all_days: Array, all_ended: Any) -> Array:
    """Brier score at each time, those that were censored before it being stood for by those that were not.

    Survival is (n, n_times). Weights are one over the chance not to be censored, by Kaplan-Meier over all cases.
    Source: Graf, Schmoor, Sauerbrei & Schumacher 1999, equation 3.
    """
    seen, all_seen = np.asarray(ended, dtype=bool), np.asarray(all_ended, dtype=bool)
    before_end = _uncensored(days, all_days=all_days, all_seen=all_seen, side="left")
    at_time = _uncensored(times, all_days=all_days, all_seen=all_seen, side="right")
    gone = (days[:, None] <= times) & seen[:, None]
    there = days[:, None] > times
    off = np.where(gone, survival**2, 0.0) / before_end[:, None]
    off += np.divide((1 - survival) ** 2, at_time, out=np.zeros_like(survival), where=there)
    out: Array = off.mean(axis=0)
    return out


def integrated_brier(survival: Array, *, times: Array, **cases: Any) -> float:
    """Mean of the Brier score over the times, which are evenly spaced."""
    return float(brier(survival, times=times, **cases).mean())


def _uncensored(at: Array, *, all_days: Array, all_seen: Any, side: Any) -> Array:
    """Chance not to have been censored up to a time, or just before it; an end comes before a censoring of that day."""
    if all_seen.all():
        return np.ones(len(at))
    marks = np.unique(all_days[~all_seen])
    ended = np.array([((all_days == mark) & all_seen).sum() for mark in marks])
    at_risk = np.array([(all_days >= mark).sum() for mark in marks]) - ended
    left = np.array([((all_days == mark) & ~all_seen).sum() for mark in marks])
    steps = np.r_[1.0, np.cumprod(1 - left / at_risk)]
    out: Array = steps[np.searchsorted(marks, at, side=side)]
    return out


def calibration_gap(survival: Array, *, at: float, days: Array, ended: Any) -> float:
    """Mean distance between forecast and Kaplan-Meier at a time, over tenths of the forecasts."""
    seen = np.asarray(ended, dtype=bool)
    gaps = []
    for part in np.array_split(np.argsort(survival, kind="stable"), TENTHS):
        found = life_table(days[part], seen[part])
        upto = np.searchsorted(found.times, at, side="right")
        observed = float(found.survival[upto - 1]) if upto else 1.0
        gaps.append(abs(observed - float(survival[part].mean())))
    return float(np.mean(gaps))
