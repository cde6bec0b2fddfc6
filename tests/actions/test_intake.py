"""A vehicle arrives: what is accepted, what is questioned, what is refused."""

import uuid
from dataclasses import replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from inventory.actions import intake as intaking
from inventory.actions import recording
from inventory.errors import NotAllowed, NotFound, Refused, TooLate
from inventory.models import Consignment, Consignor, LogEntry, Modification, Photo, Vehicle
from inventory.rules.roles import Actor
from inventory.rules.states import State
from inventory.uploads import CleanPicture
from tests import build

pytestmark = pytest.mark.django_db
WRONG_DIGIT = "1M8GDM9A8KP042788"  # the textbook number's check digit is X


def log(by: Actor, at: datetime, **changes: Any) -> Consignment:
    return intaking.log_vehicle(replace(build.ARRIVAL, **changes), by=by, at=at)


def test_arrival_is_logged_whole(intake: Actor, at: datetime) -> None:
    stay = log(intake, at)
    assert (stay.state, stay.stock_number, stay.arrived_on) == (State.ON_LOT, "26-0001", date(2026, 3, 16))
    assert stay.odometer_status == "not_stated"
    assert stay.vehicle.identity_numbers.get().kind == "dash_plate"
    assert set(LogEntry.objects.values_list("action", flat=True)) >= {"vehicle.logged", "consignment.moved"}


def test_stock_numbers_count_up_and_are_never_reused(intake: Actor, at: datetime) -> None:
    numbers = [log(intake, at, vin=build.serial(count)).stock_number for count in range(3)]
    assert numbers == ["26-0001", "26-0002", "26-0003"]


def test_booked_vehicle_is_not_here_yet(intake: Actor, at: datetime) -> None:
    stay = log(intake, at, booked_only=True)
    assert (stay.state, stay.arrived_on) == (State.BOOKED, None)


def test_wrong_check_digit_is_refused_without_and_kept_with_a_reason(intake: Actor, at: datetime) -> None:
    with pytest.raises(Refused) as refusal:
        log(intake, at, vin=WRONG_DIGIT, year=1989)
    assert refusal.value.field == "vin"
    assert not Vehicle.objects.exists()
    stay = log(intake, at, vin=WRONG_DIGIT, year=1989, vin_reason="plate read twice")
    assert (stay.vehicle.serial_kind, stay.vehicle.serial_reason) == ("vin", "plate read twice")
    assert LogEntry.objects.filter(action="vehicle.serial_overridden").exists()


def test_reason_without_a_warning_is_not_kept(intake: Actor, at: datetime) -> None:
    assert log(intake, at, vin_reason="just so").vehicle.serial_reason == ""


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"year": 1066}, "year"),
        ({"year": 2031}, "year"),
        ({"arrived_on": date(2026, 3, 17)}, "arrived_on"),
        ({"mileage": 3_000_000}, "mileage"),
        ({"consignor_name": " "}, "name"),
        ({"consignor_id": 99}, "consignor"),
        ({"build_class": "nice"}, "build_class"),
        ({"make": ""}, "make"),
    ],
)
def test_impossible_arrival_is_refused_and_nothing_kept(
    intake: Actor, at: datetime, change: dict[str, Any], field: str
) -> None:
    with pytest.raises(Refused) as refusal:
        log(intake, at, **change)
    assert refusal.value.field == field
    assert not Vehicle.objects.exists()
    assert not Consignor.objects.exists()


def test_vehicle_without_a_number_is_logged(intake: Actor, at: datetime) -> None:
    assert log(intake, at, vin="").vehicle.serial_kind == "none"


def test_known_vehicle_comes_back_as_itself(intake: Actor, at: datetime) -> None:
    first = build.consignment(State.RELEASED, at=at)
    again = log(intake, at + timedelta(days=30), vin=first.vehicle.serial, color="red")
    assert again.vehicle_id == first.vehicle_id
    assert again.vehicle.color == "red"


def test_known_consignor_is_taken(intake: Actor, at: datetime) -> None:
    person = log(intake, at).consignor
    assert log(intake, at, vin=build.serial(7), consignor_id=person.pk).consignor_id == person.pk
    assert Consignor.objects.count() == 1


def test_sales_staff_do_not_log_vehicles(sales: Actor, at: datetime) -> None:
    with pytest.raises(NotAllowed):
        log(sales, at)


def test_correction_keeps_what_was(intake: Actor, at: datetime) -> None:
    vehicle = log(intake, at).vehicle
    changed = correct(vehicle, {"color": "bronze", "year": 1969}, by=intake, at=at, version=vehicle.version)
    assert (changed.color, changed.year, changed.version) == ("bronze", 1969, vehicle.version + 1)
    entry = LogEntry.objects.get(action="vehicle.corrected")
    assert entry.data["was"] == {"color": "", "year": 1968}
    assert correct(vehicle, {"color": "bronze"}, by=intake, at=at).version == changed.version


def test_correction_of_an_older_version_is_refused(intake: Actor, at: datetime) -> None:
    vehicle = log(intake, at).vehicle
    with pytest.raises(TooLate) as refusal:
        correct(vehicle, {"color": "red"}, by=intake, at=at, version=vehicle.version + 1)
    assert refusal.value.got == vehicle.version


def test_number_of_another_vehicle_is_refused(intake: Actor, at: datetime) -> None:
    first, second = (log(intake, at, vin=build.serial(count)).vehicle for count in (1, 2))
    with pytest.raises(Refused) as refusal:
        correct(second, {"vin": first.serial, "vin_reason": ""}, by=intake, at=at)
    assert refusal.value.code == "number_known"
    assert correct(second, {"vin": build.serial(3)}, by=intake, at=at).serial == build.serial(3)


def test_correction_of_nothing_is_refused(intake: Actor, at: datetime) -> None:
    with pytest.raises(NotFound):
        intaking.correct_vehicle(99, values={}, by=intake, at=at)


def correct(
    vehicle: Vehicle, values: dict[str, Any], *, by: Actor, at: datetime, version: int | None = None
) -> Vehicle:
    return intaking.correct_vehicle(vehicle.pk, values=values, by=by, at=at, version=version)


def test_facts_of_the_stay_are_corrected_and_others_not(intake: Actor, at: datetime) -> None:
    stay = log(intake, at)
    changed = recording.correct_consignment(stay.pk, values={"mileage": 61250}, by=intake, at=at, version=stay.version)
    assert changed.mileage == 61250
    for values, field in (({"state": "sold"}, "state"), ({"arrived_on": date(2026, 4, 1)}, "arrived_on")):
        with pytest.raises(Refused) as refusal:
            recording.correct_consignment(stay.pk, values=values, by=intake, at=at)
        assert refusal.value.field == field
    same = recording.correct_consignment(stay.pk, values={"mileage": 61250}, by=intake, at=at)
    assert same.version == changed.version


def test_consignor_is_corrected_with_a_version(intake: Actor, at: datetime) -> None:
    person = log(intake, at).consignor
    changed = recording.correct_consignor(person.pk, values={"phone": "555-0111"}, by=intake, at=at, version=1)
    assert (changed.phone, changed.version) == ("555-0111", 2)
    with pytest.raises(TooLate):
        recording.correct_consignor(person.pk, values={"phone": "555-0112"}, by=intake, at=at, version=1)
    with pytest.raises(NotFound):
        recording.correct_consignor(99, values={}, by=intake, at=at)


def test_modification_sent_twice_counts_once(intake: Actor, at: datetime) -> None:
    stay, key = log(intake, at), uuid.UUID(int=7)
    for _ in range(2):
        recording.add_modification(
            stay.pk, kind="brakes", what="Discs in front", fitting="bolt_on", basis="seen", workmanship=3,
            client_key=key, by=intake, at=at,
        )  # fmt: skip
    assert Modification.objects.count() == 1


def test_same_photo_is_kept_once(intake: Actor, at: datetime, settings: Any, tmp_path: Any) -> None:
    settings.MEDIA_ROOT = tmp_path
    stay = log(intake, at)
    for _ in range(2):
        recording.add_photo(stay.pk, picture=CleanPicture(b"pixels", "jpg", None), caption="front", by=intake, at=at)
    assert Photo.objects.get().caption == "front"


def test_place_and_keys_are_appended(intake: Actor, at: datetime) -> None:
    stay = log(intake, at)
    recording.record_place(stay.pk, place="Bay 3", keys="Hook 3", by=intake, at=at)
    recording.record_place(stay.pk, place="Shop", by=intake, at=at)
    assert [row.place for row in stay.movements.order_by("pk")] == ["Bay 3", "Shop"]


def test_owner_changes_the_lots_settings(owner: Actor, intake: Actor, at: datetime) -> None:
    row = recording.change_lot({"pay_within_days": 10, "carrying_cost_per_day": Decimal("12.00")}, by=owner, at=at)
    assert row.pay_within_days == 10
    with pytest.raises(Refused):
        recording.change_lot({"coverage_percent": 99}, by=owner, at=at)
    with pytest.raises(NotAllowed):
        recording.change_lot({"pay_within_days": 5}, by=intake, at=at)
