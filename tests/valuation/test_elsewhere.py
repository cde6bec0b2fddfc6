"""Sales elsewhere: they help where own sales are few, do no harm, and leave no trace where there are none."""

import json
from dataclasses import replace
from datetime import date
from functools import cache
from typing import Any

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose, assert_array_equal
from scipy.stats import binom

from valuation import (
    BadInput,
    BadOption,
    Elsewhere,
    PriceModel,
    backtest,
    from_dict,
    nearest_sales,
    to_dict,
    vehicle_model,
)
from valuation.elsewhere import KIND, before, read_elsewhere
from valuation.market import Kind
from valuation.simulate_elsewhere import TwoMarkets, simulate_elsewhere
from valuation.then import as_then
from valuation.weighing import USUAL, learn_noises

END = date(2030, 6, 30)
SEEDS = (500, 501, 502)
FIRST, COUNT = SEEDS[0], 150


def model_of_vehicles() -> PriceModel:
    model = vehicle_model()
    model.folds = 8
    return model


@cache
def markets(seed: int) -> TwoMarkets:
    """Thirty own sales; 150 elsewhere at 20 % more, a third of them bids."""
    return simulate_elsewhere(30, count=COUNT, ending_on=END, bias_percent=20, bid_share=1 / 3, seed=seed)


@cache
def fitted(seed: int) -> PriceModel:
    drawn = markets(seed)
    return model_of_vehicles().fit(drawn.inputs, drawn.price, elsewhere=drawn.elsewhere)


@cache
def alone(seed: int) -> PriceModel:
    return model_of_vehicles().fit(markets(seed).inputs, markets(seed).price)


def kinds(model: PriceModel) -> dict[str, Kind]:
    assert model.elsewhere_ is not None
    return {kind.name: kind for kind in model.elsewhere_.kinds}


def error(model: PriceModel, *, seed: int) -> float:
    drawn = markets(seed)
    return float(np.median(np.abs(model.predict(drawn.later) / drawn.later_price - 1)))


def test_thirty_own_sales_are_told_better_with_biased_ones_elsewhere() -> None:
    apart = [error(fitted(seed), seed=seed) - error(alone(seed), seed=seed) for seed in SEEDS]
    assert np.mean(apart) < -0.05


def test_later_own_sales_fall_inside_as_stated() -> None:
    """Twice the binomial spread: sales of one history hang together."""
    inside = np.concatenate([_inside(fitted(seed), drawn=markets(seed)) for seed in SEEDS])
    spread = binom(len(inside), 0.8).std() / len(inside)
    assert len(inside) >= 100
    assert abs(inside.mean() - 0.8) < 1.96 * 2 * spread


def _inside(model: PriceModel, *, drawn: TwoMarkets) -> np.ndarray:
    band = model.band(drawn.later)
    told = band["low"].notna().to_numpy()
    inside: np.ndarray = ((band["low"] <= drawn.later_price) & (drawn.later_price <= band["high"])).to_numpy()[told]
    return inside


@pytest.mark.parametrize("seed", SEEDS)
def test_offset_of_twenty_percent_is_found_within_its_range(seed: int) -> None:
    sold = kinds(fitted(seed))["sold"]
    assert abs(sold.offset - np.log(1.2)) < 2.5 * sold.sd
    assert sold.sd < 0.12


def test_bids_stand_below_sales_by_what_they_fall_short() -> None:
    """An exponential of mean 0.15, by `simulate_elsewhere`; its median is 0.10."""
    short = np.mean([kinds(fitted(seed))["sold"].offset - kinds(fitted(seed))["bid"].offset for seed in SEEDS])
    assert 0.08 < short < 0.22


def test_noisier_sales_count_for_less() -> None:
    square, kind = np.repeat([0.017, 0.04, 0.25], 150), np.repeat([-1, 0, 1], 150)
    noise, ratios = learn_noises(square, doubt=np.zeros(450), noise=0.1, tail=np.inf, kind=kind, count=3)
    assert_allclose(noise, 0.017, rtol=1e-3)
    assert_allclose(ratios, [0.04 / 0.017, 0.25 / 0.017, USUAL], rtol=0.03)  # the prior pulls a little


def test_quieter_sales_never_count_for_more_than_own_ones() -> None:
    square, kind = np.repeat([0.04, 0.01], 100), np.repeat([-1, 0], 100)
    assert_allclose(
        learn_noises(square, doubt=np.zeros(200), noise=0.04, tail=7.0, kind=kind, count=1)[1], 1, rtol=1e-3
    )


def test_prices_without_meaning_are_left_out_and_that_is_said() -> None:
    drawn = markets(FIRST)
    dealt = replace(drawn.elsewhere, price=np.random.default_rng(0).permutation(drawn.elsewhere.price))
    model = model_of_vehicles().fit(drawn.inputs, drawn.price, elsewhere=dealt)
    assert model.elsewhere_ is not None
    assert (model.elsewhere_.used, model.elsewhere_.count, model.elsewhere_.gain < 0.2) == (False, COUNT, True)
    assert "the 150 sales elsewhere do not clearly help to tell the prices of the lot's own: left out" in model.notes_
    pd.testing.assert_frame_equal(model.band(drawn.later), alone(FIRST).band(drawn.later), check_exact=True)


def test_none_elsewhere_gives_the_same_to_the_last_digit() -> None:
    drawn = markets(FIRST)
    empty = model_of_vehicles().fit(drawn.inputs, drawn.price, elsewhere=drawn.elsewhere.take([]))
    assert to_dict(empty) == to_dict(alone(FIRST))


def test_order_of_rows_changes_nothing() -> None:
    frame, price, there = lately(40)
    dear = np.where(frame["make"] == "Tarn", 1.5, 1.0) * np.random.default_rng(3).lognormal(0, 0.1, size=40)
    model, own, back = PriceModel(nested=("make",)), np.arange(0, 40, 3), np.arange(40)[::-1]
    noisy = replace(there, price=there.price * dear)
    first = to_dict(model.fit(frame.iloc[own], (price * dear)[own], elsewhere=noisy))
    own = own[::-1]
    assert to_dict(model.fit(frame.iloc[own], (price * dear)[own], elsewhere=noisy.take(back))) == first
    assert first["fitted"]["elsewhere_"]["used"]


def test_fit_goes_through_json_and_knows_what_it_learned() -> None:
    back = from_dict(json.loads(json.dumps(to_dict(fitted(FIRST)), allow_nan=False)))
    later = markets(FIRST).later
    for ask in ("band", "parts", "evidence"):
        pd.testing.assert_frame_equal(getattr(back, ask)(later), getattr(fitted(FIRST), ask)(later), check_exact=True)
    assert back.elsewhere_ == fitted(FIRST).elsewhere_


def test_own_vehicle_has_no_part_of_elsewhere_and_counts_both() -> None:
    later = markets(FIRST).later
    assert "elsewhere" not in fitted(FIRST).parts(later).columns
    told = fitted(FIRST).evidence(later)
    assert (told["sales_used"] == 30).all()
    assert (told["sales_elsewhere"] == COUNT).all()
    assert told["elsewhere_of_make"].max() > told["sales_of_make"].max()


def test_better_never_lowers_a_band_with_sales_elsewhere() -> None:
    later = markets(FIRST).later.head(8)
    bands = [
        fitted(FIRST).band(later.assign(condition_low=points, condition_high=points)).to_numpy()
        for points in (20.0, 50.0, 80.0, 100.0)
    ]  # fmt: skip
    assert (np.diff(np.stack(bands), axis=0)[:, ~np.isnan(bands[0]).any(axis=1)] >= 0).all()


def test_make_sold_elsewhere_alone_has_a_band_and_one_sold_nowhere_does_not() -> None:
    drawn = simulate_elsewhere(45, count=80, ending_on=END, seed=7)
    makes = ["Merrow", "Tarn", "Halvard", "Ostrey", "Brackett", "Quillon"]
    here = drawn.inputs["make"].isin(makes).to_numpy()
    there = np.flatnonzero((drawn.elsewhere.frame["make"] != "Ivershaw").to_numpy())
    model = model_of_vehicles().fit(
        drawn.inputs[here], drawn.price[here], elsewhere=drawn.elsewhere.take(there)
    )  # fmt: skip
    asked = drawn.inputs.head(2).assign(make=["Vesper & Dane", "Ivershaw"], model=["Nocturne", "Apogee"])
    found = model.evidence(asked)
    assert found["enough"].tolist() == [True, False]
    assert model.band(asked)["low"].notna().tolist() == [True, False]
    assert "too few to tell how far" in found["reason"].iloc[1]


def test_a_grid_holds_sales_elsewhere_with_a_line_for_where() -> None:
    drawn = markets(FIRST)
    there = replace(drawn.elsewhere, frame=drawn.elsewhere.frame.set_axis([f"there {n}" for n in range(COUNT)]))
    subject = drawn.later.head(3).set_axis(["a", "b", "c"])
    grid = nearest_sales(fitted(FIRST), subject, sales=drawn.inputs, price=drawn.price, elsewhere=there, count=8)
    other = grid.sales["sale"].map(lambda label: isinstance(label, str))
    assert 0 < other.sum() < len(other)
    assert (grid.adjustments.loc[~other.to_numpy(), "elsewhere"] == 0).all()
    sold = grid.sales["sale"].isin([f"there {n}" for n in np.flatnonzero(drawn.elsewhere.kind == "sold")]).to_numpy()
    assert (grid.adjustments.loc[sold, "elsewhere"] < 0).all()  # they were sold for more there
    assert_allclose(grid.sales["sale_price"] + grid.adjustments.sum(axis=1), grid.sales["adjusted_price"])


def test_grid_of_a_model_without_them_and_shared_labels_are_refused() -> None:
    drawn = markets(FIRST)
    asked: dict[str, Any] = {"sales": drawn.inputs, "price": drawn.price, "elsewhere": drawn.elsewhere}
    with pytest.raises(BadOption, match="learned from sales elsewhere"):
        nearest_sales(alone(FIRST), drawn.later.head(1), **asked)
    with pytest.raises(BadInput, match="must not have the label of a sale here, got 0"):
        nearest_sales(fitted(FIRST), drawn.later.head(1), **asked)


def test_a_sale_without_kind_is_refused_by_its_row() -> None:
    drawn = markets(FIRST).elsewhere.take([0, 1])
    with pytest.raises(BadInput, match="kind must be a word for every sale elsewhere, got none in row 1"):
        read_elsewhere(replace(drawn, kind=["sold", " "]), roles=fitted(FIRST).design_.roles)
    with pytest.raises(BadInput, match=r"source must have the shape \(2,\)"):
        read_elsewhere(replace(drawn, source=["x"]), roles=fitted(FIRST).design_.roles)


def test_kind_never_seen_is_in_doubt() -> None:
    known = markets(FIRST).elsewhere.take([0])
    strange = read_elsewhere(replace(known, kind=["swapped"]), roles=fitted(FIRST).design_.roles)[0]
    usual = read_elsewhere(known, roles=fitted(FIRST).design_.roles)[0]
    weights, variances = fitted(FIRST).additive_.weights, fitted(FIRST).additive_.strengths.blocks
    doubt = [fitted(FIRST).design_.expand(t).doubt(weights, variances=variances)[0] for t in (strange, usual)]
    assert str(strange.words[KIND][0]) == "swapped"
    assert doubt[0] > doubt[1]


def lately(count: int) -> tuple[pd.DataFrame, np.ndarray, Elsewhere]:
    """A few cheap sales of one make by month, and as many elsewhere, by month too."""
    days = pd.date_range("2024-01-15", periods=count, freq="MS")
    frame = pd.DataFrame({"make": ["Tarn", "Merrow"] * (count // 2), "ended_on": days})
    price = np.array([10_000.0 + 50 * (n % 7) for n in range(count)])
    return frame, price, Elsewhere(frame, price * 1.1, ["sold"] * count, [""] * count)


def test_no_sale_elsewhere_of_later_days_is_used_ahead_of_time() -> None:
    frame, price, there = lately(30)
    model = PriceModel(nested=("make",))
    wild = replace(there, price=np.where(np.arange(30) >= 24, 9e6, there.price))
    options: dict[str, Any] = {"date": "ended_on", "start": 24, "step": 6}
    first, second = (backtest(model, frame, price, elsewhere=one, **options).frame for one in (there, wild))
    pd.testing.assert_frame_equal(first, second, check_exact=True)
    asked: dict[str, Any] = {"on": frame["ended_on"].iloc[22:24], "sales": frame, "price": price, "refits": 1}
    told = [as_then(model, frame.iloc[22:24], elsewhere=one, **asked) for one in (there, wild, None)]
    pd.testing.assert_frame_equal(told[0], told[1], check_exact=True)
    assert (told[0]["median"] != told[2]["median"]).all()


def test_a_sale_elsewhere_without_a_date_counts_as_later() -> None:
    _, _, there = lately(4)
    undated = replace(there, frame=there.frame.assign(ended_on=pd.Series([pd.NaT, "2024-01-02", pd.NaT, "2024-09-01"])))
    found = before(undated, date="ended_on", day=19_800.0)
    assert found is not None
    assert found.frame["ended_on"].tolist() == ["2024-01-02"]


def test_simulated_bias_changes_prices_alone() -> None:
    plain = simulate_elsewhere(30, count=COUNT, ending_on=END, bid_share=1 / 3, seed=SEEDS[0])
    pd.testing.assert_frame_equal(plain.elsewhere.frame, markets(FIRST).elsewhere.frame)
    assert_array_equal(plain.price, markets(FIRST).price)
    assert_allclose(np.median(markets(FIRST).elsewhere.price / plain.elsewhere.price), 1.2, rtol=0.01)
    with pytest.raises(BadOption, match="bid_share from 0 to 1"):
        simulate_elsewhere(5, count=5, ending_on=END, bid_share=2)
    with pytest.raises(BadOption, match="own must be at least 1"):
        simulate_elsewhere(0, count=5, ending_on=END)
