"""State of charge by voltage at rest, against published tables."""

from math import nan
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.errors import Refused
from inventory.rules import battery


@pytest.mark.parametrize(
    ("table", "volts", "percent"),
    [
        # the trade's table, from memory
        (battery.TRADE_TABLE, 12.65, 100),
        (battery.TRADE_TABLE, 12.45, 75),
        (battery.TRADE_TABLE, 12.24, 50),
        (battery.TRADE_TABLE, 12.06, 25),
        (battery.TRADE_TABLE, 11.89, 0),
        # one printed source
        (battery.FULL_TABLE, 12.66, 100),
        (battery.FULL_TABLE, 12.45, 75),
        (battery.FULL_TABLE, 12.30, 50),
        (battery.FULL_TABLE, 12.15, 25),
        # another: 12.60 full, 11.95 at 25 %, 11.85 flat
        (battery.WIDE_TABLE, 12.60, 100),
        (battery.WIDE_TABLE, 11.95, 25),
        (battery.WIDE_TABLE, 11.85, 0),
    ],
)
def test_state_of_charge_is_the_table_at_its_points(table: battery.ChargeTable, volts: float, percent: float) -> None:
    assert battery.state_of_charge(volts, table=table) == pytest.approx(percent)
    # A 6 V system is half.
    assert battery.state_of_charge(volts / 2, system_volts=6, table=table) == pytest.approx(percent)


def test_trade_table_is_the_default() -> None:
    assert battery.state_of_charge(12.24) == 50
    assert battery.state_of_charge(12.345) == pytest.approx(62.5)  # half way between 12.24 and 12.45


@pytest.mark.parametrize(("volts", "percent"), [(13.0, 100), (12.65, 100), (11.5, 0), (0, 0)])
def test_beyond_the_table_is_its_end(volts: float, percent: float) -> None:
    assert battery.state_of_charge(volts) == percent


@given(st.floats(0, 15), st.floats(0, 3), st.sampled_from([6, 12]))
def test_more_volts_never_mean_less_charge(volts: float, more: float, system: int) -> None:
    lower = battery.state_of_charge(volts, system_volts=system)
    assert lower <= battery.state_of_charge(volts + more, system_volts=system) + 1e-9
    assert 0 <= lower <= 100


@pytest.mark.parametrize(
    ("gravity", "volts"),
    # 6 × (specific gravity + 0.845), worked by hand.
    [(1.265, 12.66), (1.225, 12.42), (1.190, 12.21)],
)
def test_volts_follow_from_specific_gravity(gravity: float, volts: float) -> None:
    assert round(battery.volts_of_gravity(gravity), 2) == volts
    assert battery.volts_of_gravity(gravity, system_volts=6) == pytest.approx(battery.volts_of_gravity(gravity) / 2)


@pytest.mark.parametrize(
    ("volts", "system", "asked"),
    # Full is 12.65, 5 % above it 13.28; for 6 V half of that.
    [
        (12.6, 12, False),
        (13.2, 12, False),
        (13.3, 12, True),
        (6.3, 12, True),
        (6.7, 12, False),
        (0, 12, False),
        (6.3, 6, False),
        (6.6, 6, False),
        (6.7, 6, True),
        (12.6, 6, True),
    ],
)
def test_battery_of_another_system_or_on_charge_is_questioned(volts: float, system: int, asked: bool) -> None:
    assert (battery.question_battery(volts, system_volts=system) is not None) is asked


def test_battery_questions_name_volts_and_system() -> None:
    over, under = battery.question_battery(12.6, system_volts=6), battery.question_battery(6.3)
    assert over is not None
    assert under is not None
    assert over.message == "12.6 V is more than a 6 V battery holds at rest, about 6.33."
    assert under.message == "6.3 V is what a 6 V battery holds; the system is given as 12 V."


@pytest.mark.parametrize(
    ("function", "value", "named", "field"),
    [
        (battery.state_of_charge, -1, {}, "volts"),
        (battery.state_of_charge, nan, {}, "volts"),
        (battery.state_of_charge, 12, {"system_volts": 24}, "system_volts"),
        (battery.state_of_charge, 12, {"table": [(12.6, 100)]}, "table"),
        (battery.state_of_charge, 12, {"table": [(12.0, 0), (12.6, 100)]}, "table"),
        (battery.state_of_charge, 12, {"table": [(12.6, 50), (12.0, 50)]}, "table"),
        (battery.volts_of_gravity, 0.9, {}, "specific_gravity"),
        (battery.volts_of_gravity, nan, {}, "specific_gravity"),
        (battery.volts_of_gravity, 1265, {}, "specific_gravity"),
        (battery.question_battery, -1, {}, "volts"),
        (battery.question_battery, 12, {"system_volts": 48}, "system_volts"),
    ],
)
def test_what_is_no_battery_is_refused_by_field(function: Any, value: float, named: Any, field: str) -> None:
    with pytest.raises(Refused) as caught:
        function(value, **named)
    assert caught.value.field == field
    assert caught.value.mend
