"""What each doubt costs: never less than nothing, and what the band itself says where it can be asked."""

from functools import cache
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from tests.valuation.histories import Lot, drawn_lot
from valuation import BadInput, NotFitted, PriceModel, vehicle_model
from valuation.comparables import part_names
from valuation.open_questions import band_widths

INTERVALS = ("condition", "originality")
BUILDS = ("survivor", "restored", "replica")  # not modified: there originality may work either way
MISSING = ("mileage", "year", "mods_engine", "body", "transmission", "channel", "model", "make", "ended_on")
by_examples = settings(max_examples=60, deadline=None, database=None, derandomize=True)
points = st.floats(0, 100, allow_nan=False)


@cache
def usual() -> PriceModel:
    lot = drawn_lot(120, seed=3)
    return vehicle_model().fit(lot.inputs, lot.price)


@cache
def known() -> pd.DataFrame:
    """Vehicles of which everything is known: what the book lacks is filled in with what is usual."""
    inputs = drawn_lot(120, seed=3).inputs
    filled = inputs.fillna(inputs.mode().iloc[0])
    return filled[filled["build_class"].isin(BUILDS)].head(5).reset_index(drop=True)


def one(row: int = 0, **changes: Any) -> pd.DataFrame:
    return known().iloc[[row]].assign(**changes)


def inputs_of(widths: pd.DataFrame) -> pd.DataFrame:
    return widths.drop(columns=["width", "least_width"])


def width(frame: pd.DataFrame) -> float:
    band = usual().band(frame)
    return float((band["high"] - band["low"]).iloc[0])


def test_width_is_that_of_the_band_to_the_cent(lot: Lot, fitted: PriceModel) -> None:
    open_ = lot.inputs.assign(condition_low=lot.inputs["condition_low"] / 2)
    band = fitted.band(open_)
    assert_allclose(band_widths(fitted, open_)["width"], band["high"] - band["low"], rtol=0, atol=1e-6)


def test_where_all_is_known_no_input_is_asked_for() -> None:
    widths = band_widths(usual(), known())
    assert len(widths) == 5
    assert inputs_of(widths).isna().all(axis=None)
    assert (widths["least_width"] == widths["width"]).all()


def test_columns_are_the_inputs_of_the_model(lot: Lot, fitted: PriceModel) -> None:
    widths = band_widths(fitted, lot.inputs.head(3).set_axis(["a", "b", "c"]))
    assert list(widths.columns) == ["width", "least_width", *part_names(fitted)]
    assert list(widths.index) == ["a", "b", "c"]


@pytest.mark.parametrize("name", INTERVALS)
def test_an_interval_costs_what_the_band_loses_when_it_is_shut(name: str) -> None:
    both = {"condition_low": 30.0, "condition_high": 90.0, "originality_low": 40.0, "originality_high": 70.0}
    shut = {f"{name}_{end}": (both[f"{name}_low"] + both[f"{name}_high"]) / 2 for end in ("low", "high")}
    widths = band_widths(usual(), one(**both)).iloc[0]
    assert widths[name] > 0
    assert widths[name] == pytest.approx(width(one(**both)) - width(one(**{**both, **shut})), abs=0.001)


def test_with_all_intervals_shut_the_width_is_the_least() -> None:
    open_ = one(condition_low=30.0, condition_high=90.0, originality_low=40.0, originality_high=70.0)
    shut = one(condition_low=60.0, condition_high=60.0, originality_low=55.0, originality_high=55.0)
    assert band_widths(usual(), open_)["least_width"].iloc[0] == pytest.approx(width(shut), abs=0.001)


def test_a_category_never_seen_costs_the_variance_of_its_block() -> None:
    """By hand: width = likely (exp(above sd) - exp(-below sd)), with and without the variance of bodies."""
    frame = one(body="a body never seen")
    model = usual()
    band = model.band(frame).iloc[0]
    table = model._read(frame)
    rows = model.design_.expand(table)
    variance = float(model.additive_.variance(rows)[0])
    block = model.design_.block_of("body")
    sd, less = np.sqrt([variance, variance - model.additive_.strengths.blocks[block]])
    above, below = (abs(np.log(band[end] / band["likely"])) / sd for end in ("high", "low"))
    narrower = band["likely"] * (np.exp(above * less) - np.exp(-below * less))
    gain = band_widths(model, frame)["body"].iloc[0]
    assert gain == pytest.approx(band["high"] - band["low"] - narrower, abs=0.05)
    assert gain > 0
    assert band_widths(model, one(body=None))["body"].iloc[0] == gain


@pytest.mark.parametrize("row", range(5))
def test_a_number_found_out_narrows_the_band_about_as_told(row: int) -> None:
    """The year filled in at what it may have been: the mean width is as told within 6 %, from 10 % more before."""
    frame = one(row, year=np.nan)
    guess = usual().design_.joint.guesses(usual()._read(frame))["year"]
    band = usual().band(pd.concat([one(row, year=float(value)) for value in guess.cloud()[2:5, 0]]))
    found_out = float((band["high"] - band["low"]).mean())
    widths = band_widths(usual(), frame).iloc[0]
    assert widths["width"] > 1.1 * found_out
    assert widths["width"] - widths["year"] == pytest.approx(found_out, rel=0.06)


def test_more_doubt_about_a_grade_costs_more() -> None:
    open_ = [one(condition_low=60.0 - reach, condition_high=60.0 + reach) for reach in (0, 5, 15, 30)]
    costs = [band_widths(usual(), frame)["condition"].iloc[0] for frame in open_]
    assert np.isnan(costs[0])
    assert 0 < costs[1] < costs[2] < costs[3]


def test_an_unknown_make_costs_more_than_an_unknown_model() -> None:
    widths = band_widths(usual(), one(make="never seen")).iloc[0]
    only = band_widths(usual(), one(model="never seen")).iloc[0]
    assert widths["make"] > widths["model"] > 0
    assert only["model"] > 0
    assert np.isnan(only["make"])


@by_examples
@given(
    st.sets(st.sampled_from(MISSING)),
    st.tuples(points, points),
    st.tuples(points, points),
    st.sampled_from(BUILDS),
    st.integers(0, 4),
)
def test_no_doubt_narrows_and_all_known_is_least(
    gone: set[str], condition: tuple[float, float], originality: tuple[float, float], build: str, row: int
) -> None:
    frame = one(row, build_class=build, **dict.fromkeys(gone))
    for name, ends in zip(INTERVALS, (condition, originality), strict=True):
        frame = frame.assign(**{f"{name}_low": min(ends), f"{name}_high": max(ends)})
    widths = band_widths(usual(), frame).iloc[0]
    told = inputs_of(widths.to_frame().T).iloc[0].astype(float)
    asked = gone | {name for name, ends in zip(INTERVALS, (condition, originality), strict=True) if ends[0] != ends[1]}
    if "make" in gone:
        asked.add("model")  # a model is known by its make
    assert set(told.dropna().index) == (asked if widths["width"] == widths["width"] else set())
    assert (told.dropna() >= 0).all()
    assert (widths["least_width"] <= widths["width"] - told.dropna() + 1e-6).all()


@by_examples
@given(
    st.sampled_from(INTERVALS),
    st.tuples(points, points, points, points),
    st.tuples(points, points),
    st.integers(0, 4),
)
def test_a_narrower_interval_never_widens_the_band(
    name: str, ends: tuple[float, ...], others: tuple[float, float], row: int
) -> None:
    outer_low, low, high, outer_high = sorted(ends)
    other = INTERVALS[1 - INTERVALS.index(name)]
    middle = (low + high) / 2
    there = {f"{other}_low": min(others), f"{other}_high": max(others), name: middle}
    inside = usual().band(one(row, **there, **{f"{name}_low": low, f"{name}_high": high, other: np.mean(others)}))
    outside = {f"{name}_low": outer_low, f"{name}_high": outer_high, other: np.mean(others)}
    around = usual().band(one(row, **there, **outside))
    assert (around["low"] <= inside["low"]).all()
    assert (around["high"] >= inside["high"]).all()
    assert (around["likely"] == inside["likely"]).all()


def test_offsetting_intervals_of_a_freed_effect_never_cost_less_than_nothing() -> None:
    lot = drawn_lot(150, seed=6)
    modified = (lot.inputs["build_class"] == "modified").to_numpy()
    grade = lot.inputs["originality_low"].fillna(50).to_numpy()
    model = vehicle_model().fit(lot.inputs, lot.price * np.exp(np.where(modified, -grade / 50, 0.0)))
    ends = {"condition_low": 40.0, "condition_high": 80.0, "originality_low": 20.0, "originality_high": 60.0}
    widths = band_widths(model, lot.inputs.iloc[[3]].assign(build_class="modified", **ends)).iloc[0]
    assert (widths[list(INTERVALS)] >= 0).all()
    assert widths["least_width"] < widths["width"]


def test_without_a_band_there_are_no_widths(lot: Lot) -> None:
    thin = vehicle_model().fit(lot.inputs.head(11), lot.price[:11])
    assert band_widths(thin, lot.inputs).isna().all(axis=None)


def test_a_doubt_too_great_for_a_band_leaves_the_width_that_knowing_would_give() -> None:
    rng = np.random.default_rng(0)
    frame = pd.DataFrame({"make": ["Merrow", "Tarn"] * 15, "miles": rng.uniform(0, 9e4, size=30)})
    price = np.exp(10 - frame["miles"] / 1e5 + rng.normal(0, 0.1, size=30))
    model = PriceModel(nested=("make",), smooth=("miles",), date=None).fit(frame, price)
    subject = pd.DataFrame({"make": [None], "miles": [4e4]})
    widths = band_widths(model, subject).iloc[0]
    assert np.isnan(widths["width"])
    assert np.isnan(widths["make"])
    assert widths["least_width"] > 0


def test_a_row_alone_is_told_as_among_others(lot: Lot, fitted: PriceModel) -> None:
    whole = band_widths(fitted, lot.inputs)
    alone = pd.concat([band_widths(fitted, lot.inputs.iloc[[row]]) for row in range(0, 120, 17)])
    pd.testing.assert_frame_equal(whole.loc[alone.index], alone, check_exact=True)


def test_price_unit_scales_the_widths() -> None:
    lot = drawn_lot(40, seed=2)
    dollars, cents = (
        band_widths(vehicle_model().set_params(decimals=d).fit(lot.inputs, lot.price * scale), lot.inputs)
        for d, scale in ((4, 1.0), (2, 100.0))
    )
    assert_allclose(cents, dollars * 100, rtol=1e-4, atol=0.05)


def test_least_squares_have_no_band_for_a_category_never_seen() -> None:
    rng = np.random.default_rng(0)
    frame = pd.DataFrame({"make": ["Merrow", "Tarn"] * 15, "miles": rng.uniform(0, 9e4, size=30)})
    price = np.exp(10 - frame["miles"] / 1e5 + rng.normal(0, 0.1, size=30))
    model = PriceModel(nested=(), factors=("make",), smooth=("miles",), date=None, shrinkage="none").fit(frame, price)
    widths = band_widths(model, pd.DataFrame({"make": ["Tarn", "Ostrey"], "miles": [4e4, 4e4]}))
    assert widths["width"].notna().tolist() == [True, False]
    assert widths["make"].isna().all()


def test_no_vehicles_are_no_rows(fitted: PriceModel, lot: Lot) -> None:
    assert band_widths(fitted, lot.inputs.head(0)).shape == (0, 2 + len(part_names(fitted)))


def test_what_cannot_be_read_is_refused(fitted: PriceModel, lot: Lot) -> None:
    with pytest.raises(NotFitted, match="must be fitted first"):
        band_widths(vehicle_model(), lot.inputs)
    with pytest.raises(BadInput, match="must have the column 'mileage'"):
        band_widths(fitted, lot.inputs.drop(columns="mileage"))
