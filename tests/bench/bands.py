"""How the peers of the price bench come to a band: each way turns a fitted point or quantile into 80 %."""

from collections.abc import Callable

import numpy as np
import pandas as pd
from scipy.stats import norm
from sklearn.model_selection import KFold

from tests.bench.cells import Logs, Rows
from tests.bench.features import Matrix
from valuation.reading import Array

COVERAGE = 0.80
TAIL = (1 - COVERAGE) / 2
FOLDS = 10
Answer = Callable[[pd.DataFrame, Array, pd.DataFrame], Logs]
Point = Callable[[pd.DataFrame, Array, pd.DataFrame], Array]


def normal_band(make: Callable[[], object]) -> Answer:
    """A band from the estimator's own standard deviation, on the matrix of an analyst."""

    def answer(past: pd.DataFrame, log_price: Array, new: pd.DataFrame) -> Logs:
        matrix = Matrix(past)
        mean, sd = make().fit(matrix(past), log_price).predict(matrix(new), return_std=True)  # type: ignore[attr-defined]
        reach = norm.ppf(1 - TAIL) * sd
        return mean - reach, mean, mean + reach

    return answer


def on_matrix(make: Callable[[], object]) -> Point:
    """Point estimates of an estimator, on the matrix of an analyst."""

    def point(past: pd.DataFrame, log_price: Array, new: pd.DataFrame) -> Array:
        matrix = Matrix(past)
        out: Array = make().fit(matrix(past), log_price).predict(matrix(new))  # type: ignore[attr-defined]
        return out

    return point


def cv_plus(point: Point) -> Answer:
    """CV+ of ten folds. Source: Barber, Candès, Ramdas & Tibshirani 2021, equation 2.4 with section 3."""

    def answer(past: pd.DataFrame, log_price: Array, new: pd.DataFrame) -> Logs:
        lows: list[Array] = []
        highs: list[Array] = []
        for kept, held in _folds(past):
            both = point(past.iloc[kept], log_price[kept], pd.concat([past.iloc[held], new]))
            miss, middle = np.abs(log_price[held] - both[: len(held)]), both[len(held) :]
            lows.extend(middle - one for one in miss)
            highs.extend(middle + one for one in miss)
        low, high = _ranks(lows, highs=highs)
        return low, point(past, log_price, new), high

    return answer


def conformalised(quantiles: Answer) -> Answer:
    """Conformalised quantiles, the calibration by ten folds instead of one split, which small data cannot spare.

    Source: Romano, Patterson & Candès 2019 (the score); Barber et al. 2021 (the folds).
    """

    def answer(past: pd.DataFrame, log_price: Array, new: pd.DataFrame) -> Logs:
        lows: list[Array] = []
        highs: list[Array] = []
        for kept, held in _folds(past):
            both = pd.concat([past.iloc[held], new])
            low, _, high = quantiles(past.iloc[kept], log_price[kept], both)
            count = len(held)
            score = np.maximum(low[:count] - log_price[held], log_price[held] - high[:count])
            lows.extend(low[count:] - one for one in score)
            highs.extend(high[count:] + one for one in score)
        low, high = _ranks(lows, highs=highs)
        middle = quantiles(past, log_price, new)[1]
        return np.minimum(low, middle), middle, np.maximum(high, middle)

    return answer


def _folds(past: pd.DataFrame) -> list[tuple[Rows, Rows]]:
    return list(KFold(FOLDS, shuffle=True, random_state=0).split(past))


def _ranks(lows: list[Array], *, highs: list[Array]) -> tuple[Array, Array]:
    """The floor(a (n + 1))-th smallest of the lows and the ceil((1 - a) (n + 1))-th of the highs, a = 0.2."""
    count = len(lows)
    rank = (count + 1) // 5
    return np.sort(lows, axis=0)[rank - 1], np.sort(highs, axis=0)[count - rank]
