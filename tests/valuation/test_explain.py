"""Parts in money add up, always."""

import json
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from tests.valuation.histories import Lot
from valuation import PriceModel
from valuation.explain import largest_remainder, split


def test_split_of_a_worked_price() -> None:
    """Worked by hand with L = (P - P0) / ln(P / P0): 20,000 and effects 0.20, 0.10, -0.05 make 25,680.51."""
    parts = split(np.array([[0.20, 0.10, -0.05]]), base=np.log([2e6]), total=np.array([2568051.0]))
    assert parts.tolist() == [[2000000.0, 454441.0, 227220.0, -113610.0]]


def test_split_without_effects_is_the_base() -> None:
    assert split(np.zeros((1, 2)), base=np.log([500.0]), total=np.array([500.0])).tolist() == [[500.0, 0.0, 0.0]]


@settings(max_examples=100, deadline=None, database=None, derandomize=True)
@given(arrays(float, (3, 6), elements=st.floats(-2, 2)), st.floats(3, 16))
def test_split_adds_up(effects: np.ndarray, base: float) -> None:
    total = np.floor(np.exp(base + effects.sum(axis=1)) + 0.5)
    parts = split(effects, base=np.full(3, base), total=total)
    assert np.array_equal(parts.sum(axis=1), total)
    assert np.array_equal(parts, np.floor(parts))


@settings(max_examples=100, deadline=None, database=None, derandomize=True)
@given(arrays(float, (2, 5), elements=st.floats(-1e6, 1e6)))
def test_rounding_moves_no_part_by_one_or_more(exact: np.ndarray) -> None:
    total = np.floor(exact.sum(axis=1) + 0.5)
    scaled = exact + ((total - exact.sum(axis=1)) / 5)[:, None]
    whole = largest_remainder(scaled, total=total)
    assert np.array_equal(whole.sum(axis=1), total)
    assert (np.abs(whole - scaled) <= 1 + 1e-6).all()


def test_parts_add_up_to_likely_to_the_cent(fitted: PriceModel, lot: Lot) -> None:
    likely = fitted.predict(lot.inputs)
    for row, parts in enumerate(fitted.parts(lot.inputs).to_numpy()):
        assert sum(Decimal(f"{part:.2f}") for part in parts) == Decimal(f"{likely[row]:.2f}")


def test_parts_are_named_by_input_with_the_typical_sale_first(fitted: PriceModel, lot: Lot) -> None:
    names = list(fitted.parts(lot.inputs).columns)
    assert names[:3] == ["base", "make", "model"]
    assert {"condition", "originality", "mileage", "year", "ended_on", "mods_engine"} <= set(names)
    assert len(names) == len(set(names))


def test_the_part_of_an_input_is_what_changing_it_alone_changes(fitted: PriceModel, lot: Lot) -> None:
    row = lot.inputs.head(1)
    elsewhere = row.assign(channel="a channel never seen")
    ratio = fitted.predict(row)[0] / fitted.predict(elsewhere)[0]
    parts = fitted.parts(row).iloc[0]
    likely, base = fitted.predict(row)[0], parts["base"]
    unit = (likely - base) / np.log(likely / base)
    # Parts are told against the typical sale, so the other row's part is taken off on the same scale.
    other = fitted.parts(elsewhere).iloc[0]
    above = fitted.predict(elsewhere)[0]
    scale = (above - other["base"]) / np.log(above / other["base"])
    # The channel also acts in combination with the other inputs.
    changed = sum(parts[name] / unit - other[name] / scale for name in ("channel", "together"))
    assert changed == pytest.approx(np.log(ratio), abs=1e-4)


def test_parts_are_told_against_the_typical_sale(fitted: PriceModel, lot: Lot) -> None:
    """Over the sales that were learned from, each effect on log price averages to nothing."""
    parts, likely = fitted.parts(lot.inputs), fitted.predict(lot.inputs)
    base = parts["base"].to_numpy()
    unit = (likely - base) / np.log(likely / base)
    effects = parts.drop(columns="base").div(unit, axis=0)
    assert np.ptp(base) <= 0.05  # the cents of rounding
    assert np.abs(effects.mean()).max() < 1e-4


def test_parts_are_plain_numbers(fitted: PriceModel, lot: Lot) -> None:
    assert json.loads(fitted.parts(lot.inputs.head(1)).to_json(orient="records"))[0]["base"] > 0
