"""What is said when a request cannot be answered: pages that ask no database, problem details under /api/.

Django calls these for every error that no page or view dealt with, also for those in middleware.
"""

import errno
import sqlite3
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from django.core.exceptions import DisallowedHost, RequestDataTooBig, TooManyFieldsSent, TooManyFilesSent
from django.db import Error as DatabaseError
from django.db import InterfaceError, OperationalError
from django.http import HttpRequest, HttpResponse, JsonResponse, UnreadablePostError
from django.template.loader import render_to_string

from inventory import logs, metrics
from inventory.api.errors import problem_details

FULL = frozenset({errno.ENOSPC, errno.EDQUOT})
SQLITE_FULL = 13
SQLITE_AWAY = frozenset({5, 6, 8, 10, 14})  # busy, locked, read-only, I/O error, cannot open
DISK_FULL_STATE = "53100"
# Connection, resources, the operator's doing, lost to another transaction: all may be well the next time.
AWAY_STATES = ("08", "53", "57", "40", "55P03")
# Errors of the bucket by name: its library is there only where files lie in one. No connection, no answer in time.
BUCKET_AWAY = frozenset(
    {
        "botocore.exceptions.ConnectionError",
        "botocore.exceptions.HTTPClientError",
        "s3transfer.exceptions.RetriesExceededError",
    }
)
BUCKET_SAYS_NO = "botocore.exceptions.ClientError"
RETRY_SECONDS = 30


class Kind(StrEnum):
    DEFECT = "defect"
    DATABASE_AWAY = "database_away"
    DISK_FULL = "disk_full"
    FILES_AWAY = "files_away"


@dataclass(frozen=True)
class Words:
    """What happened, what became of what was sent, and what to do now: for people, and for programs."""

    code: str
    heading: str
    sentences: tuple[str, ...]
    for_programs: str = ""


BAD_REQUEST = Words("bad_request", "This could not be read", (
    "What arrived was damaged or incomplete. Nothing was saved.", "Go back, load the page again, and repeat it.",
))  # fmt: skip
BAD_HOST = Words("bad_host", "Not at this address", (
    "The lot does not answer at the address in your browser. Use the address you were given.",
    "If you look after the server: add this address to ALLOWED_HOSTS.",
))  # fmt: skip
TOO_LARGE = Words("too_large", "Too large", (
    "What you sent is larger than the lot takes at once. Nothing was saved.",
    "Go back and send less: fewer files, smaller pictures, or a shorter text.",
))  # fmt: skip
NOT_ALLOWED = Words("not_allowed", "Not allowed", ("You may not do this. Ask the owner of the lot.",))
NOT_FOUND = Words("not_found", "Nothing here", (
    "There is nothing at this address that you may see. It may have been mistyped, or it has moved on.",
))  # fmt: skip
NOT_TAKEN = Words("not_taken", "This was not taken", (
    "The page you sent it from is too old, or your browser keeps no cookies for this site. Nothing was saved.",
    "Go back, load the page again, and repeat it. If it happens again, allow cookies for this site.",
))  # fmt: skip
OF_KIND = {
    Kind.DEFECT: Words("defect", "Something broke on our side", (
        "What you sent was either kept whole or not at all: nothing was half-done. Go back, look, and try again.",
        "If it happens again, tell the owner of the lot the number below and what you were doing.",
    ), "Something broke on our side. What was sent was kept whole or not at all; the log has it under this number."),
    Kind.DATABASE_AWAY: Words("database_away", "The books are away for a moment", (
        "Nothing was half-done: what you sent was either kept whole or not at all.",
        "What you typed is still in this browser. Go back, wait a minute, look whether it is there, and send it again "
        "if it is not.",
        "If it goes on for longer than a few minutes, tell the owner of the lot.",
    ), "The database did not answer. What was sent was kept whole or not at all: send it again with the same key."),
    Kind.DISK_FULL: Words("disk_full", "The disk of the server is full", (
        "Nothing was saved. What you typed is still in this browser: go back, and send it again later.",
        "Tell the owner of the lot now: until there is space again nothing can be kept.",
    ), "The disk of the server is full. Nothing was saved."),
    Kind.FILES_AWAY: Words("files_away", "Photos and papers are away for a moment", (
        "The place where the lot keeps its files did not answer. Nothing was half-done: what you sent was either kept "
        "whole or not at all.",
        "What you typed is still in this browser. Go back, wait a minute, look whether it is there, and send it again "
        "if it is not.",
        "If it goes on for longer than a few minutes, tell the owner of the lot.",
    ), "The store of files did not answer. What was sent was kept whole or not at all: send it again, same key."),
}  # fmt: skip


def bad_request(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    if isinstance(exception, RequestDataTooBig | TooManyFieldsSent | TooManyFilesSent):
        return answer(request, TOO_LARGE, status=413)
    return answer(request, BAD_HOST if isinstance(exception, DisallowedHost) else BAD_REQUEST, status=400)


def not_allowed(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return answer(request, NOT_ALLOWED, status=403)


def not_found(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return answer(request, NOT_FOUND, status=404)


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    return answer(request, NOT_TAKEN, status=403)


def server_error(request: HttpRequest) -> HttpResponse:
    """Called while the exception is being handled: what it is decides what is said."""
    problem = sys.exc_info()[1]
    if isinstance(problem, UnreadablePostError):  # the signal was lost on the way: no fault of ours
        return answer(request, BAD_REQUEST, status=400)
    kind = kind_of(problem)
    metrics.FAILURES.labels(kind).inc()
    if isinstance(problem, DatabaseError):
        metrics.DATABASE_ERRORS.inc()
    response = answer(request, OF_KIND[kind], status=500 if kind == Kind.DEFECT else 503)
    if kind != Kind.DEFECT:
        response["Retry-After"] = str(RETRY_SECONDS)
    return response


def answer(request: HttpRequest, words: Words, *, status: int) -> HttpResponse:
    if request.path_info.startswith("/api/"):
        errors = [{"code": words.code, "field": "", "message": words.for_programs or words.sentences[0]}]
        body = problem_details(status, errors)
        return JsonResponse(body, status=status, content_type="application/problem+json")
    told: dict[str, Any] = {
        "words": words,
        "number": logs.request_id(),
        "is_read": request.method in {"GET", "HEAD"} and status == 503,
        "is_staff_page": not request.path_info.startswith(("/status", "/for-sale")),
    }
    return HttpResponse(render_to_string("error.html", told), status=status)


def kind_of(problem: BaseException | None) -> Kind:
    """From the error or whatever led to it, whichever tells more."""
    kinds = {_kind(link) for link in _chain(problem)}
    return next((kind for kind in (Kind.DISK_FULL, Kind.DATABASE_AWAY, Kind.FILES_AWAY) if kind in kinds), Kind.DEFECT)


def _chain(problem: BaseException | None) -> Iterator[BaseException]:
    seen: set[int] = set()
    while problem is not None and id(problem) not in seen:
        seen.add(id(problem))
        yield problem
        problem = problem.__cause__


def _kind(problem: BaseException) -> Kind:
    if _is_of_bucket(problem):
        return Kind.FILES_AWAY
    if isinstance(problem, OSError):
        return Kind.DISK_FULL if problem.errno in FULL else Kind.DEFECT
    if isinstance(problem, sqlite3.Error):
        primary = getattr(problem, "sqlite_errorcode", 0) & 0xFF
        return Kind.DISK_FULL if primary == SQLITE_FULL else _away(primary in SQLITE_AWAY)
    if hasattr(problem, "sqlstate"):  # psycopg's, whose connection errors have none
        state = problem.sqlstate
        if state == DISK_FULL_STATE:
            return Kind.DISK_FULL
        return _away(state.startswith(AWAY_STATES) if state else _is_of_connection(problem))
    # Django's own: what it wraps says more, and says it above.
    return _away(problem.__cause__ is None and isinstance(problem, OperationalError | InterfaceError))


def _is_of_bucket(problem: BaseException) -> bool:
    names = {f"{kind.__module__}.{kind.__name__}" for kind in type(problem).__mro__}
    if BUCKET_SAYS_NO in names:  # refused for want of a right is a defect, out of order is not
        return bool(getattr(problem, "response", {}).get("ResponseMetadata", {}).get("HTTPStatusCode", 0) >= 500)
    return bool(names & BUCKET_AWAY)


def _is_of_connection(problem: BaseException) -> bool:
    return type(problem).__name__ in {"OperationalError", "InterfaceError", "ConnectionTimeout", "AdminShutdown"}


def _away(is_away: bool) -> Kind:
    return Kind.DATABASE_AWAY if is_away else Kind.DEFECT
