"""Vehicles are logged and corrected through the API."""

from collections.abc import Callable
from typing import Any

import pytest
from rest_framework.test import APIClient

from inventory.models import Consignment, Consignor, LogEntry, Vehicle
from inventory.rules.states import State
from tests.api.conftest import said, url

pytestmark = pytest.mark.django_db

LOT = "/api/v1/consignments/"
ARRIVAL: dict[str, Any] = {
    "year": 1971, "make": "Merrow", "model": "Birch", "vin": "8A17J900001", "mileage": 61240,
    "consignor_name": "Cy Aldous", "consignor_email": "cy@example.org",
}  # fmt: skip
WORKED_VIN = (
    "1M8GDM9AXKP042788"  # check digit X; the worked example most often printed with 49 CFR 565.15 (from memory)
)


def test_vehicle_is_logged_and_found_again(as_intake: APIClient) -> None:
    answer = as_intake.post(LOT, ARRIVAL)
    assert answer.status_code == 201, answer.content
    made = answer.json()
    assert (made["state"], made["version"], made["ask"]) == ("on_lot", 2, None)
    assert made["may_become"] == ["inspected", "withdrawn"]
    assert made["vehicle"]["serial"] == "8A17J900001"
    assert as_intake.get(f"{LOT}{made['stock_number']}/").json() == made
    number = as_intake.get(f"{LOT}{made['stock_number']}/identity-numbers/").json()["results"][0]
    assert (number["value"], number["kind"], number["basis"]) == ("8A17J900001", "dash_plate", "seen")


def test_known_consignor_brings_a_second_vehicle(as_intake: APIClient, stay: Callable[..., Consignment]) -> None:
    known = stay().consignor
    body = {name: value for name, value in ARRIVAL.items() if not name.startswith("consignor")}
    answer = as_intake.post(LOT, body | {"consignor": str(known.code)})
    assert answer.json()["consignor"] == {"code": str(known.code), "name": known.name}
    assert Consignor.objects.count() == 1


def test_consignor_nobody_knows_is_404(as_intake: APIClient) -> None:
    answer = as_intake.post(LOT, ARRIVAL | {"consignor": "6f9619ff-8b86-4d01-b42d-00cf4fc964ff"})
    assert answer.status_code == 404
    assert not Consignment.objects.exists()


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"year": 1885}, "year"), ({"year": 2201}, "year"), ({"year": 2190}, "year"), ({"year": 10**20}, "year"),
        ({"year": "nineteen"}, "year"), ({"year": 1968.5}, "year"), ({"make": ""}, "make"),
        ({"make": "x" * 61}, "make"), ({"mileage": -1}, "mileage"), ({"mileage": 2_000_001}, "mileage"),
        ({"odometer_status": "true"}, "odometer_status"),
        ({"arrived_on": "2199-01-01"}, "arrived_on"), ({"consignor_name": ""}, "consignor_name"),
        ({"consignor_email": "nobody"}, "consignor_email"), ({"build_class": "wreck"}, "build_class"),
        ({"vin": WORKED_VIN[:8] + "1" + WORKED_VIN[9:], "year": 1989}, "vin"), ({"state": "sold"}, "state"),
        ({"stock_number": "26-9999"}, "stock_number"), ({"booked_only": "perhaps"}, "booked_only"),
    ],
)  # fmt: skip
def test_impossible_arrival_names_its_field_and_writes_nothing(
    as_intake: APIClient, change: dict[str, Any], field: str
) -> None:
    logged = LogEntry.objects.count()
    answer = as_intake.post(LOT, ARRIVAL | change)
    assert (answer.status_code, said(answer)["field"]) == (400, field)
    assert not Consignment.objects.exists()
    assert not Vehicle.objects.exists()
    assert LogEntry.objects.count() == logged


def test_wrong_check_digit_passes_with_a_reason(as_intake: APIClient) -> None:
    wrong = WORKED_VIN[:8] + "1" + WORKED_VIN[9:]
    body = ARRIVAL | {"vin": wrong, "year": 1989, "vin_reason": "plate is worn, read twice"}
    assert as_intake.post(LOT, body).status_code == 201
    assert as_intake.post(LOT, ARRIVAL | {"vin": WORKED_VIN, "year": 1989}).status_code == 201


def test_second_open_consignment_of_one_vehicle_is_400(as_intake: APIClient, stay: Callable[..., Consignment]) -> None:
    here = stay(State.ON_LOT)
    same = {"vin": here.vehicle.serial, "year": here.vehicle.year, "make": here.vehicle.make}
    answer = as_intake.post(LOT, ARRIVAL | same)
    assert (answer.status_code, said(answer)["code"], said(answer)["field"]) == (400, "already_here", "vin")
    assert here.stock_number in said(answer)["message"]
    assert Consignment.objects.count() == 1


def test_stay_is_corrected_at_its_version(as_intake: APIClient, stay: Callable[..., Consignment]) -> None:
    built = stay(State.ON_LOT)
    answer = as_intake.patch(url(built), {"version": built.version, "mileage": None, "note": "keys in the box"})
    assert answer.status_code == 200
    corrected = answer.json()
    assert (corrected["mileage"], corrected["note"]) == (None, "keys in the box")
    assert corrected["version"] == built.version + 1


def test_stale_version_is_409_with_the_current_one(as_intake: APIClient, stay: Callable[..., Consignment]) -> None:
    built = stay(State.ON_LOT)
    answer = as_intake.patch(url(built), {"version": built.version - 1, "mileage": 5})
    assert answer.status_code == 409
    assert said(answer)["code"] == "stale_version"
    assert answer.json()["current_version"] == built.version
    built.refresh_from_db()
    assert built.mileage == 61240


@pytest.mark.parametrize("kind", ["vehicle", "consignor"])
def test_vehicle_and_consignor_have_versions_too(
    as_intake: APIClient, stay: Callable[..., Consignment], kind: str
) -> None:
    row = getattr(stay(State.ON_LOT), kind)
    address = f"/api/v1/{kind}s/{row.code}/"
    change = {"color": "dark green"} if kind == "vehicle" else {"phone": "555-0100"}
    first = as_intake.patch(address, {"version": row.version, **change})
    assert (first.status_code, first.json()["version"]) == (200, row.version + 1)
    second = as_intake.patch(address, {"version": row.version, **change})
    assert (second.status_code, second.json()["current_version"]) == (409, row.version + 1)


@pytest.mark.parametrize("body", [{}, {"version": 0}, {"version": None}, {"version": "x"}, {"version": 10**30}])
def test_correction_needs_a_version(
    as_intake: APIClient, stay: Callable[..., Consignment], body: dict[str, Any]
) -> None:
    built = stay(State.ON_LOT)
    for address in (
        url(built), f"/api/v1/vehicles/{built.vehicle.code}/", f"/api/v1/consignors/{built.consignor.code}/",
    ):  # fmt: skip
        answer = as_intake.patch(address, body)
        assert (answer.status_code, said(answer)["field"]) == (400, "version")


def test_state_and_terms_cannot_be_patched(as_owner: APIClient, stay: Callable[..., Consignment]) -> None:
    built = stay(State.ON_LOT)
    for name in ("state", "stock_number", "ask", "floor", "version_"):
        answer = as_owner.patch(url(built), {"version": built.version, name: "x"})
        assert (answer.status_code, said(answer)["field"], said(answer)["code"]) == (400, name, "unknown")


def test_number_of_another_vehicle_is_refused(as_intake: APIClient, stay: Callable[..., Consignment]) -> None:
    one, other = stay(State.ON_LOT), stay(State.ON_LOT)
    answer = as_intake.patch(
        f"/api/v1/vehicles/{one.vehicle.code}/", {"version": one.vehicle.version, "vin": other.vehicle.serial}
    )
    assert (answer.status_code, said(answer)["field"]) == (400, "vin")


def test_reason_without_a_number_is_refused(as_intake: APIClient, stay: Callable[..., Consignment]) -> None:
    vehicle = stay(State.ON_LOT).vehicle
    answer = as_intake.patch(f"/api/v1/vehicles/{vehicle.code}/", {"version": vehicle.version, "vin_reason": "worn"})
    assert (answer.status_code, said(answer)["field"]) == (400, "vin")
