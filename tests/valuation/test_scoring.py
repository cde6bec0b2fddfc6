"""The scorer of bands, by hand and in scikit-learn's hands."""

from typing import Any

import numpy as np
import pandas as pd
import pytest
from sklearn.base import clone
from sklearn.model_selection import GridSearchCV, KFold, cross_val_score

from valuation import BadInput, NotFitted, PriceModel
from valuation.scoring import band_score

FOLDS = KFold(3, shuffle=True, random_state=0)


def history(*, noise: float = 0.1, count: int = 60) -> tuple[pd.DataFrame, Any]:
    rng = np.random.default_rng(2)
    frame = pd.DataFrame(
        {"make": rng.choice(["Merrow", "Tarn", "Quillon"], size=count), "miles": rng.uniform(0, 100_000, size=count)}
    )
    price = 20_000 * np.exp(-frame["miles"] / 1e5 + noise * rng.normal(size=count))
    return frame, price.to_numpy()


def model(**changes: Any) -> PriceModel:
    return PriceModel(**{"nested": ("make",), "smooth": ("miles",), "date": None, **changes})


def test_score_by_hand() -> None:
    """Gneiting & Raftery 2007, equation 43: the width of each band, and 2 / 0.2 = 10 for each unit outside."""
    frame, price = history()
    fitted = model().fit(frame, price)
    band = np.log(fitted.band(frame))
    outside = np.exp(band["high"].to_numpy() + 0.3)
    width = float((band["high"] - band["low"]).mean())
    assert band_score(fitted, frame, fitted.predict(frame)) == pytest.approx(-width)
    assert band_score(fitted, frame, outside) == pytest.approx(-(width + 0.3 * 2 / 0.2))


def test_the_models_own_coverage_sets_the_penalty() -> None:
    frame, price = history()
    fitted = model(coverage=0.9).fit(frame, price)
    band = np.log(fitted.band(frame))
    outside = np.exp(band["low"].to_numpy() - 0.3)
    width = float((band["high"] - band["low"]).mean())
    assert band_score(fitted, frame, outside) == pytest.approx(-(width + 0.3 * 2 / 0.1))


def test_it_scores_in_cross_validation_what_each_fold_says() -> None:
    frame, price = history()
    scores = cross_val_score(model(), frame, price, scoring=band_score, cv=FOLDS, error_score="raise")
    train, test = next(iter(FOLDS.split(frame)))
    first = model().fit(frame.iloc[train], price[train])
    assert scores.shape == (3,)
    assert scores[0] == band_score(first, frame.iloc[test], price[test])
    assert (scores < 0).all()


def test_sharper_prices_score_better() -> None:
    calm, wild = (
        cross_val_score(model(), *history(noise=noise), scoring=band_score, cv=FOLDS, error_score="raise").mean()
        for noise in (0.05, 0.30)
    )
    assert calm > wild


def test_a_clone_scores_the_same_and_keeps_its_params() -> None:
    frame, price = history()
    first = model(coverage=0.7).fit(frame, price)
    params = first.get_params()
    again = clone(first)
    assert again.get_params() == params
    assert band_score(again.fit(frame, price), frame, price) == band_score(first, frame, price)
    assert first.get_params() == params


def test_it_chooses_the_input_that_tells() -> None:
    frame, price = history()
    search = GridSearchCV(model(), {"smooth": [(), ("miles",)]}, scoring=band_score, cv=FOLDS, error_score="raise")
    assert search.fit(frame, price).best_params_ == {"smooth": ("miles",)}


def test_rows_without_a_band_are_counted_and_refused() -> None:
    frame, price = history(count=20)
    thin = model().fit(frame, price)  # three makes tell nothing about a fourth
    unseen = frame.assign(make=["Ostrey"] * 2 + list(frame["make"][2:]))
    with pytest.raises(BadInput, match="every vehicle must have a band above 0, got 2 of 20 without"):
        band_score(thin, unseen, price)


def test_a_low_end_that_rounds_to_nothing_is_refused() -> None:
    frame, price = history()
    cheap = model(decimals=0).fit(frame, price / 20_000)
    with pytest.raises(BadInput, match="every vehicle must have a band above 0, got"):
        band_score(cheap, frame, price / 20_000)


def test_no_sale_a_wrong_price_and_no_fit_are_refused() -> None:
    frame, price = history()
    fitted = model().fit(frame, price)
    with pytest.raises(BadInput, match="at least one sale"):
        band_score(fitted, frame.head(0), [])
    with pytest.raises(BadInput, match=r"price must be positive and finite, got -1\.0"):
        band_score(fitted, frame.head(1), [-1.0])
    with pytest.raises(NotFitted, match="must be fitted first"):
        band_score(model(), frame, price)
