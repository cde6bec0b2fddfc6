"""The band contains what it says it contains: open data, and an invented lot whose truth is known."""

from collections.abc import Callable

import numpy as np
import pandas as pd
import pytest
from scipy.stats import beta, t

from tests.valuation.histories import ames, ames_model, drawn_lot, windsor, windsor_model
from valuation import PriceModel, coverage, vehicle_model
from valuation.reading import Array

History = tuple[pd.DataFrame, Array]


def shares(data: History, model: Callable[[], PriceModel], *, sales: int, splits: int) -> list[float]:
    """Share of new sales inside the band, one per random split."""
    frame, price = data
    found = []
    for seed in range(splits):
        order = np.random.default_rng(seed).permutation(len(price))
        past, new = order[:sales], order[sales : sales + 300]
        band = model().fit(frame.iloc[past], price[past]).band(frame.iloc[new])
        found.append(coverage(low=band["low"], high=band["high"], actual=price[new]).share)
    return found


def sd_of_share(sales: int, new: int) -> float:
    """Theory of split conformal, for one split: the share given the past is Beta(k, n + 1 - k), then binomial.

    Source: Vovk 2012 (conditional validity); n past errors, k = n + 1 times 0.8, `new` sales to count on.
    """
    law = beta(0.8 * (sales + 1), 0.2 * (sales + 1))
    return float(np.sqrt(law.var() + 0.8 * 0.2 / new))


@pytest.mark.parametrize("sales", [100, 200])
def test_eighty_percent_of_houses_in_windsor(sales: int) -> None:
    found = shares(windsor(), windsor_model, sales=sales, splits=10)
    assert abs(np.mean(found) - 0.8) < 2 * sd_of_share(sales, 300) / np.sqrt(10)


def test_eighty_percent_of_houses_in_ames() -> None:
    found = shares(ames(), lambda: ames_model().set_params(noise="normal"), sales=150, splits=12)
    assert abs(np.mean(found) - 0.8) < 2 * sd_of_share(150, 300) / np.sqrt(12)


def test_eighty_percent_of_the_sales_of_invented_lots() -> None:
    """Six lots, each with 3 % wrong rows among past and new sales alike."""
    found = []
    for seed in range(6):
        lot = drawn_lot(400, seed=1000 + seed)
        found += shares((lot.inputs, lot.price), vehicle_model, sales=100, splits=1)
    assert abs(np.mean(found) - 0.8) < 2 * sd_of_share(100, 300) / np.sqrt(6)


def test_models_never_seen_are_covered_too() -> None:
    """Ten models are held out of each of 6 lots. Errors of one model hang together: Student's interval of lots."""
    found = []
    for seed in range(6):
        lot = drawn_lot(300, seed=100 + seed, wrong_share=0.0)
        names = lot.inputs["make"] + lot.inputs["model"]
        held = names.isin(np.random.default_rng(seed).choice(names.unique(), size=10, replace=False)).to_numpy()
        past = np.flatnonzero(~held)[:120]
        new = held & lot.inputs["make"].isin(lot.inputs["make"].iloc[past]).to_numpy()
        band = vehicle_model().fit(lot.inputs.iloc[past], lot.price[past]).band(lot.inputs[new])
        found.append(coverage(low=band["low"], high=band["high"], actual=lot.price[new]).share)
    spread = np.std(found, ddof=1) / np.sqrt(6)
    assert abs(np.mean(found) - 0.8) < t(5).ppf(0.975) * spread
    assert spread < 0.08


def test_few_sales_are_priced_better_than_by_least_squares() -> None:
    """Shrinkage must earn its keep where sales are few: 100 sales in Ames, 4 splits."""
    frame, price = ames()
    errors: dict[str, list[float]] = {"evidence": [], "none": []}
    for seed in range(4):
        order = np.random.default_rng(seed).permutation(len(price))
        past, new = order[:100], order[100:400]
        for shrinkage, found in errors.items():
            model = ames_model().set_params(shrinkage=shrinkage, noise="normal").fit(frame.iloc[past], price[past])
            found.append(float(np.median(np.abs(model.predict(frame.iloc[new]) / price[new] - 1))))
    assert np.mean(errors["evidence"]) < np.mean(errors["none"])
