"""By hand: the price model beside usual ones on open data, same splits.

    python -m tests.bench.price_bench [splits]

Median absolute error in percent, mean 80 % interval score on log price, share inside the band, seconds per fit.
"""

import sys
import time
import warnings
from collections.abc import Callable

import numpy as np
import pandas as pd
from scipy.stats import norm
from sklearn.base import clone
from sklearn.compose import make_column_selector, make_column_transformer
from sklearn.exceptions import ConvergenceWarning
from sklearn.gaussian_process import GaussianProcessRegressor
from sklearn.gaussian_process.kernels import RBF, ConstantKernel, DotProduct, WhiteKernel
from sklearn.linear_model import BayesianRidge, RidgeCV
from sklearn.model_selection import KFold
from sklearn.pipeline import Pipeline, make_pipeline
from sklearn.preprocessing import OneHotEncoder, StandardScaler

from tests.valuation.histories import ames, ames_model, windsor, windsor_model
from valuation import PriceModel, interval_score
from valuation.reading import Array

Logs = tuple[Array, Array, Array]
SETS = {"ames": (ames, ames_model), "windsor": (windsor, windsor_model)}
SIZES = (40, 80, 160, 320)


def on_numbers(estimator: object) -> Pipeline:
    words = (
        OneHotEncoder(handle_unknown="ignore", sparse_output=False),
        make_column_selector(dtype_include=["str", "object"]),
    )
    return make_pipeline(make_column_transformer(words, remainder="passthrough"), StandardScaler(), estimator)


def plain(frame: pd.DataFrame) -> pd.DataFrame:
    dates = frame.select_dtypes("datetime").columns
    return frame.assign(**{name: frame[name].astype("int64") / 1e15 for name in dates})


def normal_band(estimator: object) -> Callable[..., Logs]:
    """A band from the estimator's own standard deviation."""

    def answer(past: pd.DataFrame, log_price: Array, new: pd.DataFrame) -> Logs:
        mean, sd = on_numbers(estimator).fit(plain(past), log_price).predict(plain(new), return_std=True)
        reach = norm.ppf(0.9) * sd
        return mean - reach, mean, mean + reach

    return answer


def cv_plus(estimator: object) -> Callable[..., Logs]:
    """CV+ of ten folds. Source: Barber, Candès, Ramdas & Tibshirani 2021."""

    def answer(past: pd.DataFrame, log_price: Array, new: pd.DataFrame) -> Logs:
        lows, highs = [], []
        for kept, held in KFold(10, shuffle=True, random_state=0).split(past):
            model = clone(on_numbers(estimator)).fit(plain(past).iloc[kept], log_price[kept])
            miss = np.abs(log_price[held] - model.predict(plain(past).iloc[held]))
            middle = model.predict(plain(new))
            lows.extend(middle - one for one in miss)
            highs.extend(middle + one for one in miss)
        mean = on_numbers(estimator).fit(plain(past), log_price).predict(plain(new))
        return np.quantile(lows, 0.2, axis=0), mean, np.quantile(highs, 0.8, axis=0)

    return answer


def ours(make: Callable[[], PriceModel]) -> Callable[..., Logs]:
    def answer(past: pd.DataFrame, log_price: Array, new: pd.DataFrame) -> Logs:
        band = np.log(make().fit(past, np.exp(log_price)).band(new))
        return band["low"].to_numpy(), band["likely"].to_numpy(), band["high"].to_numpy()

    return answer


def figures(answer: Callable[..., Logs], frame: pd.DataFrame, price: Array, *, sales: int, seed: int) -> list[float]:
    order = np.random.default_rng(seed).permutation(len(price))
    past, new = order[:sales], order[sales : sales + 300]
    start = time.process_time()
    low, likely, high = answer(frame.iloc[past], np.log(price[past]), frame.iloc[new])
    seconds = time.process_time() - start
    actual = np.log(price[new])
    error = 100 * float(np.median(np.abs(np.exp(likely - actual) - 1)))
    inside = float(np.mean((low <= actual) & (actual <= high)))
    return [error, float(interval_score(low=low, high=high, actual=actual).mean()), inside, seconds]


def main(splits: int) -> None:
    kernel = ConstantKernel() * RBF() + ConstantKernel() * DotProduct() + WhiteKernel()
    peers = {
        "RidgeCV, CV+": cv_plus(RidgeCV(np.logspace(-3, 4, 30))),
        "BayesianRidge": normal_band(BayesianRidge()),
        "GaussianProcess": normal_band(GaussianProcessRegressor(kernel, normalize_y=True)),
    }
    for name, (load, make) in SETS.items():
        frame, price = load()
        for sales in SIZES:
            for title, answer in {"PriceModel": ours(make), **peers}.items():
                mean = np.mean(
                    [figures(answer, frame, price, sales=sales, seed=seed) for seed in range(splits)], axis=0
                )
                print(
                    f"{name:8} {sales:4} {title:16} {mean[0]:6.2f} {mean[1]:6.3f} {mean[2]:6.3f} {mean[3]:6.2f}",
                    flush=True,
                )


if __name__ == "__main__":
    warnings.simplefilter("ignore", ConvergenceWarning)  # the peers' own searches, not ours
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 8)
