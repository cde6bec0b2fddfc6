"""What people and programs are told when a request cannot be answered, and that nothing is half-saved."""

import errno
import sqlite3
from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import datetime
from typing import Any, cast

import psycopg
import pytest
from django.core.exceptions import RequestDataTooBig
from django.db import IntegrityError, InterfaceError, OperationalError, connection
from django.http import UnreadablePostError
from django.test import Client, RequestFactory
from django.urls import reverse

from inventory import failures
from inventory.failures import Kind
from inventory.models import AskChange, LogEntry
from inventory.rules.roles import Role
from tests import build
from tests.pages.browse import sign_in, text_of, url


def wrapped(outer: type[Exception], cause: BaseException) -> Exception:
    problem = outer(str(cause))
    problem.__cause__ = cause
    return problem


def of_sqlite(code: int) -> sqlite3.OperationalError:
    problem = sqlite3.OperationalError("it says so")
    problem.sqlite_errorcode = code
    return problem


def of_bucket(name: str) -> type[Exception]:
    """As the library of the bucket names it, which need not be there."""
    return type(f"A{name}", (type(name, (Exception,), {"__module__": "botocore.exceptions"}),), {})


def said_by_bucket(status: int) -> Exception:
    problem: Any = of_bucket("ClientError")(str(status))
    problem.response = {"ResponseMetadata": {"HTTPStatusCode": status}}
    return cast(Exception, problem)


@pytest.mark.parametrize(
    ("problem", "kind"),
    [
        (OSError(errno.ENOSPC, "No space left on device"), Kind.DISK_FULL),
        (OSError(errno.EDQUOT, "Disk quota exceeded"), Kind.DISK_FULL),
        (FileNotFoundError(errno.ENOENT, "x"), Kind.DEFECT),
        (wrapped(OperationalError, psycopg.errors.DiskFull("x")), Kind.DISK_FULL),
        (wrapped(OperationalError, of_sqlite(sqlite3.SQLITE_FULL)), Kind.DISK_FULL),
        (wrapped(OperationalError, of_sqlite(sqlite3.SQLITE_BUSY)), Kind.DATABASE_AWAY),
        (wrapped(OperationalError, of_sqlite(sqlite3.SQLITE_ERROR)), Kind.DEFECT),  # no such table
        (wrapped(OperationalError, psycopg.OperationalError("connection refused")), Kind.DATABASE_AWAY),
        (wrapped(OperationalError, psycopg.errors.AdminShutdown("x")), Kind.DATABASE_AWAY),
        (wrapped(OperationalError, psycopg.errors.DeadlockDetected("x")), Kind.DATABASE_AWAY),
        (wrapped(InterfaceError, psycopg.InterfaceError("the connection is closed")), Kind.DATABASE_AWAY),
        (wrapped(IntegrityError, psycopg.errors.UniqueViolation("x")), Kind.DEFECT),
        (of_bucket("ConnectionError")("no route"), Kind.FILES_AWAY),
        (of_bucket("HTTPClientError")("read timed out"), Kind.FILES_AWAY),
        (said_by_bucket(503), Kind.FILES_AWAY),
        (said_by_bucket(403), Kind.DEFECT),
        (ZeroDivisionError(), Kind.DEFECT),
        (None, Kind.DEFECT),
    ],
    ids=str,
)  # fmt: skip
def test_kind_of_failure_follows_from_the_error_or_what_led_to_it(problem: BaseException | None, kind: Kind) -> None:
    assert failures.kind_of(problem) == kind


def fails(problem: Exception, *, on: str = "") -> AbstractContextManager[None]:
    """Every statement that begins so fails, as when the connection drops there."""

    def run(execute: Callable[..., Any], sql: str, params: Any, many: bool, context: Any) -> Any:
        if sql.startswith(on):
            raise problem
        return execute(sql, params, many, context)

    return connection.execute_wrapper(run)


def quiet() -> Client:
    return Client(raise_request_exception=False)


@pytest.mark.django_db
def test_a_page_and_the_api_say_that_the_database_is_away_without_asking_it(at: datetime) -> None:
    client = sign_in(quiet(), build.staff(Role.OWNER, at=at))
    with fails(OperationalError("server closed the connection")):
        page, program = client.get("/"), client.get("/api/v1/me/")
        missing = client.get("/nothing-here")
    assert (page.status_code, page["Retry-After"]) == (503, "30")
    assert "What you typed is still in this browser" in text_of(page)
    assert page["X-Request-Id"] in text_of(page)
    assert (program.status_code, program["Content-Type"], program["Retry-After"]) == (
        503, "application/problem+json", "30",
    )  # fmt: skip
    assert program.json()["errors"][0]["code"] == "database_away"
    assert program.json()["request"] == program["X-Request-Id"]
    assert (missing.status_code, "Nothing here" in text_of(missing)) == (404, True)


@pytest.mark.django_db
def test_a_connection_that_drops_within_a_deed_leaves_nothing_of_it(at: datetime) -> None:
    """The ask is written before its entry of the log; the entry fails."""
    stay = build.consignment(build.State.LISTED, at=at)
    client = sign_in(quiet(), build.staff(Role.OWNER, at=at))
    before = AskChange.objects.count(), LogEntry.objects.count()
    stay.refresh_from_db()
    address = f"/api/v1/consignments/{stay.stock_number}/asks/"
    with fails(OperationalError("server closed the connection"), on='INSERT INTO "inventory_logentry"'):
        answer = client.post(address, {"ask": "51000.00"}, content_type="application/json")
    assert answer.status_code == 503
    assert (AskChange.objects.count(), LogEntry.objects.count()) == before
    assert client.post(address, {"ask": "51000.00"}, content_type="application/json").status_code == 201
    assert AskChange.objects.count() == before[0] + 1


@pytest.mark.django_db
def test_a_full_disk_and_a_defect_are_told_apart(at: datetime) -> None:
    client = sign_in(quiet(), build.staff(Role.OWNER, at=at))
    with fails(wrapped(OperationalError, of_sqlite(sqlite3.SQLITE_FULL))):
        full = client.get("/")
    with fails(ZeroDivisionError("x")):
        broken = client.get("/")
    with fails(UnreadablePostError("the signal was lost")):
        cut_off = client.get("/")
    assert cut_off.status_code == 400
    assert (full.status_code, "The disk of the server is full" in text_of(full)) == (503, True)
    assert "Tell the owner" in text_of(full)
    assert (broken.status_code, "tell the owner of the lot the number below" in text_of(broken)) == (500, True)
    assert "Retry-After" not in broken


def test_what_is_wrong_with_the_request_is_said_in_words() -> None:
    asked = RequestFactory().post("/sign-in/")
    large = failures.bad_request(asked, RequestDataTooBig("x"))
    host = Client().get("/sign-in/", headers={"host": "elsewhere.example"})
    stale = Client(enforce_csrf_checks=True).post("/sign-in/", {})
    assert (large.status_code, "larger than the lot takes" in large.content.decode()) == (413, True)
    assert (host.status_code, "Not at this address" in text_of(host)) == (400, True)
    assert (stale.status_code, "allow cookies for this site" in text_of(stale)) == (403, True)
    assert failures.not_allowed(asked).status_code == 403


@pytest.mark.django_db
def test_a_body_beyond_the_limit_is_413(at: datetime, settings: Any) -> None:
    stay = build.consignment(build.State.LISTED, at=at)
    client = sign_in(quiet(), build.staff(Role.OWNER, at=at))
    settings.DATA_UPLOAD_MAX_MEMORY_SIZE = 100
    answer = client.post(url(stay, "record_place"), {"note": "x" * 200})
    assert answer.status_code == 413
    assert reverse("lot") in answer.content.decode()
