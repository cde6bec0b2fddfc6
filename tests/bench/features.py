"""What the peers of the price bench are given: the same inputs as the price model, prepared as an analyst would.

A *plain* frame has words as categories (the nested ones first, named `nested_0` from the widest on), numbers as
floats with NaN, 0/1 columns and small counts as int8, and the date as a float of years.
"""

from collections.abc import Sequence

import numpy as np
import pandas as pd
from sklearn.preprocessing import OneHotEncoder

from valuation import PriceModel
from valuation.reading import Array

MICROSECONDS_A_YEAR = 365.25 * 86_400e6
NESTED = "nested_"
YEARS = "years"
# Forty sales may span a month: scaled to spread 1, the next month would lie far outside all that was seen, and its
# price be carried off by a trend that no month can tell. Measured: median errors a quarter smaller for ridge and GP.
LEAST_YEARS = 1.0


def plain(
    frame: pd.DataFrame, *, model: PriceModel, logs: Sequence[str] = (), scaled: Sequence[str] = ()
) -> pd.DataFrame:
    """The inputs that `model` uses.

    `logs` names numbers that are taken as ln(1 + number), `scaled` flags that are as common as numbers and are
    given the same spread.
    """
    words = {f"{NESTED}{level}": frame[name] for level, name in enumerate(model.nested)}
    words |= {name: frame[name] for name in model.factors}
    columns: dict[str, object] = {
        name: values.astype(object).where(values.notna(), "").astype(str).astype("category")
        for name, values in words.items()
    }
    for name in (*model.smooth, *model.rising):
        # The ends of an interval agree wherever the number is known.
        values = frame[name if name in frame else f"{name}_low"].astype(float)
        columns[name] = np.log1p(values) if name in logs else values
    columns |= {name: frame[name].astype(float if name in scaled else "int8") for name in model.flags}
    if model.date is not None:
        columns[YEARS] = frame[model.date].astype("datetime64[us]").astype("int64") / MICROSECONDS_A_YEAR
    return pd.DataFrame(columns)


def nested_names(frame: pd.DataFrame) -> list[str]:
    return [name for name in frame.columns if name.startswith(NESTED)]


class Matrix:
    """A plain frame as numbers, with everything learnt from `past`.

    Numbers have mean 0 and spread 1; a missing one takes the median, and a column says that it was missing where
    that happened twice or more. Words and rare flags are 0/1 columns left as they are: a make sold once in 40 sales,
    scaled to spread 1, would stand three times as far from the rest as one sold every second time, which spoils every
    distance and every shrunk weight.
    """

    def __init__(self, past: pd.DataFrame) -> None:
        self._numbers = list(past.select_dtypes("float").columns)
        self._flags = list(past.select_dtypes("int8").columns)
        self._words = list(past.select_dtypes("category").columns)
        numbers = past[self._numbers]
        self._middle = numbers.median().fillna(0.0)
        filled = numbers.fillna(self._middle)
        spread = filled.std(ddof=0)
        if YEARS in self._numbers:
            spread[YEARS] = max(spread[YEARS], LEAST_YEARS)
        self._mean, self._spread = filled.mean(), spread.where(spread > 0, 1.0)
        gone = numbers.isna().sum()
        self._gaps = [name for name in self._numbers if 2 <= gone[name] <= len(past) - 2]
        self._usual = past[self._flags].mean()
        self._encoder = OneHotEncoder(handle_unknown="ignore", sparse_output=False)
        self._encoder.fit(past[self._words].astype(str))

    def numbers(self, frame: pd.DataFrame) -> Array:
        """The numbers alone, of spread 1."""
        filled = frame[self._numbers].fillna(self._middle)
        return ((filled - self._mean) / self._spread).to_numpy(float)

    def __call__(self, frame: pd.DataFrame) -> Array:
        flags = (frame[self._flags] - self._usual).to_numpy(float)
        gaps = frame[self._gaps].isna().to_numpy(float)
        return np.hstack([self.numbers(frame), flags, gaps, self._encoder.transform(frame[self._words].astype(str))])


def for_trees(past: pd.DataFrame, *, new: pd.DataFrame) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Numbers as they are, NaN included; words as 0/1 columns, one for each word of `past`."""
    known = pd.get_dummies(past, dtype="int8")
    return known, pd.get_dummies(new, dtype="int8").reindex(columns=known.columns, fill_value=0)
