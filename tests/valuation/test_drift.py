"""The market over time as a fit has learned it."""

from datetime import date

import numpy as np
import pandas as pd
import pytest

from tests.valuation.histories import Lot
from valuation import BadInput, NotFitted, PriceModel, from_dict, to_dict


def growing(rate: float) -> PriceModel:
    """Fitted to 60 sales, a month apart, of one make, at prices that grow by `rate` a year."""
    days = pd.date_range("2020-01-01", periods=60, freq="MS")
    years = (days - days[0]).days.to_numpy() / 365.25
    prices = 20_000 * np.exp(np.log1p(rate) * years) * (1 + 0.01 * (np.arange(60) % 3))
    return PriceModel(nested=()).fit(pd.DataFrame({"ended_on": days}), prices)


@pytest.mark.parametrize("rate", [0.10, -0.05])
def test_drift_finds_the_growth_that_was_put_in(rate: float) -> None:
    found = growing(rate).drift(["2021-01-01", "2022-01-01", "2023-01-01"])
    assert found[-1] == 0.0
    assert np.diff(found) == pytest.approx([np.log1p(rate)] * 2, abs=0.01)


@pytest.mark.parametrize("seed", [0, 1, 3])
def test_sales_of_one_summer_tell_no_trend(seed: int) -> None:
    """Forty prices that differ by a third, sold within eight weeks: half a year later they are about the same."""
    rng = np.random.default_rng(seed)
    days = pd.date_range("2029-06-01", periods=40, freq="36h")
    prices = 20_000 * np.exp(rng.normal(0, 0.3, size=40))
    found = PriceModel(nested=()).fit(pd.DataFrame({"ended_on": days}), prices).drift(["2030-02-01", "2029-08-01"])
    assert abs(found[0]) < 0.03


def test_drift_is_about_how_predictions_of_one_vehicle_differ(fitted: PriceModel, vehicle: pd.DataFrame) -> None:
    days = [date(2029, 1, 1), date(2029, 9, 1), date(2030, 6, 1)]
    likely = [fitted.predict(vehicle.assign(ended_on=day.isoformat()))[0] for day in days]
    # Only about: what one make or one age does apart from the market is not the market's drift.
    assert fitted.drift(days) == pytest.approx(np.log(np.array(likely) / likely[-1]), abs=0.02)


def test_model_without_a_date_sees_no_drift(lot: Lot) -> None:
    model = PriceModel(nested=("make",), date=None).fit(lot.inputs, lot.price)
    assert model.drift(["2020-01-01", "2030-01-01"]).tolist() == [0.0, 0.0]


def test_drift_survives_the_store(fitted: PriceModel) -> None:
    days = ["2028-01-01", "2030-01-01"]
    assert from_dict(to_dict(fitted)).drift(days).tolist() == fitted.drift(days).tolist()


def test_drift_wants_a_fit_and_dates(fitted: PriceModel) -> None:
    with pytest.raises(NotFitted):
        PriceModel().drift(["2020-01-01"])
    with pytest.raises(BadInput, match="must be a date"):
        fitted.drift([2020])
