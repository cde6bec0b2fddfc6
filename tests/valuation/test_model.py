"""The estimator's contract: what goes in stays as it was, what comes out does not depend on order or place."""

from datetime import date
from typing import Any

import numpy as np
import pandas as pd
import pytest
from sklearn.base import clone
from sklearn.exceptions import NotFittedError
from sklearn.model_selection import cross_val_score

from tests.valuation.histories import Lot, drawn_lot
from valuation import BadInput, BadOption, NotFitted, PriceModel, vehicle_model


def small(**changes: Any) -> PriceModel:
    options: dict[str, Any] = {"nested": ("make",), "smooth": ("miles",), "rising": ("grade",), "date": None, **changes}
    return PriceModel(**options)


def sales(count: int = 40, *, seed: int = 5) -> tuple[pd.DataFrame, Any]:
    rng = np.random.default_rng(seed)
    frame = pd.DataFrame(
        {
            "make": rng.choice(["Merrow", "Tarn", "Quillon", "Ostrey", "Halvard", "Norrland"], size=count),
            "miles": rng.uniform(0, 100_000, size=count),
            "grade": rng.uniform(0, 100, size=count),
        }
    )
    price = 20_000 * np.exp(-frame["miles"] / 2e5 + frame["grade"] / 200 + rng.normal(0, 0.1, size=count))
    return frame, price.to_numpy()


def test_init_only_stores() -> None:
    params = small(coverage=0.9).get_params()
    assert params["coverage"] == 0.9
    assert params["nested"] == ("make",)
    assert clone(small(coverage=0.9)).get_params() == params


def test_fit_returns_self_and_leaves_params_and_frame_alone() -> None:
    frame, price = sales()
    before, prices = frame.copy(), price.copy()
    model = small()
    params = model.get_params()
    assert model.fit(frame, price) is model
    assert model.get_params() == params
    pd.testing.assert_frame_equal(frame, before)
    assert np.array_equal(price, prices)


def test_refit_forgets_the_first_history() -> None:
    first, second = sales(30, seed=1), sales(40, seed=2)
    twice = small().fit(*first).fit(*second)
    once = small().fit(*second)
    pd.testing.assert_frame_equal(twice.band(first[0]), once.band(first[0]), check_exact=True)
    assert twice.notes_ == once.notes_


def test_refit_on_too_few_forgets_the_band() -> None:
    frame, price = sales()
    model = small().fit(frame, price).fit(frame.head(5), price[:5])
    assert model.band(frame).isna().all(axis=None)
    assert np.isnan(model.typical_sd_)


def test_row_order_changes_nothing(lot: Lot, fitted: PriceModel) -> None:
    order = np.random.default_rng(0).permutation(len(lot.price))
    shuffled = vehicle_model().fit(lot.inputs.iloc[order], lot.price[order])
    assert shuffled.sales_hash_ == fitted.sales_hash_
    pd.testing.assert_frame_equal(fitted.band(lot.inputs), shuffled.band(lot.inputs), check_exact=True)


def test_a_row_alone_is_priced_as_among_others(lot: Lot, fitted: PriceModel) -> None:
    whole = fitted.band(lot.inputs)
    alone = pd.concat([fitted.band(lot.inputs.iloc[[row]]) for row in range(0, 120, 17)])
    pd.testing.assert_frame_equal(whole.loc[alone.index], alone, check_exact=True)


def test_many_rows_at_once_are_priced_as_few(fitted: PriceModel, lot: Lot) -> None:
    many = pd.concat([lot.inputs] * 40, ignore_index=True)  # more rows than are laid out at once
    pd.testing.assert_frame_equal(fitted.band(many).head(120), fitted.band(lot.inputs), check_exact=True)


def test_price_unit_scales_the_band() -> None:
    frame, price = sales()
    dollars, cents = small(decimals=4).fit(frame, price), small(decimals=2).fit(frame, price * 100)
    np.testing.assert_allclose(cents.band(frame), dollars.band(frame) * 100, rtol=0, atol=0.02)


def test_index_is_kept(fitted: PriceModel, lot: Lot) -> None:
    named = lot.inputs.head(3).set_index(pd.Index(["a", "b", "c"]))
    for answer in (fitted.band(named), fitted.parts(named), fitted.evidence(named)):
        assert list(answer.index) == ["a", "b", "c"]


def test_predict_is_likely(fitted: PriceModel, lot: Lot) -> None:
    band = fitted.band(lot.inputs)
    assert np.array_equal(fitted.predict(lot.inputs), band["likely"])


def test_low_likely_high_are_in_order(fitted: PriceModel, lot: Lot) -> None:
    band = fitted.band(lot.inputs)
    assert ((band["low"] < band["likely"]) & (band["likely"] < band["high"])).all()


def test_wider_coverage_is_never_narrower(lot: Lot, fitted: PriceModel) -> None:
    wider = clone(fitted).set_params(coverage=0.9).fit(lot.inputs, lot.price).band(lot.inputs)
    usual = fitted.band(lot.inputs)
    assert ((wider["low"] <= usual["low"]) & (wider["high"] >= usual["high"])).all()
    assert (wider["likely"] == usual["likely"]).all()


def test_works_in_cross_val_score() -> None:
    frame, price = sales(60)
    scores = cross_val_score(small(), frame, price, cv=3)
    assert scores.shape == (3,)
    assert scores.mean() > 0.3  # R² of price: the noise of this history leaves about 0.8 to explain


def test_unfitted_is_refused_by_name() -> None:
    with pytest.raises(NotFitted, match="must be fitted first"):
        small().band(sales()[0])
    assert issubclass(NotFitted, NotFittedError)


@pytest.mark.parametrize(
    ("changes", "text"),
    [
        ({"coverage": 1.2}, "coverage must be between 0.5 and 0.99, got 1.2"),
        ({"coverage": "0.8"}, "coverage must be between 0.5 and 0.99, got '0.8'"),
        ({"folds": 3}, "folds must be between 8 and 100, got 3"),
        ({"decimals": 9}, "decimals must be between 0 and 4, got 9"),
        ({"shrinkage": "some"}, "shrinkage must be one of evidence, none, got 'some'"),
        ({"noise": "loud"}, "noise must be one of normal, heavy, got 'loud'"),
        ({"smooth": "miles"}, "smooth must be a tuple of column names, got 'miles'"),
        ({"factors": ("make",)}, "each column must have one role, got 'make' in more than one"),
        ({"freed": (("miles", "make", "Tarn"),)}, "freed must name a rising input, got 'miles'"),
        ({"freed": (("grade", "make", "Tarn"),)}, "freed must name one of the factors, got 'make'"),
        ({"freed": (("grade", "a", "b"), ("grade", "a", "c"))}, "freed must name each rising input at most once"),
    ],
)
def test_wrong_option_is_refused(changes: dict[str, Any], text: str) -> None:
    with pytest.raises(BadOption, match=text.replace("(", r"\(")):
        small(**changes).fit(*sales())


@pytest.mark.parametrize(
    ("price", "text"),
    [
        ([1.0, -2.0, 3.0], "price must be positive and finite, got -2.0 in row 1"),
        ([1.0, 0.0, 3.0], "price must be positive and finite, got 0.0 in row 1"),
        ([1.0, np.nan, 3.0], "price must be positive and finite, got nan in row 1"),
        ([1.0, 2.0, np.inf], "price must be positive and finite, got inf in row 2"),
        ([1.0, 2.0], r"price must have the shape \(3,\), got \(2,\)"),
        (["a", "b", "c"], "price must be numbers"),
    ],
)
def test_wrong_price_is_refused(price: list[Any], text: str) -> None:
    with pytest.raises(BadInput, match=text):
        small().fit(sales(3)[0], price)


def test_wrong_price_names_the_row_of_a_series() -> None:
    frame, _ = sales(3)
    bad = pd.Series([1.0, 2.0, -1.0], index=["x", "y", "z"])
    with pytest.raises(BadInput, match="in row 'z'") as caught:
        small().fit(frame, bad)
    assert (caught.value.column, caught.value.row) == ("price", "z")


def test_empty_frame_is_refused() -> None:
    frame, _ = sales()
    with pytest.raises(BadInput, match="at least one sale"):
        small().fit(frame.head(0), [])


def test_equal_prices_are_refused() -> None:
    frame, _ = sales()
    with pytest.raises(BadInput, match="price must vary, got 40 times 5000"):
        small().fit(frame, np.full(40, 5000.0))


def test_two_equal_prices_fit_without_a_band() -> None:
    frame, _ = sales(2)
    model = small().fit(frame, [5000.0, 5000.0])
    assert model.notes_[-1] == "there are 2 sales; a band needs 12"
    np.testing.assert_allclose(model.predict(frame), 5000.0, rtol=1e-6)


def test_column_missing_everywhere_is_noted_and_harmless() -> None:
    frame, price = sales()
    model = small().fit(frame.assign(miles=np.nan), price)
    assert "miles is missing in every sale: it is not used" in model.notes_
    assert model.band(frame.assign(miles=None)).notna().all(axis=None)


def test_every_column_may_be_missing_everywhere(lot: Lot) -> None:
    blank = pd.DataFrame({name: [None] * 30 for name in lot.inputs})
    model = vehicle_model().fit(blank, lot.price[:30])
    middle = float(np.exp(np.log(lot.price[:30]).mean()))
    assert model.predict(blank.head(1))[0] == pytest.approx(middle, rel=0.2)
    assert not model.evidence(lot.inputs)["enough"].any()  # no make is known: nothing tells how far makes lie apart


def test_one_make_only_fits_with_a_band() -> None:
    frame, price = sales()
    model = small().fit(frame.assign(make="Merrow"), price)
    assert model.band(frame.assign(make="Merrow")).notna().all(axis=None)
    assert not model.evidence(frame.assign(make="Tarn"))["enough"].any()


def test_duplicated_rows_share_a_fold() -> None:
    frame, price = sales(30)
    twice = small().fit(pd.concat([frame, frame], ignore_index=True), np.concatenate([price, price]))
    assert twice.calibration_ is not None
    scores = twice.calibration_.scores
    assert len(scores) == 60
    # Were a copy in the training rows, its error would be near nothing. Each error comes twice, equal.
    assert np.array_equal(scores[::2], scores[1::2])


def test_date_before_all_others_is_priced(fitted: PriceModel, vehicle: pd.DataFrame) -> None:
    early = fitted.band(vehicle.assign(ended_on=date(1990, 1, 1)))
    now = fitted.band(vehicle)
    assert early.notna().all(axis=None)
    width = np.log(early["high"] / early["low"]).to_numpy()
    assert (width > np.log(now["high"] / now["low"]).to_numpy()).all()


def test_text_is_compared_without_capitals(fitted: PriceModel, vehicle: pd.DataFrame) -> None:
    loud = vehicle.assign(make=vehicle["make"].str.upper() + " ", model=vehicle["model"].str.upper())
    assert fitted.predict(loud) == fitted.predict(vehicle)


def test_prices_off_by_a_keystroke_bend_little() -> None:
    lot = drawn_lot(100, seed=8, wrong_share=0.0)
    clean = vehicle_model().fit(lot.inputs, lot.price)
    typed = lot.price.copy()
    typed[::20] *= 10
    shift = {}
    for noise in ("normal", "heavy"):
        model = vehicle_model().set_params(noise=noise).fit(lot.inputs, typed)
        shift[noise] = np.abs(np.log(model.predict(lot.inputs) / clean.predict(lot.inputs))).mean()
    assert shift["heavy"] < 0.5 * shift["normal"]
