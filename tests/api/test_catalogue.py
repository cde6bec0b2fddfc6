"""What a vehicle is asked, and the weights in force, by the API."""

from collections.abc import Callable
from typing import Any

import pytest
from rest_framework.test import APIClient

from inventory.actions import inspecting
from inventory.models import Consignment, ScorePolicy
from inventory.rules.catalogue import CHECKS, STATIONS
from inventory.rules.scores import FIRST_POLICY
from inventory.rules.states import State
from tests.api import rows
from tests.api.conftest import url
from tests.api.rows import DEED

pytestmark = pytest.mark.django_db


def asked(client: APIClient, stay: Consignment) -> dict[str, Any]:
    answer = client.get(url(stay, "questions/"))
    assert answer.status_code == 200, answer.content
    told: dict[str, Any] = answer.json()
    return told


def checks_of(told: dict[str, Any]) -> dict[str, Any]:
    return {check["code"]: check for station in told["stations"] for check in station["checks"]}


def test_questions_follow_what_the_vehicle_has(as_sales: APIClient, stay: Callable[..., Consignment]) -> None:
    built = stay(State.ON_LOT)
    told = asked(as_sales, built)
    assert [station["code"] for station in told["stations"]] == [station.code for station in STATIONS]
    assert (told["policy"], set(checks_of(told))) == (None, set(CHECKS))
    disc = checks_of(told)["underside.discs"]
    assert (disc["unit"], disc["weight"], disc["compared_with"]) == (
        "inches", CHECKS["underside.discs"].weight, "Maker's figure, inches",
    )  # fmt: skip
    assert "570" in disc["limit"]
    assert checks_of(told)["front.hood"]["limit"] == ""
    inspecting.record_feature(built.pk, feature="front_discs", present=False, **DEED)
    inspecting.record_feature(built.pk, feature="rear_discs", present=False, **DEED)
    inspecting.record_feature(built.pk, feature="carburettor", present=False, **DEED)
    narrowed = set(checks_of(asked(as_sales, built)))
    assert "cold_start.choke" not in narrowed
    assert narrowed < set(CHECKS)


def test_shots_follow_what_the_vehicle_has(as_sales: APIClient, stay: Callable[..., Consignment]) -> None:
    built = stay(State.ON_LOT)
    shot = next(shot for station in STATIONS for shot in station.shots if shot.needs)

    def wanted() -> set[str]:
        return {one["code"] for station in asked(as_sales, built)["stations"] for one in station["shots"]}

    assert shot.code in wanted()
    inspecting.record_feature(built.pk, feature=next(iter(shot.needs)), present=False, **DEED)
    assert shot.code not in wanted()


def test_weights_in_force_are_the_houses_until_the_lot_has_its_own(
    as_intake: APIClient, stay: Callable[..., Consignment]
) -> None:
    built = stay(State.ON_LOT)
    first = as_intake.get("/api/v1/policy/").json()
    assert (first["number"], first["by"], first["at"]) == (None, "", None)
    assert first["weights"] == {part: FIRST_POLICY[part] for part in FIRST_POLICY}
    own = {"checks": {"front.hood": 9}, "components": {"engine": 12}}
    for number, weights in ((4, own), (3, FIRST_POLICY)):
        ScorePolicy.objects.create(number=number, weights=weights, by="owner", at=rows.NOW)
    latest = as_intake.get("/api/v1/policy/").json()
    assert (latest["number"], latest["weights"], latest["by"]) == (4, own, "owner")
    told = asked(as_intake, built)
    assert told["policy"] == 4
    assert (checks_of(told)["front.hood"]["weight"], checks_of(told)["front.lamps"]["weight"]) == (9, None)
