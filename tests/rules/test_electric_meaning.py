"""What battery and brake fluid say."""

from decimal import Decimal

import pytest

from inventory.rules.electric_meaning import Electrics, read_electrics


@pytest.mark.parametrize(
    ("volts", "system", "told"),
    # The trade's table for 12 V at rest: 12.65 full, 12.45 75 %, 12.24 50 %, 12.06 25 %, 11.89 flat; half for 6 V.
    [("12.65", 12, "100 %"), ("12.45", 12, "75 %"), ("12.24", 12, "50 %"), ("11.89", 12, "0 %"), ("6.12", 6, "50 %")],
)
def test_battery_at_rest_tells_its_charge(volts: str, system: int, told: str) -> None:
    said = read_electrics(Electrics(rest_volts=Decimal(volts), system_volts=system, rest_hours=Decimal(12)))
    (meaning,) = said.meanings
    assert meaning.text == f"About {told} charged (common practice)."
    assert said.questions == ()


def test_battery_without_its_system_or_hours_says_so() -> None:
    (meaning,) = read_electrics(Electrics(rest_volts=Decimal("12.4"))).meanings
    assert "6 or 12 V" in meaning.text
    (meaning,) = read_electrics(Electrics(rest_volts=Decimal("12.45"), system_volts=12)).meanings
    assert "75 % charged, if it had rested for hours" in meaning.text


@pytest.mark.parametrize(
    ("electrics", "told"),
    [
        (Electrics(rest_volts=Decimal("13.9"), system_volts=12), "more than a 12 V battery holds at rest"),
        (Electrics(rest_volts=Decimal("6.3"), system_volts=12), "what a 6 V battery holds"),
        (Electrics(rest_volts=Decimal("12.4"), rest_hours=Decimal("0.5")), "rested for 0.5 hours"),
        (Electrics(rest_volts=Decimal("12.4"), charging_volts=Decimal("12.4")), "no more than the 12.4 V at rest"),
        (Electrics(fluid_kind="dot_4", fluid_colour="purple"), "stated as DOT 4"),
        (Electrics(fluid_kind="dot_5", fluid_colour="clear_to_amber"), "as DOT 3 and DOT 4 are"),
        (Electrics(fluid_colour="dark"), "when it was last changed"),
    ],
)
def test_contradiction_is_asked(electrics: Electrics, told: str) -> None:
    (question,) = read_electrics(electrics).questions
    assert told in question.text


@pytest.mark.parametrize(
    ("kind", "colour"),
    [("dot_3", "clear_to_amber"), ("dot_5", "purple"), ("dot_4", ""), ("other", "purple"), ("dot_3", "other")],
)
def test_fluid_that_agrees_or_is_not_known_asks_nothing(kind: str, colour: str) -> None:
    assert read_electrics(Electrics(fluid_kind=kind, fluid_colour=colour)).questions == ()


def test_fluid_tells_its_boiling_points() -> None:
    # FMVSS 116: DOT 4 446 °F dry, 311 °F wet.
    (meaning,) = read_electrics(Electrics(fluid_kind="dot_4")).meanings
    assert "boils at 446 °F fresh, 311 °F with water in it" in meaning.text


def test_hours_and_charging_in_order_ask_nothing() -> None:
    fine = Electrics(rest_volts=Decimal("12.5"), rest_hours=Decimal(4), charging_volts=Decimal("14.1"))
    assert read_electrics(fine).questions == ()
