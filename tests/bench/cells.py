"""Which past sales and which new ones: the splits of the price bench.

Random splits: split k is permutation k; the first n rows are past, the next (at most 300) new. Time order: 20
origins spread over the dates of Ames, past = the n sales before, new = the next 100. Synthetic lot: lot k is drawn
with seed 5000 + k, 3 % wrong rows among past and new alike; past = the n sales before the last 60, new = those 60.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from functools import cache, lru_cache
from itertools import product

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.stats import t

from tests.bench.features import plain
from tests.valuation.histories import EXTRAS, ames, ames_model, windsor, windsor_model
from valuation import PriceModel, vehicle_model
from valuation.reading import Array
from valuation.simulate import as_inputs, simulate

Rows = NDArray[np.int64]
Given = NDArray[np.bool_]
Logs = tuple[Array, Array, Array]
SIZES = (40, 80, 160, 320, 640)
WINDSOR_SIZES = SIZES[:-1]  # of 546 rows
RANDOM_NEW, TIME_NEW, LOT_NEW = 300, 100, 60
ORIGINS = 20
LOT_SEED = 5000
NOISE_SCALE = 0.13 / np.sqrt(6 / 4)  # the noise of `valuation.simulate`: Student t, 6 degrees, sd 0.13
KINDS = {"ames": "random splits", "windsor": "random splits", "ames-time": "time order", "lot": "synthetic lot"}


@dataclass(frozen=True)
class History:
    """All sales of one set: as the price model takes them, and plain for the peers."""

    frame: pd.DataFrame
    price: Array
    plain: pd.DataFrame
    model: Callable[[], PriceModel]
    median: Array | None = None  # the true one, where it is known


@dataclass(frozen=True)
class Cell:
    """One set at one number of past sales."""

    name: str
    sales: int


@dataclass(frozen=True)
class Case:
    """One split of one cell."""

    history: History
    past: Rows
    new: Rows


def cells(names: tuple[str, ...] = tuple(KINDS), *, sizes: tuple[int, ...] = SIZES) -> list[Cell]:
    return [Cell(name, n) for name, n in product(names, sizes) if name != "windsor" or n in WINDSOR_SIZES]


def case(cell: Cell, *, split: int) -> Case:
    history = _history(cell.name, split=split)
    past, new = PARTS[cell.name](len(history.price), cell.sales, split)
    return Case(history, past, new)


def splits_of(name: str, *, most: int) -> range:
    return range(min(most, ORIGINS) if name == "ames-time" else most)


def random_rows(total: int, sales: int, split: int) -> tuple[Rows, Rows]:
    order = np.random.default_rng(split).permutation(total)
    return order[:sales], order[sales : sales + RANDOM_NEW]


def rows_in_time(total: int, sales: int, split: int) -> tuple[Rows, Rows]:
    """The same origins whatever the number of past sales; the first few splits are spread over the dates too."""
    place = (3 * split) % ORIGINS
    first, last = SIZES[-1], total - TIME_NEW
    origin = first + (last - first) * place // (ORIGINS - 1)
    return np.arange(origin - sales, origin), np.arange(origin, origin + TIME_NEW)


def last_rows(total: int, sales: int, split: int) -> tuple[Rows, Rows]:
    return np.arange(total - LOT_NEW - sales, total - LOT_NEW), np.arange(total - LOT_NEW, total)


PARTS = {"ames": random_rows, "windsor": random_rows, "ames-time": rows_in_time, "lot": last_rows}


def _history(name: str, *, split: int) -> History:
    return _lot(split) if name == "lot" else _open_data(name)


@cache
def _open_data(name: str) -> History:
    if name == "windsor":
        frame, price = windsor()
        # Its yes/no columns are half of all it has, and each is common: numbers like the others.
        return History(frame, price, plain(frame, model=windsor_model(), scaled=EXTRAS), windsor_model)
    frame, price = ames()
    if name == "ames-time":  # sold in one month: in the order of the file
        order = frame["sold"].argsort(kind="stable").to_numpy()
        frame, price = frame.iloc[order].reset_index(drop=True), price[order]
    return History(frame, price, plain(frame, model=ames_model()), ames_model)


@lru_cache(maxsize=32)
def _lot(split: int) -> History:
    drawn = simulate(SIZES[-1] + LOT_NEW, ending_on=date(2030, 6, 30), seed=LOT_SEED + split, wrong_share=0.03)
    sold = drawn.sales["result"] == "sold"
    frame = as_inputs(drawn.sales[sold]).reset_index(drop=True)
    columns = plain(frame, model=vehicle_model(), logs=("mileage",))
    price, median = (part[sold].to_numpy(float) for part in (drawn.sales["price"], drawn.truth["median"]))
    return History(frame, price, columns, vehicle_model, median)


def oracle(median: Array) -> Logs:
    """The band of somebody who knows the truth, but not the noise nor which rows will be wrong."""
    middle = np.log(median)
    reach = float(t(6).ppf(0.9)) * NOISE_SCALE
    return middle - reach, middle, middle + reach


def ours(case: Case) -> tuple[Logs, Given]:
    """The price model's band in logs, and which rows were given one.

    Where it declines to give a band, the row is scored with the middle 80 % of all past prices: what the lot would
    know without the model.
    """
    history = case.history
    price = history.price[case.past]
    model = history.model().fit(history.frame.iloc[case.past], price)
    new = history.frame.iloc[case.new]
    band, likely = model.band(new), np.log(model.predict(new))
    given = band["low"].notna().to_numpy()
    low, high = np.log(np.quantile(price, [0.1, 0.9]))
    lows = np.where(given, np.log(band["low"].fillna(1.0)), low)
    highs = np.where(given, np.log(band["high"].fillna(1.0)), high)
    return (lows, likely, highs), given
