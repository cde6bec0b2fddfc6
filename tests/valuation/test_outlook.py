"""What may come of an ask: chances that never rise with it, prices between floor and ask, parts that add up."""

import math
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from tests.valuation.selling_lot import fitted_stays, stand, told
from valuation import BadOption, NotFitted
from valuation.ahead import Plan, hazard_of, look_ahead, sold_by
from valuation.outlook import glance
from valuation.time_to_sale import TimeToSale
from valuation.unseen import read_positions, unseen_of

ASKS = np.geomspace(8_000, 60_000, 25)
OLD = {"exposed_days": 75.0, "asks": ((0.0, 24_000.0), (40.0, 22_500.0)), "best_offer": 18_500.0}


@pytest.mark.parametrize("changes", [{}, OLD, {"low": 20_000.0}], ids=["fresh", "unsold", "lopsided"])
def test_chance_never_rises_with_the_ask_and_never_falls_with_time(changes: dict[str, Any]) -> None:
    chances = np.array(
        [[(c.likely, c.low, c.high) for c in outlook.chances] for outlook in told([Plan(a) for a in ASKS], **changes)]
    )
    assert (np.diff(chances, axis=0) <= 1e-12).all()
    assert (np.diff(chances, axis=1) >= -1e-12).all()
    assert ((chances[..., 1] <= chances[..., 0]) & (chances[..., 0] <= chances[..., 2])).all()


def test_chance_never_rises_with_the_ask_at_any_value_and_any_draw() -> None:
    model = fitted_stays()
    positions = read_positions(model, stand(**OLD), coverage=0.8)
    ahead = look_ahead(
        model,
        positions,
        unseen=unseen_of(model, positions),
        plans=[[Plan(a) for a in ASKS]],
        last_days=np.array([90.0]),
    )
    for latent in model.latent_.draws(8, seed=2):
        path = sold_by(ahead, hazard=hazard_of(ahead, latent=latent))
        assert (np.diff(path, axis=1) <= 1e-12).all()
        assert (np.diff(path, axis=3) >= 0).all()


@settings(max_examples=30, deadline=None)
@given(
    ask=st.floats(5_000, 200_000), step=st.none() | st.floats(0.5, 0.99), floor=st.none() | st.floats(5_000, 60_000),
    last_day=st.integers(1, 400), after=st.integers(1, 300),
)  # fmt: skip
def test_shares_add_up_and_prices_lie_between_floor_and_ask(
    ask: float, step: float | None, floor: float | None, last_day: int, after: int
) -> None:
    plan = Plan(ask) if step is None else Plan(ask, step_to=step * ask, step_after_days=after)
    found = told([plan], floor=floor, last_day=last_day)[0]
    lowest = min(floor or 0.5 * (step or 1) * ask, (step or 1) * ask)
    assert sum(share for _, share in found.prices) + found.unsold == pytest.approx(1.0, abs=1e-12)
    assert all(lowest * (1 - 1e-9) <= price <= ask * (1 + 1e-9) for price, _ in found.prices)
    assert lowest * (1 - 1e-9) <= found.expected_price <= ask * (1 + 1e-9)
    assert 0 < found.days <= last_day
    assert found.chances[-1].likely == pytest.approx(1 - found.unsold, abs=1e-12) or last_day > 180


def test_ask_at_the_floor_sells_at_the_floor() -> None:
    found = told([Plan(15_000), Plan(14_000)], floor=15_000)
    assert [outlook.expected_price for outlook in found] == pytest.approx([15_000, 14_000])


def test_what_does_not_sell_is_worth_less_than_the_likely_price_if_it_was_cheap() -> None:
    cheap, dear = told([Plan(16_000), Plan(40_000)])
    assert cheap.unsold_value < dear.unsold_value < 21_000


def test_agreement_of_one_day_tells_of_one_day() -> None:
    found = told([Plan(20_000)], last_day=1)[0]
    assert len({chance.likely for chance in found.chances}) == 1
    assert 0 < found.chances[0].likely < 0.2
    assert 0.9 < found.days <= 1


def test_same_question_has_the_same_answer_to_the_digit() -> None:
    assert told([Plan(20_000)], **OLD) == told([Plan(20_000)], **OLD)


def test_chance_of_one_ask_does_not_hang_on_the_others() -> None:
    alone, among = told([Plan(20_000)])[0], told([Plan(18_000), Plan(20_000), Plan(30_000)])[1]
    assert [c.likely for c in alone.chances] == pytest.approx([c.likely for c in among.chances], abs=1e-12)
    assert alone.expected_price == pytest.approx(among.expected_price, rel=1e-12)


def test_glance_says_the_same_as_outlooks() -> None:
    model, plans = fitted_stays(), [Plan(19_000), Plan(24_000, step_to=22_000, step_after_days=60)]
    frame = pd.concat([stand(), stand(**OLD)] * 40, ignore_index=True)  # more than are looked at at once
    found = glance(
        model, read_positions(model, frame, coverage=0.8), plans=[plans] * 80, last_days=np.full(80, 100.0),
        floors=np.tile([15_000.0, np.nan], 40),
    )  # fmt: skip
    for row, changes, floor in ((0, {}, 15_000.0), (79, OLD, None)):
        for number, outlook in enumerate(told(plans, last_day=100, floor=floor, **changes)):
            seen = found.loc[(row, number)]
            assert seen["chance"] == pytest.approx(1 - outlook.unsold, abs=1e-12)
            assert seen["days"] == pytest.approx(outlook.days, abs=1e-9)
            assert seen["unsold_value"] == pytest.approx(outlook.unsold_value, rel=1e-12)
            assert seen["price"] == pytest.approx(outlook.expected_price, rel=5e-3)  # six prices stand for all


def test_expected_days_shrink_as_the_ask_does() -> None:
    days = [outlook.days for outlook in told([Plan(a) for a in ASKS])]
    assert (np.diff(days) >= 0).all()
    assert_allclose(days[-1], 180, rtol=0.3)  # hardly ever sold: until it is taken back, or the end


@pytest.mark.parametrize("given_", [{"days": (0,)}, {"last_day": 0}])
def test_days_before_tomorrow_are_refused(given_: dict[str, Any]) -> None:
    with pytest.raises(BadOption, match="1 or more"):
        told([Plan(20_000)], **given_)


def test_model_that_learned_nothing_says_so() -> None:
    with pytest.raises(NotFitted):
        read_positions(TimeToSale(), stand(), coverage=0.8)


def test_price_is_no_number_where_there_is_no_sale() -> None:
    found = told([Plan(20_000)])[0]
    assert math.isnan(type(found)((), (), 1.0, 20_000.0, 10.0).expected_price)
