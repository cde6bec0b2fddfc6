"""When there is no band, and what is said instead."""

import numpy as np
import pandas as pd
import pytest

from tests.valuation.histories import Lot, drawn_lot
from valuation import LEAST_SALES, PriceModel, vehicle_model


@pytest.mark.parametrize("count", [1, 2, 5, LEAST_SALES - 1])
def test_fewer_than_twelve_sales_fit_without_a_band(lot: Lot, count: int) -> None:
    model = vehicle_model().fit(lot.inputs.head(count), lot.price[:count])
    evidence = model.evidence(lot.inputs)
    assert model.band(lot.inputs).isna().all(axis=None)
    assert not evidence["enough"].any()
    assert (evidence["reason"] == f"there are {count} sales; a band needs 12").all()
    assert np.isfinite(model.predict(lot.inputs)).all()


def test_twelve_sales_of_two_makes_have_a_band() -> None:
    rng = np.random.default_rng(0)
    frame = pd.DataFrame({"make": ["Merrow", "Tarn"] * 6})
    model = PriceModel(nested=("make",), date=None).fit(frame, np.exp(10 + rng.normal(0, 0.2, size=12)))
    assert model.band(frame).notna().all(axis=None)


@pytest.mark.parametrize(("coverage", "needed"), [(0.9, 19), (0.95, 39)])
def test_a_wider_coverage_needs_more_sales(lot: Lot, coverage: float, needed: int) -> None:
    short, enough = (vehicle_model(coverage).fit(lot.inputs.head(n), lot.price[:n]) for n in (needed - 1, needed))
    assert short.notes_[-1] == f"there are {needed - 1} sales; a band needs {needed}"
    assert enough.band(lot.inputs.head(1)).notna().all(axis=None)


def test_twelve_sales_of_twelve_makes_say_nothing_about_a_thirteenth() -> None:
    rng = np.random.default_rng(0)
    frame = pd.DataFrame({"make": [f"make {number}" for number in range(12)]})
    model = PriceModel(nested=("make",), date=None).fit(frame, np.exp(10 + rng.normal(0, 0.2, size=12)))
    evidence = model.evidence(pd.DataFrame({"make": ["make 13"]})).iloc[0]
    assert not evidence["enough"]
    assert evidence["reason"] == "no sale of this make, and 0 sold twice or more where 5 are needed"


def test_counts_are_those_of_the_history(fitted: PriceModel, lot: Lot) -> None:
    evidence = fitted.evidence(lot.inputs)
    same_make = lot.inputs.groupby("make")["year"].transform("size")
    same_model = lot.inputs.groupby(["make", "model"])["year"].transform("size")
    assert (evidence["sales_used"] == len(lot.price)).all()
    assert (evidence["sales_of_make"] == same_make).all()
    assert (evidence["sales_of_model"] == same_model).all()


def test_a_vehicle_like_many_sales_has_more_evidence(fitted: PriceModel, vehicle: pd.DataFrame) -> None:
    known, other = fitted.evidence(vehicle).iloc[0], fitted.evidence(vehicle.assign(model="never seen")).iloc[0]
    assert known["like"] > other["like"]
    assert known["sd_ratio"] < other["sd_ratio"]


def test_an_unseen_model_has_a_wider_band(fitted: PriceModel, vehicle: pd.DataFrame) -> None:
    widths = []
    for frame in (vehicle, vehicle.assign(model="never seen"), vehicle.assign(make="never seen")):
        band = fitted.band(frame).iloc[0]
        widths.append(np.log(band["high"] / band["low"]))
    assert widths[0] < widths[1] < widths[2]


def test_a_missing_make_counts_as_one_never_seen(fitted: PriceModel, vehicle: pd.DataFrame) -> None:
    missing, unseen = vehicle.assign(make=None), vehicle.assign(make="never seen")
    pd.testing.assert_frame_equal(fitted.band(missing), fitted.band(unseen))


def test_a_vehicle_unlike_all_sales_has_no_band() -> None:
    rng = np.random.default_rng(1)
    frame = pd.DataFrame({"make": ["Merrow"] * 40, "on": pd.date_range("2024-01-01", periods=40, freq="D")})
    steep = np.exp(10 + np.arange(40) / 20 + rng.normal(0, 0.05, size=40))
    model = PriceModel(nested=("make",), date="on").fit(frame, steep)
    later = pd.DataFrame({"make": ["Merrow"], "on": ["2040-01-01"]})
    evidence = model.evidence(later).iloc[0]
    assert not evidence["enough"]
    assert evidence["reason"] == "it is unlike the 40 sales: more than 3 times as unsure as usual"
    assert model.band(later).isna().all(axis=None)


def test_reasons_are_given_where_and_only_where_it_is_not_enough() -> None:
    lot = drawn_lot(40, seed=2)
    model = vehicle_model().fit(lot.inputs.head(25), lot.price[:25])
    evidence = model.evidence(lot.inputs)
    assert ((evidence["reason"] == "") == evidence["enough"]).all()
    assert (model.band(lot.inputs)["low"].notna() == evidence["enough"]).all()
