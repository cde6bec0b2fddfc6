"""A fit goes through JSON and comes back the same."""

import json
from typing import Any

import numpy as np
import pandas as pd
import pytest
from sklearn.base import clone

from tests.valuation.histories import Lot
from valuation import BadStore, NotFitted, PriceModel, from_dict, to_dict, vehicle_model
from valuation.store import MOST_PLAIN, _plain


@pytest.fixture(scope="module")
def stored(fitted: PriceModel) -> dict[str, Any]:
    through: dict[str, Any] = json.loads(json.dumps(to_dict(fitted), allow_nan=False))
    return through


def test_every_answer_is_the_same_to_the_last_digit(stored: dict[str, Any], fitted: PriceModel, lot: Lot) -> None:
    back = from_dict(stored)
    for ask in ("band", "parts", "evidence"):
        pd.testing.assert_frame_equal(
            getattr(back, ask)(lot.inputs), getattr(fitted, ask)(lot.inputs), check_exact=True
        )
    assert back.notes_ == fitted.notes_
    assert back.get_params() == fitted.get_params()
    assert list(back.feature_names_in_) == list(fitted.feature_names_in_)


def test_a_long_array_is_packed_to_the_last_digit_and_a_plain_one_is_read_too(
    fitted: PriceModel, stored: dict[str, Any]
) -> None:
    scores = np.concatenate([np.random.default_rng(1).normal(size=MOST_PLAIN), [np.inf, np.nan, -0.0]])
    packed = {**stored["fitted"], "typical_": _plain(scores.reshape(1, -1))}
    assert packed["typical_"].keys() == {"packed", "shape"}
    back = from_dict(json.loads(json.dumps({**stored, "fitted": packed}, allow_nan=False))).typical_
    assert np.asarray(back).tobytes() == scores.tobytes()
    assert np.asarray(back).shape == (1, len(scores))
    plain = {"array": [1.5, {"float": "nan"}], "shape": [2]}
    old = from_dict({**stored, "fitted": {**stored["fitted"], "typical_": plain}}).typical_
    np.testing.assert_array_equal(old, [1.5, np.nan])


def test_storing_again_gives_the_same(stored: dict[str, Any]) -> None:
    assert to_dict(from_dict(stored)) == stored


def test_same_rows_give_the_same_store(stored: dict[str, Any], lot: Lot) -> None:
    again = vehicle_model().fit(lot.inputs.iloc[::-1], lot.price[::-1])
    assert to_dict(again) == stored


def test_the_hash_names_the_rows(stored: dict[str, Any], lot: Lot) -> None:
    other = lot.price.copy()
    other[0] += 50
    assert stored["sales_used"] == len(lot.price)
    assert len(stored["sales_hash"]) == 64
    assert vehicle_model().fit(lot.inputs, other).sales_hash_ != stored["sales_hash"]


def test_a_fit_without_a_band_goes_through_json(lot: Lot) -> None:
    few = vehicle_model().fit(lot.inputs.head(5), lot.price[:5])
    back = from_dict(json.loads(json.dumps(to_dict(few), allow_nan=False)))
    pd.testing.assert_frame_equal(back.evidence(lot.inputs), few.evidence(lot.inputs), check_exact=True)


def test_a_fit_from_a_store_can_be_cloned_and_fitted(stored: dict[str, Any], lot: Lot) -> None:
    assert to_dict(clone(from_dict(stored)).fit(lot.inputs, lot.price)) == stored


def test_unfitted_is_refused() -> None:
    with pytest.raises(NotFitted, match="before it is stored"):
        to_dict(vehicle_model())


def test_another_version_is_refused(stored: dict[str, Any]) -> None:
    with pytest.raises(BadStore, match="version must be 4, got 99: fit again"):
        from_dict({**stored, "version": 99})


@pytest.mark.parametrize("broken", [{"fitted": {}}, {"params": {"nonsense": 1}}, {"fitted": {"sales_used_": {"x": 1}}}])
def test_a_broken_store_is_refused(stored: dict[str, Any], broken: dict[str, Any]) -> None:
    with pytest.raises(BadStore, match="must be one that to_dict made"):
        from_dict({**stored, **broken})
