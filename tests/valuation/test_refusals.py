"""What is awkward and legal gets a documented answer; what is not is refused by name. Beside test_model.py."""

from datetime import date
from typing import Any

import numpy as np
import pandas as pd
import pytest

from tests.valuation.histories import Lot
from valuation import LEAST_SALES, BadInput, PriceModel, vehicle_model


def model(**changes: Any) -> PriceModel:
    return PriceModel(**{"nested": ("make",), "smooth": ("miles",), "date": None, **changes})


def sales(count: int = 40) -> tuple[pd.DataFrame, Any]:
    rng = np.random.default_rng(3)
    frame = pd.DataFrame(
        {"make": rng.choice(["Merrow", "Tarn", "Quillon"], size=count), "miles": rng.uniform(0, 100_000, size=count)}
    )
    price = 20_000 * np.exp(-frame["miles"] / 1e5 + rng.normal(0, 0.1, size=count))
    return frame, price.to_numpy()


def test_no_vehicles_get_no_answers(fitted: PriceModel, lot: Lot) -> None:
    nobody = lot.inputs.head(0)
    assert fitted.predict(nobody).shape == (0,)
    assert len(fitted.parts(nobody)) == len(fitted.evidence(nobody)) == 0


def test_twelve_sales_are_enough_for_a_band_and_eleven_are_not() -> None:
    frame, price = sales(LEAST_SALES)
    assert model().fit(frame, price).band(frame).notna().all(axis=None)
    short = model().fit(frame.head(11), price[:11])
    assert short.band(frame).isna().all(axis=None)
    assert short.notes_ == ["there are 11 sales; a band needs 12"]


def test_twelve_equal_prices_are_refused_and_eleven_fit_without_a_band() -> None:
    frame, _ = sales(LEAST_SALES)
    with pytest.raises(BadInput, match="price must vary, got 12 times 5000"):
        model().fit(frame, np.full(12, 5000.0))
    short = model().fit(frame.head(11), np.full(11, 5000.0))
    np.testing.assert_allclose(short.predict(frame), 5000.0, rtol=1e-6)


@pytest.mark.parametrize("value", [np.inf, -np.inf])
def test_an_infinite_value_is_refused_in_fit_and_in_pricing(value: float) -> None:
    frame, price = sales()
    bad = frame.assign(miles=[*frame["miles"][:-1], value])
    for ask in (lambda: model().fit(bad, price), lambda: model().fit(frame, price).band(bad)):
        with pytest.raises(BadInput, match="miles must be finite, got") as caught:
            ask()
        assert (caught.value.column, caught.value.row) == ("miles", 39)


def test_one_row_many_times_has_no_band() -> None:
    """Copies share a fold: nothing was ever predicted without having been seen."""
    frame, price = sales()
    copies = pd.concat([frame.head(1)] * 30, ignore_index=True)
    copied = model().fit(copies, price[:30])
    assert copied.band(frame.head(1)).isna().all(axis=None)
    assert copied.predict(frame.head(1))[0] == pytest.approx(np.exp(np.log(price[:30]).mean()), rel=0.1)


def test_a_row_asked_for_twice_is_answered_twice(fitted: PriceModel, lot: Lot) -> None:
    twice = fitted.band(lot.inputs.iloc[[4, 4]])
    assert list(twice.index) == [4, 4]
    assert (twice.iloc[0] == twice.iloc[1]).all()


def test_a_factor_never_seen_is_priced_as_one_missing_and_wider(fitted: PriceModel, vehicle: pd.DataFrame) -> None:
    unseen, missing = (fitted.band(vehicle.assign(body=body)) for body in ("a body never seen", None))
    pd.testing.assert_frame_equal(unseen, missing)
    usual = fitted.band(vehicle).iloc[0]
    assert unseen["high"].iloc[0] / unseen["low"].iloc[0] > usual["high"] / usual["low"]


def test_one_sale_date_for_all_tells_no_trend(lot: Lot) -> None:
    same = lot.inputs.assign(ended_on=date(2030, 1, 1))
    fitted = vehicle_model().fit(same, lot.price)
    assert "ended_on is the same in every sale that states it: it is not used" in fitted.notes_
    early = fitted.band(same.head(3).assign(ended_on=date(1990, 1, 1)))
    pd.testing.assert_frame_equal(early, fitted.band(same.head(3)))


def test_a_sale_long_before_all_others_fits(lot: Lot) -> None:
    dates = pd.to_datetime(lot.inputs["ended_on"]).copy()
    dates.iloc[0] = pd.Timestamp("1950-01-01")
    fitted = vehicle_model().fit(lot.inputs.assign(ended_on=dates), lot.price)
    now = fitted.predict(lot.inputs.tail(20))
    usual = vehicle_model().fit(lot.inputs, lot.price).predict(lot.inputs.tail(20))
    assert np.abs(np.log(now / usual)).max() < 0.3
