"""The people of the lot and one moment in time, for every test."""

from datetime import UTC, datetime

import pytest
from pytest_django import Settings

from inventory.rules.roles import Actor, ActorKind, Role
from tests import build

NOW = datetime(2026, 3, 16, 15, 0, tzinfo=UTC)


@pytest.fixture(autouse=True)
def quick_passwords(settings: Settings) -> None:
    """Argon2 is slow on purpose; a test that signs somebody in need not be."""
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]


@pytest.fixture
def at() -> datetime:
    return NOW


@pytest.fixture
def owner(db: None) -> Actor:
    return build.staff(Role.OWNER, at=NOW)


@pytest.fixture
def intake(db: None) -> Actor:
    return build.staff(Role.INTAKE, at=NOW)


@pytest.fixture
def sales(db: None) -> Actor:
    return build.staff(Role.SALES, at=NOW)


@pytest.fixture
def consignor() -> Actor:
    return Actor(kind=ActorKind.LINK, role=Role.CONSIGNOR, name="consignor's link", consignment_id=1)
