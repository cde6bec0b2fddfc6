"""Better condition or originality never lowers low, likely or high, whatever the history says."""

from functools import cache

import numpy as np
import pandas as pd
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.valuation.histories import drawn_lot
from valuation import PriceModel, vehicle_model

NAMES = ("condition", "originality")
points = st.floats(0, 100, allow_nan=False)


@cache
def perverse() -> PriceModel:
    """A lot where worse condition was paid more: the model may not learn that."""
    lot = drawn_lot(80, seed=4)
    grade = lot.inputs["condition_low"].fillna(60.0).to_numpy()
    return vehicle_model().fit(lot.inputs, lot.price * np.exp(-grade / 30))


@cache
def vehicles() -> pd.DataFrame:
    return drawn_lot(80, seed=5).inputs


@cache
def usual() -> PriceModel:
    lot = drawn_lot(80, seed=5)
    return vehicle_model().fit(lot.inputs, lot.price)


def at(name: str, low: float, high: float, *, row: int, build: str) -> pd.DataFrame:
    frame = vehicles().iloc[[row]]
    return frame.assign(**{f"{name}_low": low, f"{name}_high": high, "build_class": build})


@settings(max_examples=60, deadline=None, database=None, derandomize=True)
@given(
    st.sampled_from(NAMES),
    st.tuples(points, points),
    st.tuples(points, points),
    st.integers(0, 79),
    st.sampled_from(["survivor", "restored"]),
    st.booleans(),
)
def test_better_never_lowers_the_band(
    name: str, lows: tuple[float, float], highs: tuple[float, float], row: int, build: str, turned: bool
) -> None:
    model = perverse() if turned else usual()
    low, better_low = sorted(lows)
    high, better_high = sorted((max(low, highs[0]), max(better_low, highs[1])))
    better_low = min(better_low, better_high)
    worse = model.band(at(name, low, max(low, high), row=row, build=build))
    better = model.band(at(name, better_low, better_high, row=row, build=build))
    assert (better.to_numpy() >= worse.to_numpy()).all()


def test_a_perverse_history_leaves_no_effect_of_the_grade() -> None:
    model = perverse()
    parts = model.parts(at("condition", 10, 10, row=0, build="restored"))
    better = model.parts(at("condition", 90, 90, row=0, build="restored"))
    assert better["condition"].iloc[0] == parts["condition"].iloc[0]


def test_an_open_interval_widens_both_ends() -> None:
    exact = usual().band(at("condition", 60, 60, row=3, build="restored"))
    open_ = usual().band(at("condition", 40, 80, row=3, build="restored"))
    assert open_["low"].iloc[0] < exact["low"].iloc[0]
    assert open_["high"].iloc[0] > exact["high"].iloc[0]


def test_an_interval_takes_low_from_its_low_end_and_likely_from_its_middle() -> None:
    wide = usual().band(at("condition", 40, 80, row=3, build="restored")).iloc[0]
    ends = [usual().band(at("condition", grade, grade, row=3, build="restored")).iloc[0] for grade in (40, 60, 80)]
    assert (wide["low"], wide["likely"], wide["high"]) == (ends[0]["low"], ends[1]["likely"], ends[2]["high"])


def test_originality_of_a_modified_vehicle_may_fall() -> None:
    lot = drawn_lot(150, seed=6)
    modified = (lot.inputs["build_class"] == "modified").to_numpy()
    known = lot.inputs["originality_low"].fillna(50).to_numpy()
    model = vehicle_model().fit(lot.inputs, lot.price * np.exp(np.where(modified, -known / 50, 0.0)))
    worse, better = (model.band(at("originality", g, g, row=3, build="modified")).iloc[0] for g in (20, 60))
    assert (better < worse).all()
    wide = model.band(at("originality", 20, 60, row=3, build="modified")).iloc[0]
    middle = model.band(at("originality", 40, 40, row=3, build="modified")).iloc[0]
    assert wide["low"] < middle["low"]
    assert wide["likely"] == middle["likely"]
    assert wide["high"] > middle["high"]


def test_missing_condition_is_priced_between_and_wider() -> None:
    frame = at("condition", 60, 60, row=3, build="restored")
    known = usual().band(frame).iloc[0]
    unknown = usual().band(frame.assign(condition_low=np.nan, condition_high=np.nan)).iloc[0]
    assert np.log(unknown["high"] / unknown["low"]) > np.log(known["high"] / known["low"])
