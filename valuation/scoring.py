"""One figure for choosing between models: how sharp and how honest their bands are."""

from typing import Any

import numpy as np
import pandas as pd

from valuation.errors import BadInput
from valuation.metrics import interval_score
from valuation.model import PriceModel
from valuation.reading import price_column


def band_score(model: PriceModel, frame: pd.DataFrame, price: Any) -> float:
    """Minus the mean interval score of a model's bands on log price: greater is better.

    A scorer in the sense of scikit-learn: `cross_val_score(model, frame, price, scoring=band_score)`.

    Parameters
    ----------
    model : fitted; its `coverage` is the one that the bands are held against
    frame : one row per sale with the columns of every role
    price : what they sold for, in currency units, shape (n_sales,), each positive; n_sales at least 1

    Returns
    -------
    Log units, below 0: -0.4 is what bands of about ±20 % score that contain every sale.

    Raises
    ------
    NotFitted
        The model is not fitted.
    BadInput
        There is no sale, a price is not positive, or a vehicle has no band (the count is told). Leaving those
        out would reward a model for keeping silent, so choose folds whose rows all have bands, or take
        `evidence` first. `cross_val_score` turns a refusal into NaN and a warning unless `error_score="raise"`.

    Notes
    -----
    score = -mean((H - L) + 2/a max(L - y, 0) + 2/a max(y - H, 0)), L, H and y logs of low, high and price, and
    a = 1 - coverage. On the log scale a miss by a tenth counts alike for cheap and dear vehicles.
    Source: Gneiting & Raftery 2007, J. Am. Stat. Assoc. 102, equation 43.

    Examples
    --------
    >>> sales = pd.DataFrame({"make": ["Merrow", "Tarn"] * 10, "miles": [float(m) for m in range(20)]})
    >>> price = [20_000 * (1 + (i % 2)) * 0.98 ** i * (1 + 0.01 * (i % 3)) for i in range(20)]
    >>> model = PriceModel(nested=("make",), smooth=("miles",), date=None).fit(sales, price)
    >>> -0.1 < band_score(model, sales, price) < 0
    True
    """
    prices = price_column(price, size=len(frame))
    if not len(prices):
        raise BadInput("frame must have at least one sale, got an empty one")
    band = model.band(frame)
    without = int((~(band["low"] > 0)).sum())  # a low end that rounds to nothing has no logarithm either
    if without:
        raise BadInput(f"every vehicle must have a band above 0, got {without} of {len(prices)} without")
    low, high = np.log(band["low"].to_numpy()), np.log(band["high"].to_numpy())
    return -float(interval_score(np.log(prices), low=low, high=high, coverage=model.coverage).mean())
