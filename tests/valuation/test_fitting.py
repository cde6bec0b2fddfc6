"""One fit to some rows: what is held out is not there, what is doubtful weighs less."""

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose

from tests.valuation.histories import Lot
from valuation.design import Design, make_design
from valuation.fitting import Additive, History, fit_rows
from valuation.model import PriceModel
from valuation.reading import Array, Roles, Table, read
from valuation.schema import vehicle_model


def history_of(lot: Lot) -> History:
    model = vehicle_model()
    roles = Roles(model.nested, model.factors, model.smooth, model.rising, model.flags, model.freed, model.date)
    table = read(lot.inputs, roles=roles)
    return History(make_design(table, roles=roles, bends=True), table=table, log_price=np.log(lot.price))


@pytest.fixture(scope="module")
def history(lot: Lot) -> History:
    return history_of(lot)


def test_rows_held_out_leave_no_trace(history: History) -> None:
    used = np.ones(history.table.size)
    used[::5] = 0
    plain = fit_rows(history, used=used, heavy=True)
    other = History(history.design, table=history.table, log_price=np.where(used > 0, history.log_price, 99.0))
    assert_allclose(fit_rows(other, used=used, heavy=True).weights, plain.weights, atol=1e-9)


def test_a_held_out_fit_equals_a_fit_to_the_rest(history: History) -> None:
    used = np.ones(history.table.size)
    used[::5] = 0
    rest = np.flatnonzero(used)
    small = History(history.design, table=history.table.take(rest), log_price=history.log_price[rest])
    assert_allclose(
        fit_rows(small, used=np.ones(len(rest)), heavy=True).weights,
        fit_rows(history, used=used, heavy=True).weights,
        atol=1e-7,
    )


def test_a_fit_that_starts_from_another_to_the_same_rows_is_as_sure(history: History) -> None:
    """A short search from a fit is what every fold does: errors are measured in what it takes for its spread."""
    used = np.ones(history.table.size)
    first = fit_rows(history, used=used, heavy=True)
    again = fit_rows(history, used=used, heavy=True, start=first)
    (middle, variance), (middle_again, variance_again) = history.predict(first), history.predict(again)
    assert np.median(np.sqrt(variance_again / variance)) == pytest.approx(1, abs=0.08)
    assert_allclose(middle_again, middle, atol=0.03)


def test_laying_out_again_gives_the_same_as_keeping(history: History, monkeypatch: pytest.MonkeyPatch) -> None:
    used = np.ones(history.table.size)
    kept = fit_rows(history, used=used, heavy=True)
    monkeypatch.setattr("valuation.fitting.KEPT", 0)
    monkeypatch.setattr("valuation.design.CHUNK", 50)
    again = History(history.design, table=history.table, log_price=history.log_price)
    assert_allclose(fit_rows(again, used=used, heavy=True).weights, kept.weights, atol=1e-7)


def unknown_rows(kind: str) -> tuple[Table, Array, Design]:
    rng = np.random.default_rng(0)
    miles = rng.normal(0, 1, size=80)
    price = 10 + 0.8 * miles + rng.normal(0, 0.05, size=80)
    frame = pd.DataFrame({"miles": miles, "make": rng.choice(["a", "b"], size=80)})
    if kind == "number":
        frame.loc[:19, "miles"] = np.nan
    roles = Roles(smooth=("miles",), nested=("make",))
    table = read(frame, roles=roles)
    return table, price, make_design(table, roles=roles, bends=True)


def test_a_missing_number_widens_by_its_effect() -> None:
    """The history was drawn with log price = 0.8 miles ± 0.05: unknown miles (sd 1) are worth an sd of about 0.8."""
    table, price, design = unknown_rows("number")
    model = fit_rows(History(design, table=table, log_price=price), used=np.ones(80), heavy=False)
    rows = design.expand(table)
    sd = np.sqrt(model.variance(rows))
    assert_allclose(sd[:20], 0.8, rtol=0.2)
    assert_allclose(np.median(sd[20:]), 0.05, rtol=0.3)  # a row at the edge of the range is less sure


def test_rows_with_a_missing_number_bend_the_rest_little() -> None:
    table, price, design = unknown_rows("number")
    full = fit_rows(History(design, table=table, log_price=price), used=np.ones(80), heavy=False)
    assert_allclose(np.sqrt(full.strengths.noise), 0.05, rtol=0.25)  # not the 0.8 of the rows that are unknown


def test_variance_is_that_of_the_weights_by_hand(fitted: PriceModel, lot: Lot) -> None:
    complete = lot.inputs.dropna(subset=["condition_low", "originality_low", "mileage", "body", "transmission"])
    rows = fitted.design_.expand(read(complete, roles=fitted.design_.roles))
    model: Additive = fitted.additive_
    unsure = np.diag(rows.matrix @ model.covariance @ rows.matrix.T)
    assert_allclose(model.variance(rows), model.strengths.noise + unsure, rtol=1e-12)


def test_columns_of_rising_inputs_hold_no_doubt(fitted: PriceModel) -> None:
    for block in fitted.design_.blocks:
        if block.rising:
            assert not fitted.additive_.covariance[block.columns].any()
            assert (fitted.additive_.weights[block.columns] >= 0).all()
