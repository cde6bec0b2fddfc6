"""The grid: which sales are nearest, and that every line adds up to the cent."""

from decimal import Decimal
from functools import cache
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from tests.valuation.histories import Lot, drawn_lot
from valuation import BadInput, BadOption, NotFitted, PriceModel, comparables, design, vehicle_model
from valuation.comparables import adjust, nearest_sales, net_and_gross, part_names, weighted_median

by_examples = settings(max_examples=100, deadline=None, database=None, derandomize=True)


@cache
def straight() -> tuple[PriceModel, pd.DataFrame, Any]:
    """Least squares on one make and miles: log price = base + make - miles / 100,000 exactly."""
    rng = np.random.default_rng(4)
    frame = pd.DataFrame({"make": ["Merrow", "Tarn"] * 20, "miles": rng.uniform(0, 100_000, size=40)})
    price = 20_000 * np.exp(np.where(frame["make"] == "Tarn", 0.25, 0.0) - frame["miles"] / 1e5)
    price = np.round(price * np.exp(rng.normal(0, 0.05, size=40)), 2)
    model = PriceModel(nested=("make",), smooth=("miles",), date=None, shrinkage="none", noise="normal")
    return model.fit(frame, price), frame, price.to_numpy()


def cents(value: float) -> Decimal:
    return Decimal(f"{value:.2f}")


def test_grid_of_a_published_kind_by_hand() -> None:
    """Sold 42,000: market +3 % = 1,260, condition -1,500, originality +2,400, mileage -300 make 43,860."""
    lines = np.array([[1260.0, -1500.0, 2400.0, -300.0]])
    net, gross = net_and_gross(lines, sold=np.array([42_000.0]))
    assert 42_000 + lines.sum() == 43_860
    assert (round(float(net[0]), 2), round(float(gross[0]), 2)) == (4.43, 13.00)


def test_adjustments_of_a_worked_price() -> None:
    """By hand with L = (P - P0) / ln(P / P0): 20,000 and effects 0.20, 0.10, -0.05 make 25,680.51."""
    lines = adjust(np.array([[0.20, 0.10, -0.05]]), sold=np.array([2e6]))
    assert lines.tolist() == [[454_441.0, 227_220.0, -113_610.0]]
    assert 2_000_000 + lines.sum() == 2_568_051


def test_no_difference_is_no_adjustment() -> None:
    assert adjust(np.zeros((2, 3)), sold=np.array([5.0, 1e9])).tolist() == [[0.0] * 3] * 2


@by_examples
@given(arrays(float, (3, 6), elements=st.floats(-2, 2)), st.integers(1, 10**10))
def test_adjustments_are_whole_and_add_up(effects: np.ndarray, sold: int) -> None:
    lines = adjust(effects, sold=np.full(3, float(sold)))
    target = sold * np.exp(effects.sum(axis=1))
    assert np.array_equal(lines, np.floor(lines))
    assert (np.abs(sold + lines.sum(axis=1) - target) <= 0.5 + 1e-12 * target).all()


@by_examples
@given(st.floats(-2, 2), st.floats(0, 2), st.integers(100, 10**8))
def test_a_greater_effect_is_never_a_smaller_adjustment(effect: float, more: float, sold: int) -> None:
    lines = adjust(np.array([[effect], [effect + more]]), sold=np.full(2, float(sold)))
    assert lines[1, 0] >= lines[0, 0]


def test_sale_price_and_adjustments_are_the_adjusted_price_to_the_cent(fitted: PriceModel, lot: Lot) -> None:
    grid = nearest_sales(fitted, lot.inputs, sales=lot.inputs, price=lot.price)
    assert len(grid.sales) == 6 * len(lot.inputs)
    for (_, sale), (_, lines) in zip(grid.sales.iterrows(), grid.adjustments.iterrows(), strict=True):
        assert cents(sale["sale_price"]) + sum(map(cents, lines)) == cents(sale["adjusted_price"])


def test_net_and_gross_are_those_of_the_lines(fitted: PriceModel, lot: Lot) -> None:
    grid = nearest_sales(fitted, lot.inputs.head(20), sales=lot.inputs, price=lot.price)
    share = grid.adjustments.div(grid.sales["sale_price"], axis=0)
    np.testing.assert_allclose(grid.sales["net"], 100 * share.sum(axis=1), atol=1e-9)
    np.testing.assert_allclose(grid.sales["gross"], 100 * share.abs().sum(axis=1), atol=1e-9)


def test_each_line_by_hand_from_the_slopes() -> None:
    """adjusted = sale price × exp(slope × difference), the make's line by difference of two predictions."""
    model, frame, price = straight()
    subject = pd.DataFrame({"make": ["Tarn"], "miles": [50_000.0]}, index=["ours"])
    grid = nearest_sales(model, subject, sales=frame, price=price, count=40)
    slope = model.slopes()["miles"]
    pair = model.predict(pd.DataFrame({"make": ["Tarn", "Merrow"], "miles": [50_000.0] * 2}))
    for (_, line), (_, lines) in zip(grid.sales.iterrows(), grid.adjustments.iterrows(), strict=True):
        sale = frame.loc[line["sale"]]
        miles = slope * (50_000 - sale["miles"])
        make = 0.0 if sale["make"] == "Tarn" else float(np.log(pair[0] / pair[1]))
        whole = line["sale_price"] * np.expm1(miles + make)
        unit = whole / (miles + make)
        assert lines["miles"] == pytest.approx(miles * unit, abs=0.03)
        assert lines["make"] == pytest.approx(make * unit, abs=0.03)


def test_a_better_sale_is_adjusted_down() -> None:
    model, frame, price = straight()
    subject = pd.DataFrame({"make": ["Merrow"], "miles": [50_000.0]}, index=["ours"])
    grid = nearest_sales(model, subject, sales=frame, price=price, count=40)
    fewer = frame.loc[grid.sales["sale"], "miles"].to_numpy() < 50_000
    dearer = frame.loc[grid.sales["sale"], "make"].to_numpy() == "Tarn"
    assert np.array_equal(grid.adjustments["miles"].to_numpy() < 0, fewer)
    assert np.array_equal(grid.adjustments["make"].to_numpy() < 0, dearer)


def test_the_adjusted_price_moves_with_the_likely_price(fitted: PriceModel, lot: Lot) -> None:
    """adjusted / sale price = likely price of the subject / likely price of the sale, also where inputs are missing."""
    grid = nearest_sales(fitted, lot.inputs.head(30), sales=lot.inputs, price=lot.price)
    likely = pd.Series(fitted.predict(lot.inputs))
    subject = grid.sales.index.get_level_values("subject")
    ratio = likely[subject].to_numpy() / likely[grid.sales["sale"]].to_numpy()
    np.testing.assert_allclose(grid.sales["adjusted_price"] / grid.sales["sale_price"], ratio, rtol=1e-5)


def test_lines_are_named_by_the_inputs_of_the_model(fitted: PriceModel, lot: Lot) -> None:
    grid = nearest_sales(fitted, lot.inputs.head(1), sales=lot.inputs, price=lot.price)
    parts = fitted.parts(lot.inputs.head(1)).columns
    assert list(grid.adjustments.columns) == list(part_names(fitted)) == list(parts[1:])


def test_one_category_alone_is_like_or_not_like() -> None:
    rng = np.random.default_rng(1)
    frame = pd.DataFrame({"make": ["Merrow", "Tarn", "Quillon"] * 8})
    model = PriceModel(nested=("make",), date=None).fit(frame, np.exp(10 + rng.normal(0, 0.2, size=24)))
    grid = nearest_sales(
        model, pd.DataFrame({"make": ["Tarn"]}, index=["ours"]), sales=frame, price=[9e3] * 24, count=9
    )
    assert grid.sales["likeness"].tolist() == [1.0] * 8 + [0.0]
    assert set(frame.loc[grid.sales["sale"].head(8), "make"]) == {"Tarn"}


def test_likeness_by_hand() -> None:
    """Two makes and a line: K is the sum of s² x z over the columns, the correlation K / sqrt(K K)."""
    rng = np.random.default_rng(1)
    frame = pd.DataFrame({"make": ["Merrow", "Tarn"] * 20, "year": [1960.0, 1970.0] * 10 + [1970.0, 1960.0] * 10})
    price = np.exp(10 + 0.02 * (frame["year"] - 1965) + rng.normal(0, 0.2, size=40))
    model = PriceModel(nested=("make",), smooth=("year",), date=None).fit(frame, price)
    strengths = {
        (b.kind, b.name): s for b, s in zip(model.design_.blocks, model.additive_.strengths.blocks, strict=True)
    }
    make, line = strengths[("level", "make")], strengths[("smooth-line", "year")]  # the year is 1 or -1 in sds
    subject = pd.DataFrame({"make": ["Tarn"], "year": [1970.0]}, index=["ours"])
    grid = nearest_sales(model, subject, sales=frame, price=price, count=40).sales.reset_index(drop=True)
    facts = frame.loc[grid["sale"]].reset_index(drop=True)
    together = model.design_.together
    assert together is not None
    rows, own = (model.design_.expand(model._read(part)).matrix[:, together.columns] for part in (facts, subject))
    joint = strengths[("together", "together")]
    alike = (facts["make"] == "Tarn") * make + np.where(facts["year"] == 1970, line, -line) + joint * (rows @ own[0])
    size = make + line + joint * (rows**2).sum(axis=1)
    by_hand = alike / np.sqrt(size * (make + line + joint * (own[0] @ own[0])))
    np.testing.assert_allclose(grid["likeness"], by_hand, atol=2e-9)


def test_likeness_falls_with_rank_and_stays_a_correlation(fitted: PriceModel, lot: Lot) -> None:
    grid = nearest_sales(fitted, lot.inputs.head(30), sales=lot.inputs, price=lot.price, count=200)
    assert grid.sales["likeness"].between(-1, 1).all()
    for _, group in grid.sales.groupby(level="subject"):
        assert (group["likeness"].diff().dropna() <= 0).all()
        assert list(group.index.get_level_values("rank")) == list(range(1, len(group) + 1))


def test_what_is_not_known_of_a_sale_makes_it_less_like(fitted: PriceModel, lot: Lot, vehicle: pd.DataFrame) -> None:
    twins = pd.concat([vehicle, vehicle.assign(mileage=None), vehicle.assign(body=None)]).set_axis(["a", "b", "c"])
    grid = nearest_sales(fitted, vehicle, sales=twins, price=[9000.0] * 3).sales
    assert grid["sale"].iloc[0] == "a"
    assert grid["likeness"].iloc[0] == 1.0
    assert (grid["likeness"].iloc[1:] < 1.0).all()


def test_the_nearest_sold_for_more_like_the_subject_than_others() -> None:
    """Sales held out: the price of the nearest lies nearer to the price paid than that of any sale does."""
    lot = drawn_lot(300, seed=11, wrong_share=0.0)
    model = vehicle_model().fit(lot.inputs.head(220), lot.price[:220])
    grid = nearest_sales(model, lot.inputs.tail(80), sales=lot.inputs.head(220), price=lot.price[:220])
    paid = pd.Series(lot.price)[grid.sales.index.get_level_values("subject")].to_numpy()
    raw, adjusted = (np.abs(np.log(grid.sales[name] / paid)).mean() for name in ("sale_price", "adjusted_price"))
    anyone = np.abs(np.log(lot.price[:220][:, None] / lot.price[220:])).mean()
    assert adjusted < raw < 0.75 * anyone


def test_the_subject_itself_is_left_out_and_its_twin_is_not(fitted: PriceModel, lot: Lot) -> None:
    twin = lot.inputs.iloc[[5]].set_axis([999])
    sales = pd.concat([lot.inputs, twin])
    price = np.append(lot.price, 12_345.0)
    grid = nearest_sales(fitted, lot.inputs.iloc[[5]], sales=sales, price=price)
    assert 5 not in grid.sales["sale"].tolist()
    assert grid.sales["sale"].iloc[0] == 999
    assert (grid.adjustments.iloc[0] == 0).all()


def test_a_label_that_happens_to_agree_leaves_no_sale_out(fitted: PriceModel, lot: Lot) -> None:
    subject = lot.inputs.iloc[[5]].set_axis([7])  # the label of another sale
    grid = nearest_sales(fitted, subject, sales=lot.inputs, price=lot.price, count=200)
    assert {5, 7} <= set(grid.sales["sale"])


def test_order_of_sales_and_of_subjects_changes_nothing(fitted: PriceModel, lot: Lot) -> None:
    rng = np.random.default_rng(0)
    sales, subjects = rng.permutation(len(lot.price)), rng.permutation(20)
    frame = lot.inputs.head(20)
    usual = nearest_sales(fitted, frame, sales=lot.inputs, price=lot.price)
    other = nearest_sales(fitted, frame.iloc[subjects], sales=lot.inputs.iloc[sales], price=lot.price[sales])
    for name in ("sales", "adjustments"):
        there = getattr(other, name).sort_index()
        pd.testing.assert_frame_equal(there, getattr(usual, name), check_exact=True)
    pd.testing.assert_frame_equal(other.reconciled.sort_index(), usual.reconciled, check_exact=True)


def test_equally_like_sales_come_in_order_of_content() -> None:
    model, frame, _ = straight()
    subject = frame.head(1).set_axis(["ours"])
    alike = pd.concat([frame.head(1)] * 9, ignore_index=True)
    price = np.array([3.0, 1.0, 9.0, 2.0, 8.0, 4.0, 7.0, 5.0, 6.0]) * 1000
    one = nearest_sales(model, subject, sales=alike, price=price, count=4).sales
    two = nearest_sales(model, subject, sales=alike[::-1], price=price[::-1], count=4).sales
    assert one["sale_price"].tolist() == [1000.0, 2000.0, 3000.0, 4000.0]
    pd.testing.assert_frame_equal(one, two)


def test_sales_in_pieces_are_found_as_at_once(fitted: PriceModel, lot: Lot, monkeypatch: pytest.MonkeyPatch) -> None:
    whole = nearest_sales(fitted, lot.inputs.head(30), sales=lot.inputs, price=lot.price)
    monkeypatch.setattr(design, "CHUNK", 7)
    monkeypatch.setattr(comparables, "SUBJECTS", 4)
    pieces = nearest_sales(fitted, lot.inputs.head(30), sales=lot.inputs, price=lot.price)
    pd.testing.assert_frame_equal(whole.sales, pieces.sales)
    pd.testing.assert_frame_equal(whole.adjustments, pieces.adjustments)


def test_price_unit_scales_the_grid() -> None:
    lot = drawn_lot(40, seed=2)
    grids = []
    for decimals, scale in ((4, 1.0), (2, 100.0)):
        model = vehicle_model().set_params(decimals=decimals).fit(lot.inputs, lot.price * scale)
        grids.append(nearest_sales(model, lot.inputs.head(5), sales=lot.inputs, price=lot.price * scale))
    one, other = grids
    assert one.sales["sale"].tolist() == other.sales["sale"].tolist()
    np.testing.assert_allclose(other.adjustments, one.adjustments * 100, rtol=1e-4, atol=0.05)
    np.testing.assert_allclose(other.sales["adjusted_price"], one.sales["adjusted_price"] * 100, rtol=1e-5)


def test_reconciled_of_equal_effects_is_the_median_of_what_was_paid() -> None:
    model, frame, _ = straight()
    alike = pd.concat([frame.head(1)] * 4, ignore_index=True)
    grid = nearest_sales(model, frame.head(1).set_axis(["ours"]), sales=alike, price=[9e3, 8e3, 8.5e3, 2e4])
    row = grid.reconciled.loc["ours"]
    assert row["reconciled"] == np.median([9e3, 8e3, 8.5e3, 2e4])
    assert row["sales_found"] == 4
    assert row["likely"] == model.predict(frame.head(1))[0]
    assert row["apart"] == pytest.approx(100 * (row["reconciled"] / row["likely"] - 1))


def test_one_price_typed_wrongly_moves_the_reconciled_figure_little(fitted: PriceModel, lot: Lot) -> None:
    subject = lot.inputs.head(1)
    usual = nearest_sales(fitted, subject, sales=lot.inputs, price=lot.price)
    typed = pd.Series(lot.price)
    typed[usual.sales["sale"].iloc[2]] *= 10
    bent = nearest_sales(fitted, subject, sales=lot.inputs, price=typed)
    prices = np.sort(usual.sales["adjusted_price"])
    assert bent.reconciled["reconciled"].iloc[0] <= prices[-1]


@by_examples
@given(st.lists(st.tuples(st.integers(0, 50), st.integers(-1, 5)), min_size=1, max_size=9), st.randoms())
def test_weighted_median_has_half_the_weight_on_each_side(pairs: list[tuple[int, int]], shuffler: Any) -> None:
    values, weights = (np.array(column, dtype=float) for column in zip(*pairs, strict=True))
    middle = weighted_median(values, weights=weights)
    kept = np.maximum(weights, 0) if (weights > 0).any() else np.ones(len(pairs))
    assert kept[values < middle].sum() <= kept.sum() / 2
    assert kept[values > middle].sum() <= kept.sum() / 2
    shuffler.shuffle(pairs)
    again, other = (np.array(column, dtype=float) for column in zip(*pairs, strict=True))
    assert weighted_median(again, weights=other) == middle


@by_examples
@given(arrays(float, st.integers(1, 9), elements=st.integers(-100, 100).map(float)))
def test_weighted_median_of_equal_weights_is_the_median(values: np.ndarray) -> None:
    assert weighted_median(values, weights=np.full(len(values), 0.1)) == np.median(values)


def test_fewer_sales_than_asked_for_all_come(fitted: PriceModel, lot: Lot) -> None:
    grid = nearest_sales(fitted, lot.inputs.tail(2), sales=lot.inputs.head(3), price=lot.price[:3], count=6)
    assert grid.reconciled["sales_found"].tolist() == [3, 3]
    assert sorted(grid.sales["sale"]) == [0, 0, 1, 1, 2, 2]


def test_no_sales_and_no_subjects_are_empty_grids(fitted: PriceModel, lot: Lot) -> None:
    none = nearest_sales(fitted, lot.inputs.head(2), sales=lot.inputs.head(0), price=[])
    assert (len(none.sales), len(none.adjustments)) == (0, 0)
    assert none.reconciled["reconciled"].isna().all()
    assert none.reconciled["sales_found"].tolist() == [0, 0]
    nobody = nearest_sales(fitted, lot.inputs.head(0), sales=lot.inputs, price=lot.price)
    assert (len(nobody.sales), len(nobody.reconciled)) == (0, 0)


def test_a_model_without_inputs_finds_sales_and_adjusts_nothing() -> None:
    model = PriceModel(nested=(), date=None).fit(pd.DataFrame(index=range(12)), np.linspace(8e3, 9e3, 12))
    grid = nearest_sales(model, pd.DataFrame(index=["ours"]), sales=pd.DataFrame(index=range(2)), price=[8e3, 9e3])
    assert grid.sales["likeness"].tolist() == [0.0, 0.0]
    assert grid.sales["adjusted_price"].tolist() == [8e3, 9e3]
    assert grid.reconciled["reconciled"].tolist() == [8500.0]


def test_labels_of_several_levels_are_kept(fitted: PriceModel, lot: Lot) -> None:
    named = lot.inputs.head(12).set_axis(pd.MultiIndex.from_product([["a", "b", "c"], range(4)]))
    grid = nearest_sales(fitted, named.head(1), sales=named, price=lot.price[:12], count=2)
    assert list(grid.sales.index) == [(("a", 0), 1), (("a", 0), 2)]
    assert ("a", 0) not in grid.sales["sale"].tolist()
    assert set(grid.sales["sale"]) <= set(named.index)


def test_frames_and_prices_stay_as_they_were(fitted: PriceModel, lot: Lot) -> None:
    frame, price = lot.inputs.copy(), lot.price.copy()
    nearest_sales(fitted, frame.head(3), sales=frame, price=price)
    pd.testing.assert_frame_equal(frame, lot.inputs)
    assert np.array_equal(price, lot.price)


def test_an_unfitted_model_is_refused(lot: Lot) -> None:
    with pytest.raises(NotFitted, match="must be fitted first"):
        nearest_sales(vehicle_model(), lot.inputs, sales=lot.inputs, price=lot.price)


@pytest.mark.parametrize("count", [0, -1, 2.5, True, "6"])
def test_a_wrong_count_is_refused(fitted: PriceModel, lot: Lot, count: Any) -> None:
    with pytest.raises(BadOption, match="count must be a whole number of at least 1, got"):
        nearest_sales(fitted, lot.inputs.head(1), sales=lot.inputs, price=lot.price, count=count)


@pytest.mark.parametrize(
    ("price", "text"),
    [
        ([1.0], r"price must have the shape \(2,\), got \(1,\)"),
        ([1.0, -1.0], "price must be positive and finite, got -1.0"),
        ([1.0, 0.004], "price must be at least one minor unit, got 0.004"),
    ],
)
def test_a_wrong_price_is_refused(fitted: PriceModel, lot: Lot, price: list[float], text: str) -> None:
    with pytest.raises(BadInput, match=text):
        nearest_sales(fitted, lot.inputs.head(1), sales=lot.inputs.head(2), price=price)


def test_a_column_missing_from_the_sales_is_named(fitted: PriceModel, lot: Lot) -> None:
    with pytest.raises(BadInput, match="must have the column 'mileage'"):
        nearest_sales(fitted, lot.inputs.head(1), sales=lot.inputs.drop(columns="mileage"), price=lot.price)
