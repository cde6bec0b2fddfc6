"""When care is due, and what a reading says. State of charge: the trade's table of `rules.battery`, 12.45 V is 75 %."""

from datetime import date
from decimal import Decimal

import pytest

from inventory.errors import Refused
from inventory.rules.care import Rule, care_due, check_reading, in_effect, reading_said
from inventory.rules.floor_words import CareKind

ARRIVED = date(2026, 3, 1)
LOT = [Rule(CareKind.BATTERY, 30), Rule(CareKind.COVER, 7), Rule(CareKind.START_UP, 14)]


@pytest.mark.parametrize(
    ("today", "done", "wanted"),
    [
        (date(2026, 3, 7), {}, []),
        (date(2026, 3, 8), {}, ["cover"]),  # 7 days after the arrival, to the day
        (date(2026, 3, 31), {}, ["battery", "start_up", "cover"]),
        (date(2026, 3, 31), {"battery": date(2026, 3, 2), "cover": date(2026, 3, 30)}, ["start_up"]),
        (date(2026, 4, 1), {"battery": date(2026, 3, 2), "start_up": date(2026, 3, 30)}, ["battery", "cover"]),
    ],
)
def test_care_is_due_days_after_it_was_done_or_after_the_arrival(
    today: date, done: dict[str, date], wanted: list[str]
) -> None:
    found = care_due(in_effect(LOT), arrived_on=ARRIVED, done=done, today=today)
    assert [one.kind for one in found] == wanted
    assert all(one.days_over(today) >= 0 for one in found)


def test_rule_of_the_stay_goes_before_the_rule_of_the_lot_and_none_is_not_asked() -> None:
    own = [Rule(CareKind.COVER, None), Rule(CareKind.BATTERY, 5, "a weak one")]
    rules = in_effect(LOT, own=own)
    found = care_due(rules, arrived_on=ARRIVED, done={}, today=date(2026, 3, 6))
    assert [(one.kind, one.what) for one in found] == [("battery", "a weak one")]
    assert [rule.said for rule in rules][-1] == "Cover: not wanted"


@pytest.mark.parametrize(
    ("volts", "system", "said"),
    [
        ("12.45", 12, "12.45 V, about 75 % charged if it had rested for hours (common practice)"),
        ("6.03", 6, "6.03 V, about 25 % charged if it had rested for hours (common practice)"),  # half of 12.06
        ("6.2", 12, "is what a 6 V battery holds"),
        ("12.4", None, "record whether the system has 6 or 12 V"),
    ],
)
def test_volts_say_the_charge_where_the_system_is_known(volts: str, system: int | None, said: str) -> None:
    assert said in reading_said(Decimal(volts), unit="V", system_volts=system)


def test_pressure_is_told_as_it_was_read() -> None:
    assert reading_said(Decimal("32.00"), unit="psi", system_volts=12) == "32 psi"


@pytest.mark.parametrize(("kind", "reading"), [("cover", "1"), ("battery", "20.1"), ("tyre_pressure", "-1")])
def test_reading_that_cannot_be_is_refused(kind: str, reading: str) -> None:
    with pytest.raises(Refused) as refusal:
        check_reading(Decimal(reading), kind=kind)
    assert reading in str(refusal.value)
