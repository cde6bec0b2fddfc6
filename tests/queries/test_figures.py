"""The figures that count, each on its own basis, and what they ask together."""

from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.actions import figures
from inventory.actions.figures import Measured
from inventory.models import Consignment
from inventory.queries.figures import Part, VehicleFigures, figures_of
from inventory.rules.states import State
from tests import build

pytestmark = pytest.mark.django_db


@pytest.fixture
def stay(at: datetime) -> Consignment:
    return build.consignment(at=at)


def say(part: str, stay: Consignment, at: datetime, basis: str = "seen", note: str = "", **given: Any) -> None:
    record: Any = getattr(figures, f"record_{part}")
    more = {"position": given.pop("position", "left_front")} if part == "tyre" else {}
    record(stay.pk, measured=Measured(figures=given, basis=basis, note=note), by=build.BUILDER, at=at, **more)


def found(stay: Consignment, at: datetime) -> VehicleFigures:
    return figures_of(stay, today=at.date())


def said(part: Part) -> dict[str, tuple[str, str]]:
    return {one.name: (one.shown, one.basis) for one in part.stated}


def test_each_figure_keeps_the_basis_it_was_given_on(stay: Consignment, at: datetime) -> None:
    say("engine", stay, at, "told", bore_in="4.000", stroke_in="3.48")
    say("engine", stay, at, "measured", compression_psi=["150", "148"], cylinders=8, bore_in="4.03")
    assert said(found(stay, at).engine) == {
        "bore_in": ("4.03 in", "measured"), "stroke_in": ("3.48 in", "told"), "cylinders": ("8", "measured"),
        "compression_psi": ("150, 148 psi", "measured"),
    }  # fmt: skip


def test_figure_taken_back_no_longer_counts_until_it_is_given_again(stay: Consignment, at: datetime) -> None:
    say("tyre", stay, at, size="P235/75R15", tin="3107")
    say("tyre", stay, at, size="")
    assert said(found(stay, at).tyres[0]) == {"tin": ("3107", "seen")}
    say("tyre", stay, at, size="P205/75R15")
    assert said(found(stay, at).tyres[0])["size"] == ("P205/75R15", "seen")


def test_unit_and_hours_are_shown_with_their_figure(stay: Consignment, at: datetime) -> None:
    say("engine", stay, at, stated_displacement="5.70", displacement_unit="litre")
    say("electric", stay, at, rest_volts="12.50", rest_hours="12", system_volts=12, fluid_kind="dot_3")
    assert said(found(stay, at).engine) == {"stated_displacement": ("5.7 L", "seen")}
    assert said(found(stay, at).electrics) == {
        "system_volts": ("12 V", "seen"), "rest_volts": ("12.5 V, 12 hours at rest", "seen"),
        "fluid_kind": ("DOT 3", "seen"),
    }  # fmt: skip


def test_new_voltage_is_not_shown_with_old_hours(stay: Consignment, at: datetime) -> None:
    say("electric", stay, at, rest_volts="12.5", rest_hours="12")
    say("electric", stay, at, rest_volts="12.2")
    assert said(found(stay, at).electrics) == {"rest_volts": ("12.2 V", "seen")}


def test_road_speed_takes_the_tyre_of_the_driven_axle_and_the_red_line_of_the_engine(
    stay: Consignment, at: datetime
) -> None:
    # 5500 rpm, 3.73, 28.88 in: 126.7 mph (336 = 63360 ÷ 60π); the rear axle where nobody said otherwise.
    say("tyre", stay, at, position="left_front", size="P205/75R15")
    say("tyre", stay, at, position="left_rear", size="P235/75R15")
    say("engine", stay, at, redline_rpm=5500)
    say("driveline", stay, at, axle_ratio="3.73", top_gear_ratio="1", claimed_top_mph=140)
    page = found(stay, at)
    assert ["126.7 mph" in meaning.text for meaning in page.driveline.also] == [True]
    assert [question.where for question in page.questions] == ["Driveline, road speed"]
    say("driveline", stay, at, driven_axle="front")
    assert ["118.9 mph" in meaning.text for meaning in found(stay, at).driveline.also] == [True]


def test_questions_of_all_parts_are_together_with_what_stops_drives_first(stay: Consignment, at: datetime) -> None:
    say("tyre", stay, at, position="right_front", size="P215/75R15", rim="14x6")
    say("tyre", stay, at, position="left_front", size="P205/75R15", tin="439")
    say("engine", stay, at, vacuum_inhg="12")
    say("electric", stay, at, fluid_colour="dark")
    places = [(question.where, question.stops_drives) for question in found(stay, at).questions]
    assert places == [
        ("Front axle", True), ("Tyre, left front", True), ("Tyre, right front", False), ("Engine, vacuum", False),
        ("Brake fluid", False),
    ]  # fmt: skip


def test_nothing_recorded_says_nothing(stay: Consignment, at: datetime) -> None:
    page = found(stay, at)
    assert (page.measured, page.questions) == ((), ())
    assert len(page.tyres) == 6


def test_latest_note_is_shown_and_counts_as_recorded(stay: Consignment, at: datetime) -> None:
    say("tyre", stay, at, position="spare", note="no spare there")
    (part,) = found(stay, at).measured
    assert (part.note, part.stated) == ("no spare there", ())


def test_in_short_names_what_stands_on_a_tyre_and_counts_the_rest(stay: Consignment, at: datetime) -> None:
    say("tyre", stay, at, size="P205/75R15", tin="3107")
    say("engine", stay, at, cylinders=8)
    say("driveline", stay, at, axle_ratio="3.73", top_gear_ratio="1")
    assert [part.in_short for part in found(stay, at).measured] == ["P205/75R15, 3107", "one figure", "2 figures"]


def test_figures_belong_to_the_vehicle_and_its_earlier_odometer_is_held_against_it(at: datetime) -> None:
    before = at - timedelta(days=300)
    first = build.consignment(State.RELEASED, at=before, mileage=99_800)
    say("tyre", first, before, size="P205/75R15")
    again = build.consignment(at=at, mileage=1_240, vin=first.vehicle.serial)
    assert again.vehicle_id == first.vehicle_id
    page = found(again, at)
    assert page.tyres[0].stated[0].shown == "P205/75R15"
    (question,) = page.questions
    assert (question.where, question.section) == ("Odometer", "49 CFR 580.5")
    assert "101,240 miles or more" in question.text
    (other,) = found(first, at).questions
    assert other.where == f"Odometer, {again.stock_number}"


def test_status_and_exemption_of_the_odometer_are_told(at: datetime) -> None:
    stay = build.consignment(at=at, year=2012, make="Tarn", vin="", mileage=61_240)
    part = found(stay, at).odometer
    assert [one.shown for one in part.stated] == ["61,240 miles", "status not stated"]
    assert ["exempt only from 2032-01-01" in meaning.text for meaning in part.also] == [True]  # 49 CFR 580.17(a)
    assert [question.where for question in part.questions] == ["Odometer, status"]


def test_queries_stay_as_many_with_many_statements(stay: Consignment, at: datetime) -> None:
    def count() -> int:
        with CaptureQueriesContext(
            connection,
        ) as captured:
            found(Consignment.objects.select_related("vehicle").get(pk=stay.pk), at)
        return len(captured)

    few = count()
    for number in range(10):
        say("tyre", stay, at, size=f"P{205 + 10 * number}/75R15")
        say("engine", stay, at, redline_rpm=5000 + number)
        say("electric", stay, at, rest_volts=Decimal(12))
    assert count() == few
