"""A private link's token never reaches a log, nor does anything about a person."""

import io
import json
import logging
from collections.abc import Iterator
from datetime import datetime
from typing import Any

import psycopg
import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, connection
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pytest_django import Settings

from inventory import logs
from inventory.actions import jobs, linking
from inventory.errors import Refused
from inventory.logs import HidePrivateLinks, JsonLines, PlainLines
from inventory.rules.roles import Role
from tests import build
from tests.pages.browse import sign_in

TOKEN = "kQ3v-Zt_9bXwLr0pYc7uJm2sNf5hGd8aEi1oVqTzB4R"


def told(message: str, *args: object) -> str:
    record = logging.LogRecord("django.server", logging.WARNING, __file__, 1, message, args, None)
    assert HidePrivateLinks().filter(record) is True
    return logging.Formatter("%(message)s").format(record)


@pytest.mark.parametrize(
    ("message", "args", "expected"),
    [
        ("Not Found: %s", (f"/status/open/{TOKEN}",), "Not Found: /status/open/(hidden)"),
        (f"GET /status/open/{TOKEN} HTTP/1.1", (), "GET /status/open/(hidden) HTTP/1.1"),
        ('"%s" %s', (f"GET /status/open/{TOKEN}?x=1 HTTP/1.1", "404"), '"GET /status/open/(hidden)?x=1 HTTP/1.1" 404'),
        (f"/status/open/{TOKEN} from /status/open/{TOKEN}", (), "/status/open/(hidden) from /status/open/(hidden)"),
    ],
)
def test_token_is_hidden_wherever_it_stands(message: str, args: tuple[object, ...], expected: str) -> None:
    assert told(message, *args) == expected


def test_other_lines_are_told_as_they_are() -> None:
    assert told("took %d ms, 50%% of it waiting", 12) == "took 12 ms, 50% of it waiting"
    assert told("/status/open/") == "/status/open/"


def test_console_hides_links(settings: object) -> None:
    assert settings.LOGGING["handlers"]["console"]["filters"] == ["no_links"]  # type: ignore[attr-defined]


@pytest.fixture
def lines() -> Iterator[io.StringIO]:
    """All that the house logs meanwhile, down to the least important, as JSON lines."""
    stream = io.StringIO()
    handler = logging.StreamHandler(stream)
    handler.setFormatter(JsonLines())
    handler.addFilter(HidePrivateLinks())
    loggers = [logging.getLogger(name) for name in ("", "django", "django.request", "inventory")]
    before = [logger.level for logger in loggers]
    for logger in loggers:
        logger.setLevel(logging.DEBUG)
    for logger in loggers[:2]:
        logger.addHandler(handler)
    yield stream
    for logger, level in zip(loggers, before, strict=True):
        logger.setLevel(level)
        logger.removeHandler(handler)


def written(lines: io.StringIO) -> list[dict[str, Any]]:
    return [json.loads(line) for line in lines.getvalue().splitlines()]


ADA = {"name": "Ada Fenwick", "email": "ada@fenwick.example", "phone": "(555) 010-7788"}


def breaks(execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
    """As PostgreSQL words it: with the whole row."""
    text = f"duplicate key\nDETAIL:  Key (email, name)=({ADA['email']}, {ADA['name']}) already exists."
    problem = IntegrityError(text)
    problem.__cause__ = psycopg.errors.UniqueViolation(text)
    raise problem


@pytest.mark.django_db
def test_nothing_about_a_person_is_logged_on_a_walk_through_pages(lines: io.StringIO, at: datetime) -> None:
    stay = build.consignment(build.State.LISTED, at=at)
    type(stay.consignor).objects.filter(pk=stay.consignor_id).update(**ADA)
    token = linking.make_link(stay.pk, by=build.BUILDER, at=timezone.now())[1]
    client = sign_in(Client(raise_request_exception=False), build.staff(Role.OWNER, at=at))
    searched = client.get("/people/", {"q": ADA["name"]})
    assert ADA["name"] in searched.content.decode()
    client.get(f"/people/{ADA['email']}")
    client.post("/sign-in/", {"username": ADA["email"], "password": "Sesame-open-7788"})
    Client().get(reverse("open_link", args=[token]), follow=True)
    Client().get(f"/status/open/{token}x")
    client.get("/", headers={"host": "elsewhere.example"})
    with connection.execute_wrapper(breaks):
        assert client.get("/people/", {"q": ADA["phone"]}).status_code == 500
    text = lines.getvalue()
    for secret in (*ADA.values(), "Fenwick", "7788", token, token[:20], "Sesame", "?q=", str(stay.code)):
        assert secret not in text, secret
    failed = [line["exception"] for line in written(lines) if "exception" in line]
    assert "psycopg.errors.UniqueViolation: 23505" in failed[-1]
    assert 'File "' in failed[-1]


@pytest.mark.django_db
def test_one_line_a_request_tells_route_role_and_number(lines: io.StringIO, at: datetime, settings: Settings) -> None:
    client = sign_in(Client(), build.staff(Role.SALES, at=at))
    client.get("/floor/", {"place": "x"}, headers={"x-request-id": "given-by-anybody"})
    settings.BEHIND_PROXY = True
    client.get("/api/v1/me/", headers={"x-request-id": "0123abcd-from-proxy"})
    own, proxied = [line for line in written(lines) if line["logger"] == "inventory.access"]
    assert set(own) == {"time", "level", "logger", "message", "request", "route", "method", "status", "ms", "role"}
    assert (own["route"], own["method"], own["status"], own["role"]) == ("floor", "GET", 200, "sales")
    assert datetime.fromisoformat(own["time"]).utcoffset() is not None
    assert len(own["request"]) == 12
    assert (proxied["request"], proxied["route"], proxied["role"]) == ("0123abcd-from-proxy", "v1:me", "sales")


@pytest.mark.django_db
def test_lines_of_a_job_carry_it_and_the_request_that_asked(
    lines: io.StringIO, django_capture_on_commit_callbacks: Any
) -> None:
    handed: dict[str, Any] = {}
    with logs.about(request="abcdef012345"), django_capture_on_commit_callbacks(execute=True):
        job = jobs.start("fit", enqueue=handed.update, by=build.BUILDER, at=timezone.now())
    with jobs.running(job.pk, asked_in=handed["asked_in"]):
        logging.getLogger("inventory").info("in the middle")
    logging.getLogger("inventory").info("after it")
    *within, after = written(lines)
    assert {(line["job"], line["request"]) for line in within} == {(str(job.code), "abcdef012345")}
    assert not {"job", "request"} & set(after)


@pytest.mark.parametrize(
    ("problem", "text"),
    [
        (Refused("too_low", "48,500 of Ada Fenwick is too low."), "too_low"),
        (ValidationError("Ada Fenwick is no number."), ""),
        (ValueError("invalid literal: 'Ada Fenwick' for ada@fenwick.example"), "invalid literal: '…' for (e-mail)"),
        (
            IntegrityError("UNIQUE constraint failed: inventory_job.code"),
            "UNIQUE constraint failed: inventory_job.code",
        ),
        (psycopg.errors.CheckViolation("x\nDETAIL: Failing row contains (Ada Fenwick)."), "23514"),
    ],
)
def test_text_of_an_exception_holds_no_values(problem: Exception, text: str) -> None:
    assert logs.text_of(problem) == text


def test_plain_lines_say_the_same_for_a_person() -> None:
    record = logging.LogRecord("inventory", logging.INFO, __file__, 1, "call +1 (555) 010-7788", (), None)
    with logs.about(request="abcdef012345", job=""):
        assert PlainLines().format(record).endswith(" INFO inventory call (phone) request=abcdef012345")


@pytest.mark.parametrize("given", ["", "short", "x" * 65, "with space 1", "line\nbreak-123", "ünïcode-1234"])
def test_a_number_that_is_none_is_drawn_anew(given: str) -> None:
    assert logs.request_id_for(given) != given
