"""What a log line may say: one line a record, nothing about people, no link that opens a page."""

import json
import logging
import re
import secrets
import traceback
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import UTC, datetime
from typing import Any

from django.core.exceptions import ValidationError
from django.db import Error as DatabaseError

from inventory.errors import Refused

_LINK = re.compile(r"(/status/open/)[A-Za-z0-9_-]+")
_PERSONAL = (
    (re.compile(r"[\w.+%-]+@[\w-]+(\.[\w-]+)*"), "(e-mail)"),
    (re.compile(r"(?i)\b(bearer|token|cookie)([ =:]+)\S+"), r"\1\2(hidden)"),
    (re.compile(r"(?<=[\w/])\?[^\s\"'>]*=[^\s\"'>]*"), "?(hidden)"),  # the query of an address
    (re.compile(r"(?<![\w.-])(\+\d[\d ().-]{6,}\d|\(?\d{3}\)?[ .-]?\d{3}[ .-]?\d{4})(?![\w-])"), "(phone)"),
    (re.compile(r"\bip=\S+"), "ip=(hidden)"),  # gunicorn names the address of a request that it cannot read
)
_QUOTED = re.compile(r"'[^']*'|\"[^\"]*\"")
_GIVEN_ID = re.compile(r"\A[A-Za-z0-9-]{8,64}\Z")
LONGEST = 300
_about: ContextVar[dict[str, str] | None] = ContextVar("about", default=None)


@contextmanager
def about(**facts: str) -> Iterator[None]:
    """What all lines meanwhile are about: the number of a request, a job, a role. Never a name."""
    token = _about.set({**facts_now(), **{name: fact for name, fact in facts.items() if fact}})
    try:
        yield
    finally:
        _about.reset(token)


def add(**facts: str) -> None:
    """One more thing that is known by now of what the lines are about."""
    if (known := _about.get()) is not None:
        known.update(facts)


def facts_now() -> dict[str, str]:
    return dict(_about.get() or {})


def request_id() -> str:
    """The number of the request that is being answered; empty outside of one."""
    return facts_now().get("request", "")


def request_id_for(given: str) -> str:
    """The number that a trusted proxy gave, if it is one; else a new one, short enough to be read out."""
    return given if _GIVEN_ID.match(given) else secrets.token_hex(6)


class HidePrivateLinks(logging.Filter):
    """A private link's token opens a consignor's page: it never reaches a log, nor does any other raw path."""

    def filter(self, record: logging.LogRecord) -> bool:
        request = getattr(record, "request", None)
        if request is not None and isinstance(record.args, tuple) and record.args:
            record.args = (*record.args[:-1], route_of(request))  # Django's own lines end with the path
        record.msg = _LINK.sub(r"\1(hidden)", record.getMessage())
        record.args = ()
        return True


def route_of(request: Any) -> str:
    """The name of the address, which says nothing of whom or what it is about."""
    match = getattr(request, "resolver_match", None)
    return str(match.view_name) if match is not None and match.view_name else "none"


def clean(text: str) -> str:
    """The text without what tells of a person, as far as patterns can tell."""
    text = _LINK.sub(r"\1(hidden)", text)
    for pattern, instead in _PERSONAL:
        text = pattern.sub(instead, text)
    return text


def text_of(problem: BaseException) -> str:
    """What an exception may say: refusals hold what somebody typed, the database's texts hold whole rows."""
    if isinstance(problem, Refused):
        return problem.code
    if isinstance(problem, ValidationError):
        return ""
    if isinstance(problem, DatabaseError) or hasattr(problem, "sqlstate"):
        return _of_database(problem)
    first = next(iter(str(problem).splitlines()), "")
    return clean(_QUOTED.sub("'…'", first))[:LONGEST]


def _of_database(problem: BaseException) -> str:
    """The error's number and the names of what it is about; of SQLite's texts the first line, without values."""
    cause: Any = problem if hasattr(problem, "sqlstate") else problem.__cause__
    if not hasattr(cause, "sqlstate"):
        return clean(_QUOTED.sub("'…'", next(iter(str(problem).splitlines()), "")))[:LONGEST]
    diag = getattr(cause, "diag", None)
    named = [getattr(diag, name, None) for name in ("table_name", "column_name", "constraint_name")]
    return " ".join(str(part) for part in [cause.sqlstate or "no connection", *named] if part)


def traceback_of(problem: BaseException) -> str:
    """Where it happened, with what led to it; no local values, and no text that is not ours to keep."""
    links: list[tuple[BaseException, str]] = [(problem, "")]
    while len(links) < 10:
        last = links[-1][0]
        inner = last.__cause__ or (None if last.__suppress_context__ else last.__context__)
        if inner is None or any(inner is seen for seen, _ in links):
            break
        links.append((inner, "The above led to:\n" if last.__cause__ else "While that was dealt with:\n"))
    parts = []
    for place, (link, _) in reversed(list(enumerate(links))):
        frames = "".join(traceback.extract_tb(link.__traceback__).format())
        kind = f"{type(link).__module__}.{type(link).__qualname__}"
        parts.append(f"{frames}{kind}: {text_of(link)}\n{links[place][1]}")
    return "".join(parts).rstrip()


def _facts(record: logging.LogRecord) -> dict[str, Any]:
    return {**facts_now(), **getattr(record, "facts", {})}


def _problem(record: logging.LogRecord) -> BaseException | None:
    return record.exc_info[1] if record.exc_info else None


def _in_one_line(record: logging.LogRecord) -> str:
    """Nobody forges a line of the log with a line break in what they send."""
    return clean(record.getMessage()).replace("\r", "\\r").replace("\n", "\\n")


class JsonLines(logging.Formatter):
    """One JSON object a line, for programs that gather logs."""

    def format(self, record: logging.LogRecord) -> str:
        line: dict[str, Any] = {
            "time": datetime.fromtimestamp(record.created, tz=UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname,
            "logger": record.name,
            "message": clean(record.getMessage()),
            **_facts(record),
        }
        if problem := _problem(record):
            line["exception"] = traceback_of(problem)
        return json.dumps(line, ensure_ascii=False, default=str)


class PlainLines(logging.Formatter):
    """The same for a person at a terminal."""

    def format(self, record: logging.LogRecord) -> str:
        at = datetime.fromtimestamp(record.created, tz=UTC).isoformat(sep=" ", timespec="milliseconds")
        facts = "".join(f" {name}={value}" for name, value in _facts(record).items())
        line = f"{at} {record.levelname} {record.name} {_in_one_line(record)}{facts}"
        problem = _problem(record)
        return f"{line}\n{traceback_of(problem)}" if problem else line
