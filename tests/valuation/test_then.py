"""The likely price of an earlier day knows nothing of that day or later."""

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose

from tests.valuation.histories import Lot
from valuation import BadInput, BadOption, PriceModel, vehicle_model
from valuation.then import LEAST_BEFORE, as_then


def then(lot: Lot, *, price: object = None, on: object = None, refits: int = 4) -> pd.DataFrame:
    days = lot.inputs["ended_on"] if on is None else on
    return as_then(
        vehicle_model(),
        lot.inputs,
        on=days,
        sales=lot.inputs,
        price=lot.price if price is None else price,
        refits=refits,
    )


def test_later_prices_change_nothing_of_an_earlier_day(lot: Lot) -> None:
    days = pd.to_datetime(lot.inputs["ended_on"])
    middle = days.sort_values().iloc[len(days) // 2]
    changed = np.where(days >= middle, 9 * lot.price, lot.price)
    before, after = then(lot), then(lot, price=changed)
    early = (days <= middle).to_numpy()
    assert before["median"][early].notna().any()
    assert_allclose(before[early], after[early], rtol=0, atol=0)
    assert not np.allclose(before["median"][~early], after["median"][~early], equal_nan=True)


def test_counts_are_of_sales_before_the_block_and_too_few_tell_nothing(lot: Lot) -> None:
    found, days = then(lot), pd.to_datetime(lot.inputs["ended_on"])
    at_most = np.array([(days < day).sum() for day in days])
    assert (found["known"] <= at_most).all()
    assert (found["median"].isna() == (found["known"] < LEAST_BEFORE)).all()
    assert 1 < found.loc[found["median"].notna(), "known"].nunique() <= 4
    assert (found["sd"].dropna() > 0).all()


def test_first_of_a_block_is_what_a_fit_of_the_sales_before_it_says(lot: Lot) -> None:
    found, days = then(lot), pd.to_datetime(lot.inputs["ended_on"])
    place = int(days.where(found["median"].notna()).argmin())
    before = (days < days.iloc[place]).to_numpy()
    own = vehicle_model().fit_median(lot.inputs[before], lot.price[before]).log_price(lot.inputs.iloc[[place]])
    assert_allclose(found.iloc[place][["median", "sd"]].astype(float), own.iloc[0], rtol=1e-9)


def test_model_and_frames_are_left_as_they_are(lot: Lot) -> None:
    model, inputs = vehicle_model(), lot.inputs.copy()
    as_then(model, inputs, on=inputs["ended_on"], sales=inputs, price=lot.price, refits=1)
    pd.testing.assert_frame_equal(inputs, lot.inputs)
    assert vars(model) == vars(vehicle_model())


def test_one_day_of_a_missing_date_is_refused(lot: Lot) -> None:
    with pytest.raises(BadInput, match="missing"):
        then(lot, on=[None, *lot.inputs["ended_on"].iloc[1:]])
    with pytest.raises(BadInput, match="each of"):
        then(lot, on=lot.inputs["ended_on"].iloc[1:])


def test_no_refit_and_no_dates_are_refused(lot: Lot) -> None:
    with pytest.raises(BadOption, match="refits"):
        then(lot, refits=0)
    with pytest.raises(BadInput, match="dates"):
        as_then(PriceModel(date=None), lot.inputs, on=lot.inputs["ended_on"], sales=lot.inputs, price=lot.price)
