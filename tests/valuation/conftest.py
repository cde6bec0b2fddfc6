"""Histories that several test files look at, drawn once."""

from collections.abc import Iterator
from datetime import date

import pandas as pd
import pytest
from threadpoolctl import threadpool_limits

from tests.valuation.histories import Lot, drawn_lot
from valuation import PriceModel, vehicle_model


@pytest.fixture(scope="session", autouse=True)
def one_thread() -> Iterator[None]:
    """Sums in one order: figures are compared to the last digit."""
    with threadpool_limits(limits=1, user_api="blas"):
        yield


@pytest.fixture(scope="session")
def lot() -> Lot:
    return drawn_lot(120, seed=3, ending_on=date(2030, 6, 30))


@pytest.fixture(scope="session")
def fitted(lot: Lot) -> PriceModel:
    return vehicle_model().fit(lot.inputs, lot.price)


@pytest.fixture
def vehicle(lot: Lot) -> pd.DataFrame:
    """One vehicle with everything known, of a make and model that the history knows."""
    known = lot.inputs["condition_low"].notna() & lot.inputs["originality_low"].notna() & lot.inputs["mileage"].notna()
    return lot.inputs[known & (lot.inputs["build_class"] == "restored")].head(1).copy()
