"""Clients of the API, one for each role, by token; and one vehicle as far as a test needs it."""

from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings as house
from django.utils import timezone
from rest_framework.test import APIClient

from inventory.actions import staffing
from inventory.models import ApiToken, Consignment
from inventory.rules.roles import Actor, Role
from inventory.rules.states import State
from tests import build

# The API works at the clock's time, so its rows are a day old. (At midnight UTC the lot's own day is still yesterday.)
NOW = timezone.now() - timedelta(days=1)


@pytest.fixture(autouse=True, scope="session")
def _static_folder() -> None:
    """The static files' server warns where its folder was never made; warnings are errors here."""
    Path(house.STATIC_ROOT).mkdir(parents=True, exist_ok=True)


@pytest.fixture(autouse=True)
def _own_media(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path


def client_of(role: Role) -> APIClient:
    owner = build.staff(Role.OWNER, at=NOW)
    _, token = staffing.make_token(f"{role.value} program", role=role, by=owner, at=NOW)
    ApiToken.objects.update(last_used_on=timezone.localdate())  # else the first call of the day would write it down
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Bearer {token}")
    client.default_format = "json"
    return client


@pytest.fixture
def as_owner(db: None) -> APIClient:
    return client_of(Role.OWNER)


@pytest.fixture
def as_sales(db: None) -> APIClient:
    return client_of(Role.SALES)


@pytest.fixture
def as_intake(db: None) -> APIClient:
    return client_of(Role.INTAKE)


@pytest.fixture
def stranger() -> APIClient:
    return APIClient()


@pytest.fixture
def stay(db: None) -> Callable[..., Consignment]:
    """A consignment that has come as far as a state."""

    def built(state: State = State.LISTED, **more: Any) -> Consignment:
        return build.consignment(state, at=NOW, **more)

    return built


def url(stay: Consignment, rest: str = "") -> str:
    return f"/api/v1/consignments/{stay.stock_number}/{rest}"


def said(answer: Any) -> dict[str, Any]:
    """The first error of a problem answer, checked for its shape."""
    assert answer["Content-Type"] == "application/problem+json", answer.content
    body = answer.json()
    assert body["status"] == answer.status_code
    assert body["errors"], body
    for error in body["errors"]:
        assert set(error) == {"code", "field", "message"}
    first: dict[str, Any] = body["errors"][0]
    return first


__all__ = ["Actor", "client_of", "said", "url"]
