"""The peers of the price bench: the usual ways to price from past sales, each at settings fit for few rows.

Each is a function of plain past sales (`tests.bench.features`), their log prices and plain new rows, and answers
low, likely and high log prices, 80 % between low and high.
"""

from typing import Self

import numpy as np
import pandas as pd
from catboost import CatBoostRegressor
from lightgbm import LGBMRegressor
from quantile_forest import RandomForestQuantileRegressor
from scipy.stats import t
from sklearn.ensemble import RandomForestRegressor
from sklearn.gaussian_process import GaussianProcessRegressor
from sklearn.gaussian_process.kernels import RBF, ConstantKernel, DotProduct, WhiteKernel
from sklearn.linear_model import BayesianRidge, QuantileRegressor, RidgeCV
from sklearn.metrics import make_scorer, mean_pinball_loss
from sklearn.model_selection import GridSearchCV, KFold
from sklearn.neighbors import KNeighborsRegressor

from tests.bench.bands import TAIL, Answer, conformalised, cv_plus, normal_band, on_matrix
from tests.bench.cells import Logs
from tests.bench.features import Matrix, for_trees, nested_names
from valuation.reading import Array

ALPHAS = np.logspace(-3, 4, 30)
TREES = 200
LEAST_LIKE = 5  # sales of one group before comparables are taken from it alone


class Comparables:
    """The median price of the k sales most alike: of the narrowest group sold often enough, then by distance."""

    def __init__(self, *, count: int) -> None:
        self.count = count

    def fit(self, past: pd.DataFrame, log_price: Array) -> Self:
        self._matrix, self._log_price = Matrix(past), log_price
        self._numbers = self._matrix.numbers(past)
        self._groups = [past[name].astype(str).to_numpy() for name in nested_names(past)]
        return self

    def predict(self, new: pd.DataFrame) -> Array:
        numbers = self._matrix.numbers(new)
        words = [new[name].astype(str).to_numpy() for name in nested_names(new)]
        return np.array([self._one(numbers[row], groups=[level[row] for level in words]) for row in range(len(new))])

    def _one(self, numbers: Array, *, groups: list[str]) -> float:
        alike = np.ones(len(self._log_price), dtype=bool)
        for level, word in zip(self._groups, groups, strict=True):
            narrower = alike & (level == word)
            if narrower.sum() < LEAST_LIKE:
                break
            alike = narrower
        pool = np.flatnonzero(alike)
        near = pool[np.argsort(np.linalg.norm(self._numbers[pool] - numbers, axis=1), kind="stable")[: self.count]]
        return float(np.median(self._log_price[near]))


def comparables(past: pd.DataFrame, log_price: Array, new: pd.DataFrame) -> Array:
    """k of 3, 5, 8 by leave-out error in five folds."""
    folds = list(KFold(5, shuffle=True, random_state=1).split(past))

    def error(count: int) -> float:
        misses = [
            np.abs(
                log_price[held]
                - Comparables(count=count).fit(past.iloc[kept], log_price[kept]).predict(past.iloc[held])
            )
            for kept, held in folds
        ]
        return float(np.concatenate(misses).mean())

    return Comparables(count=min((3, 5, 8), key=error)).fit(past, log_price).predict(new)


def nearest() -> GridSearchCV:
    choices = {"n_neighbors": [3, 5, 8, 12, 18], "weights": ["uniform", "distance"]}
    folds = KFold(5, shuffle=True, random_state=1)
    return GridSearchCV(KNeighborsRegressor(), choices, scoring="neg_mean_absolute_error", cv=folds)


def least_squares(past: pd.DataFrame, log_price: Array, new: pd.DataFrame) -> Logs:
    """Ordinary least squares with its prediction interval; the pseudo-inverse where columns depend on each other.

    Where there are as many columns as sales, no residual tells the noise: then it is taken as that of all prices.
    """
    matrix = Matrix(past)
    x, z = (np.column_stack([np.ones(len(frame)), matrix(frame)]) for frame in (past, new))
    inverse = np.linalg.pinv(x)
    mean = z @ (inverse @ log_price)
    free = len(x) - int(np.linalg.matrix_rank(x))
    left = log_price - x @ (inverse @ log_price)
    variance = float(left @ left) / free if free else float(np.var(log_price))
    reach = t(max(free, 1)).ppf(1 - TAIL) * np.sqrt(variance * (1 + np.sum((z @ inverse) ** 2, axis=1)))
    return mean - reach, mean, mean + reach


def linear_quantiles(past: pd.DataFrame, log_price: Array, new: pd.DataFrame) -> Logs:
    """Penalised linear quantile regressions; the penalty of each by its pinball loss in five folds."""
    matrix = Matrix(past)
    folds = KFold(5, shuffle=True, random_state=1)

    def one(quantile: float) -> Array:
        search = GridSearchCV(
            QuantileRegressor(quantile=quantile, solver="highs"),
            {"alpha": [0.001, 0.003, 0.01, 0.03]},
            scoring=make_scorer(mean_pinball_loss, greater_is_better=False, alpha=quantile),
            cv=folds,
        )
        out: Array = search.fit(matrix(past), log_price).predict(matrix(new))
        return out

    low, middle, high = np.sort([one(TAIL), one(0.5), one(1 - TAIL)], axis=0)
    return low, middle, high


def forest(past: pd.DataFrame, log_price: Array, new: pd.DataFrame) -> Array:
    x, z = for_trees(past, new=new)
    out: Array = RandomForestRegressor(TREES, max_features=1 / 3, random_state=0, n_jobs=1).fit(x, log_price).predict(z)
    return out


def quantile_forest(past: pd.DataFrame, log_price: Array, new: pd.DataFrame) -> Logs:
    """On the filled matrix: its trees take no missing numbers."""
    matrix = Matrix(past)
    trees = RandomForestQuantileRegressor(TREES, max_features=1 / 3, min_samples_leaf=2, random_state=0, n_jobs=1)
    found = trees.fit(matrix(past), log_price).predict(matrix(new), quantiles=[TAIL, 0.5, 1 - TAIL])
    return found[:, 0], found[:, 1], found[:, 2]


def boosted(past: pd.DataFrame, log_price: Array, new: pd.DataFrame, *, quantile: float | None = None) -> Array:
    """LightGBM with its own handling of categories, at settings for few rows: the mean, or a quantile.

    A quantile needs larger steps and trees: its gradients have one size however far off it is.
    """
    trees = LGBMRegressor(
        objective="regression" if quantile is None else "quantile",
        alpha=quantile or 0.5,  # not looked at without a quantile
        learning_rate=0.05 if quantile is None else 0.1,
        num_leaves=6 if quantile is None else 12,
        n_estimators=200,
        min_child_samples=max(3, len(past) // 30),
        colsample_bytree=0.5,
        subsample=0.8,
        subsample_freq=1,
        min_data_per_group=2,
        cat_smooth=2,
        cat_l2=2,
        min_data_in_bin=1,
        random_state=0,
        n_jobs=1,
        verbose=-1,
    )
    return np.asarray(trees.fit(past, log_price).predict(new), dtype=float)


def boosted_quantiles(past: pd.DataFrame, log_price: Array, new: pd.DataFrame) -> Logs:
    low, high = (boosted(past, log_price, new, quantile=one) for one in (TAIL, 1 - TAIL))
    return low, boosted(past, log_price, new), high


def boosted_means(past: pd.DataFrame, log_price: Array, new: pd.DataFrame) -> Array:
    """CatBoost; 0/1 columns for all words, which is its own way for few of them."""
    words = list(past.select_dtypes("category").columns)
    x, z = (frame.assign(**{name: frame[name].astype(str) for name in words}) for frame in (past, new))
    trees = CatBoostRegressor(
        iterations=300,
        learning_rate=0.06,
        depth=4,
        one_hot_max_size=64,
        thread_count=1,
        random_seed=0,
        verbose=False,
        allow_writing_files=False,
    )
    return np.asarray(trees.fit(x, log_price, cat_features=words).predict(z), dtype=float)


def gaussian_process() -> GaussianProcessRegressor:
    kernel = ConstantKernel() * RBF() + ConstantKernel() * DotProduct() + WhiteKernel()
    return GaussianProcessRegressor(kernel, normalize_y=True)


PEERS: dict[str, Answer] = {  # in the order in which they are run: strong and cheap first
    "GaussianProcess": normal_band(gaussian_process),
    "BayesianRidge": normal_band(BayesianRidge),
    "RidgeCV": cv_plus(on_matrix(lambda: RidgeCV(ALPHAS))),
    "OLS": least_squares,
    "LightGBM": conformalised(boosted_quantiles),
    "CatBoost": cv_plus(boosted_means),
    "quantile forest": quantile_forest,
    "linear quantiles": linear_quantiles,
    "k nearest": cv_plus(on_matrix(nearest)),
    "comparables": cv_plus(comparables),
    "random forest": cv_plus(forest),
}
