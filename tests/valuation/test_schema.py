"""The columns of a vehicle sale."""

from typing import Any

import pandas as pd
import pytest

from tests.valuation.histories import Lot
from valuation import BadInput, vehicle_model
from valuation.schema import COLUMNS, MODIFICATION_KINDS, NAMES, check, mods_column


def test_a_simulated_lot_is_accepted(lot: Lot) -> None:
    check(lot.inputs)
    assert set(NAMES) <= set(lot.inputs.columns)


@pytest.mark.parametrize("name", NAMES)
def test_each_missing_column_is_named(lot: Lot, name: str) -> None:
    with pytest.raises(BadInput, match=f"must have the column '{name}'") as caught:
        check(lot.inputs.drop(columns=name))
    assert caught.value.column == name


@pytest.mark.parametrize(
    ("name", "value", "text"),
    [
        ("year", 1700, r"year must be from 1885 to 2100 \(model year\), got 1700 in row 3"),
        ("mileage", -1, r"mileage must be from 0 to 2000000 \(miles\), got -1 in row 3"),
        ("condition_low", 101, r"condition_low must be from 0 to 100 \(points of 100\), got 101 in row 3"),
        ("mods_engine", 500, r"mods_engine must be from 0 to 100"),
    ],
)
def test_a_value_out_of_range_is_named_with_its_row(lot: Lot, name: str, value: float, text: str) -> None:
    frame = lot.inputs.head(6).astype({name: float})
    frame.loc[3, name] = value
    with pytest.raises(BadInput, match=text) as caught:
        check(frame)
    assert (caught.value.column, caught.value.row) == (name, 3)


@pytest.mark.parametrize(("name", "value"), [("mileage", "60k"), ("ended_on", "next week"), ("ended_on", 3)])
def test_a_value_of_the_wrong_kind_is_refused(lot: Lot, name: str, value: Any) -> None:
    with pytest.raises(BadInput, match=f"{name} must be a"):
        check(lot.inputs.head(2).assign(**{name: pd.Series([value, value], dtype=object)}))


def test_the_model_uses_columns_of_the_schema_only() -> None:
    model = vehicle_model(coverage=0.9)
    used = {*model.nested, *model.factors, *model.smooth, *model.flags, model.date}
    used |= {f"{name}_{end}" for name in model.rising for end in ("low", "high")}
    assert used <= set(NAMES)
    assert model.coverage == 0.9


def test_every_number_has_a_unit_and_a_range() -> None:
    for column in COLUMNS:
        assert column.kind in ("number", "words", "date")
        if column.kind == "number":
            assert column.unit
            assert column.low < column.high
    assert mods_column(MODIFICATION_KINDS[0]) in NAMES
