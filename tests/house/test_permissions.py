"""Every screen × every role, built from the addresses themselves: a new one without an act fails here."""

import uuid
from datetime import UTC, datetime
from typing import Any

import pytest
from django.test import Client
from django.urls import URLPattern, reverse

from inventory.errors import NotAllowed
from inventory.pages.urls import urlpatterns
from inventory.rules.roles import GRANTS, STAFF_ROLES, Act, Actor, Role, command, may, require
from tests import build

OPEN_TO_ALL = {
    "sign_in", "open_link", "status", "status_photo", "walk_worker", "status_small_photo", "status_clip",
    "status_receipt", "status_agree", "status_statement", "status_agreement", "status_release", "status_ask",
    "status_mail", "status_nothing", "for_sale_list", "for_sale", "for_sale_photo", "for_sale_small_photo",
    "for_sale_feed_json", "for_sale_feed_csv",
}  # fmt: skip
SIGNED_IN = {"sign_out", "change_password"}
NOW = datetime(2026, 3, 16, 15, 0, tzinfo=UTC)
GUARDED = [route for route in urlpatterns if route.name not in OPEN_TO_ALL | SIGNED_IN]


def address(route: URLPattern, *, stock_number: str) -> str:
    known: dict[str, Any] = {
        "stock_number": stock_number, "code": uuid.uuid4(), "station": "front", "deed": "offer", "component": "engine",
        "section": "tyres", "key": "check-1", "figure": "condition", "kind": "arrived",
    }  # fmt: skip
    names = route.pattern.converters
    return reverse(route.name or "", kwargs={name: known.get(name, 1) for name in names})


def answered(client: Client, path: str) -> Any:
    """The answer to the method that the address takes."""
    response = client.get(path)
    return client.post(path) if response.status_code == 405 else response


@pytest.mark.parametrize("route", GUARDED, ids=lambda route: route.name)
def test_route_names_its_act(route: URLPattern) -> None:
    assert isinstance(getattr(route.callback, "act", None), Act)


@pytest.mark.django_db
@pytest.mark.parametrize("role", STAFF_ROLES)
def test_role_opens_what_it_may_and_nothing_else(client: Client, role: Role) -> None:
    stay = build.consignment(build.State.LISTED, at=NOW)
    build.staff(role, at=NOW)
    client.login(username=f"the-{role.value}", password=build.PASSWORD)
    for route in GUARDED:
        act = route.callback.act  # type: ignore[attr-defined]
        status = answered(client, address(route, stock_number=stay.stock_number)).status_code
        assert (status != 403) == (role in GRANTS[act]), (route.name, status)
        assert status < 500, route.name


@pytest.mark.django_db
def test_stranger_is_asked_to_sign_in_everywhere(client: Client) -> None:
    stay = build.consignment(build.State.LISTED, at=NOW)
    for route in [*GUARDED, *(route for route in urlpatterns if route.name in SIGNED_IN)]:
        response = answered(client, address(route, stock_number=stay.stock_number))
        assert response.status_code == 302, route.name
        assert "/sign-in/" in response["Location"], route.name


@pytest.mark.parametrize("act", list(Act))
def test_every_act_is_granted_to_somebody(act: Act) -> None:
    assert GRANTS[act]


def test_a_refusal_says_whom_to_ask(intake_actor: Actor) -> None:
    with pytest.raises(NotAllowed, match=r"Intake staff may not set the ask\. Ask owner\."):
        require(intake_actor, Act.SET_ASK)


def test_a_command_acts_as_owner() -> None:
    assert may(command("fit"), Act.APPROVE_SETTLEMENT)
    assert not may(command("fit"), Act.SEE_STATUS)


@pytest.fixture
def intake_actor() -> Actor:
    return Actor(kind=command("x").kind, role=Role.INTAKE, name="Ines")
