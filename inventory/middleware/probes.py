"""/healthz, /readyz and /metrics, for the programs that watch the house.

They are answered before the host is looked at, before any redirect and without a session: a probe asks by address, over
plain HTTP, also while nothing else works.
"""

import ipaddress
import tempfile
from collections.abc import Callable
from pathlib import Path

from django.conf import settings
from django.core.files.storage import FileSystemStorage, default_storage
from django.db import Error as DatabaseError
from django.db import close_old_connections
from django.http import HttpRequest, HttpResponse, HttpResponseNotAllowed, JsonResponse
from django.http.response import HttpResponseBase
from django.urls import get_resolver
from django.utils import timezone
from django.utils.crypto import constant_time_compare
from django.views.decorators.debug import sensitive_variables

from inventory import metrics
from inventory.actions import workers
from inventory.queries import health
from inventory.uploads.room import free_bytes

WORKER_LATE = 120  # seconds; it says every 20 that it is there
PROXY = ("HTTP_X_FORWARDED_FOR", "HTTP_X_FORWARDED_HOST", "HTTP_X_FORWARDED_PROTO", "HTTP_X_REAL_IP", "HTTP_FORWARDED",
         "HTTP_VIA")  # fmt: skip


class Probes:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        probe = PROBES.get(request.path_info)
        if probe is None or (probe is told and not is_watcher(request)):
            return self.get_response(request)  # to whom it is not open, /metrics is an address like any other
        if request.method not in {"GET", "HEAD"}:
            return HttpResponseNotAllowed(["GET", "HEAD"])
        response = probe(request)
        response["Cache-Control"] = "no-store"
        response["X-Content-Type-Options"] = "nosniff"
        return response


def alive(request: HttpRequest) -> HttpResponse:
    """The process answers. Whoever restarts processes asks this: a database that is away is no reason to."""
    return JsonResponse({"alive": True})


def ready(request: HttpRequest) -> HttpResponse:
    """Whether requests should be sent here: 503 when not. What is wrong is told to watchers alone."""
    _ = get_resolver().url_patterns  # all pages are loaded by whoever asks first; better now than by a person
    found = checks()
    is_ready = all(state == "ok" for name, state in found.items() if name != "worker")
    body = {"ready": is_ready, **({"checks": found} if is_watcher(request) else {})}
    return JsonResponse(body, status=200 if is_ready else 503)


def told(request: HttpRequest) -> HttpResponse:
    try:
        figures = health.figures(at=timezone.now())
    except DatabaseError:
        close_old_connections()
        figures = None
    text = metrics.told(figures, free_bytes=free_bytes(), backup_age_seconds=backup_age())
    return HttpResponse(text, content_type="text/plain; version=0.0.4; charset=utf-8")


PROBES: dict[str, Callable[[HttpRequest], HttpResponse]] = {"/healthz": alive, "/readyz": ready, "/metrics": told}


@sensitive_variables()
def is_watcher(request: HttpRequest) -> bool:
    """A program on this machine that no proxy speaks for, or one that has the token."""
    scheme, _, given = request.headers.get("Authorization", "").partition(" ")
    if settings.METRICS_TOKEN and scheme.lower() == "bearer":
        return constant_time_compare(given.strip(), settings.METRICS_TOKEN)
    return not any(name in request.META for name in PROXY) and _is_loopback(request.META.get("REMOTE_ADDR", ""))


def _is_loopback(address: str) -> bool:
    try:
        return ipaddress.ip_address(address).is_loopback
    except ValueError:  # a Unix socket has none: whoever is behind it is not known
        return False


def checks() -> dict[str, str]:
    """Each `ok`, or one word for what is not."""
    return {
        **_of_database(),
        "media": "ok" if _takes_media() else "not writable",
        "disk": "ok" if free_bytes() >= settings.LEAST_FREE_DISK else "nearly full",
    }


def _of_database() -> dict[str, str]:
    try:
        health.database_answers()
        migrations = "ok" if health.has_all_migrations() else "waiting"
        return {"database": "ok", "migrations": migrations, "worker": _worker()}
    except DatabaseError:
        metrics.DATABASE_ERRORS.inc()
        close_old_connections()
        return {"database": "away"}


def _worker() -> str:
    if not workers.has_worker():
        return "none"
    age = health.worker_age(at=timezone.now())
    return "ok" if age is not None and age < WORKER_LATE else "not seen"


def _takes_media() -> bool:
    """By writing, since a full quota or a disk mounted for reading is told by nothing else."""
    if not isinstance(default_storage, FileSystemStorage):
        return True  # kept by another server, which is not asked for each probe
    try:
        with tempfile.TemporaryFile(dir=settings.MEDIA_ROOT) as file:
            file.write(b"x")
            file.flush()
    except OSError:
        return False
    return True


def backup_age() -> float | None:
    """Whoever backs up touches this file when it is done."""
    mark = Path(settings.BACKUP_MARK)
    return timezone.now().timestamp() - mark.stat().st_mtime if mark.exists() else None
