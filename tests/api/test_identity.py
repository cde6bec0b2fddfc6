"""Identity numbers, their questions and what the owner decided, through the API."""

from collections.abc import Callable
from typing import Any

import pytest
from rest_framework.test import APIClient

from inventory.models import Consignment, IdentityResolution
from inventory.rules.states import State
from tests.api import rows
from tests.api.conftest import said, url
from tests.api.test_intake import ARRIVAL, LOT
from tests.pages.test_identity import GOOD, WRONG

pytestmark = pytest.mark.django_db
SAID = {"question": rows.DISAGREEMENT, "reason": "one digit of the title is a typing slip"}


@pytest.mark.parametrize(("vin", "year"), GOOD)
def test_right_number_of_any_era_is_taken(as_intake: APIClient, vin: str, year: int) -> None:
    assert as_intake.post(LOT, ARRIVAL | {"vin": vin, "year": year}).status_code == 201


@pytest.mark.parametrize(("vin", "year", "asked"), WRONG)
def test_odd_number_is_400_on_its_field_and_passes_with_a_reason(
    as_intake: APIClient, vin: str, year: int, asked: str
) -> None:
    body = ARRIVAL | {"vin": vin, "year": year}
    answer = as_intake.post(LOT, body)
    assert (answer.status_code, said(answer)["field"]) == (400, "vin")
    assert asked in said(answer)["message"]
    assert as_intake.post(LOT, body | {"vin_reason": "read twice"}).status_code == 201


def test_years_titled_and_built_stand_apart(as_intake: APIClient, stay: Callable[..., Consignment]) -> None:
    vehicle = stay(State.ON_LOT).vehicle
    address = f"/api/v1/vehicles/{vehicle.code}/"
    assert as_intake.get(address).json()["year_built"] is None
    answer = as_intake.patch(address, {"version": vehicle.version, "year_built": 1967})
    assert (answer.json()["year"], answer.json()["year_built"]) == (1968, 1967)
    for year in (1066, 2190):
        refused = as_intake.patch(address, {"version": vehicle.version + 1, "year_built": year})
        assert (refused.status_code, said(refused)["field"]) == (400, "year_built")


def test_number_is_recorded_with_its_place(as_intake: APIClient, stay: Callable[..., Consignment]) -> None:
    body = {"kind": "assigned_number", "value": "KS-4471", "basis": "seen", "place": "left door post"}
    answer = as_intake.post(url(stay(State.ON_LOT), "identity-numbers/"), body)
    assert {name: answer.json()[name] for name in ("kind", "value", "place")} == {
        "kind": "assigned_number", "value": "KS4471", "place": "left door post",
    }  # fmt: skip


def test_owner_resolves_and_the_word_is_listed(as_owner: APIClient, stay: Callable[..., Consignment]) -> None:
    built = stay(State.ON_LOT)
    rows.disagreeing(built)
    answer = as_owner.post(url(built, "identity-resolution/"), SAID)
    assert answer.status_code == 201
    assert {name: answer.json()[name] for name in SAID} == SAID
    assert as_owner.get(url(built, "identity-resolution/")).json()["results"] == [answer.json()]


@pytest.mark.parametrize(
    ("change", "status", "field"),
    [
        ({"question": "Another one."}, 409, "question"), ({"reason": ""}, 400, "reason"),
        ({"reason": "x" * 401}, 400, "reason"), ({"by": "somebody"}, 400, "by"),
    ],
)  # fmt: skip
def test_what_cannot_be_resolved_names_its_field(
    as_owner: APIClient, stay: Callable[..., Consignment], change: dict[str, Any], status: int, field: str
) -> None:
    built = stay(State.ON_LOT)
    rows.disagreeing(built)
    answer = as_owner.post(url(built, "identity-resolution/"), SAID | change)
    assert (answer.status_code, said(answer)["field"]) == (status, field)
    assert not IdentityResolution.objects.exists()


def test_agreeing_numbers_leave_nothing_to_resolve(as_owner: APIClient, stay: Callable[..., Consignment]) -> None:
    answer = as_owner.post(url(stay(State.LISTED), "identity-resolution/"), SAID)
    assert (answer.status_code, said(answer)["code"]) == (400, "nothing_to_resolve")
