"""The people of the lot and one moment in time, for every test."""

from collections.abc import Iterator
from datetime import UTC, datetime

import pytest
from django.contrib.auth.signals import user_logged_in
from django.db import connection
from django.http import HttpRequest
from pytest_django import DjangoDbBlocker, Settings

from inventory import bridge
from inventory.models import User
from inventory.pages import signed_in
from inventory.rules.roles import Actor, ActorKind, Role
from tests import build
from tests.learning import learned_before

NOW = datetime(2026, 3, 16, 15, 0, tzinfo=UTC)


@pytest.fixture(autouse=True)
def quick_passwords(settings: Settings) -> None:
    """Argon2 is slow on purpose; a test that signs somebody in need not be."""
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]


@pytest.fixture(autouse=True)
def signed_in_as_by_the_page(settings: Settings) -> Iterator[None]:
    """`client.login` and `force_login` pass the sign-in page by: no wrong tries are counted, and what the page notes
    in a session (that a password was typed just now) is noted here."""
    settings.AXES_ENABLED = False
    user_logged_in.connect(_noted)
    yield
    user_logged_in.disconnect(_noted)


def _noted(request: HttpRequest, user: User, **_: object) -> None:
    signed_in.note(request, user_id=user.pk)
    signed_in.stamp_check(request)


@pytest.fixture(scope="session", autouse=True)
def nobody_else_at_the_end(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[None]:
    """A server thread of the browser tests may keep its connection: PostgreSQL then refuses to drop the database."""
    yield
    with django_db_blocker.unblock():
        if connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                cursor.execute(
                    "SELECT pg_terminate_backend(pid) FROM pg_stat_activity "
                    "WHERE datname = current_database() AND pid <> pg_backend_pid()"
                )


@pytest.fixture
def learned_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """For tests that only need a fit to be there."""
    monkeypatch.setattr(bridge, "learn", learned_before)


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
