"""Alive, ready, and the figures: who is told what, also while things do not work."""

import os
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.cache import cache
from django.db import OperationalError, connection
from django.test import Client
from django.utils import timezone
from pytest_django import Settings

from inventory.actions import jobs, workers
from inventory.middleware import probes
from inventory.models import Job
from inventory.queries.health import WORKER_SEEN
from tests import build

STRANGER = {"REMOTE_ADDR": "203.0.113.9"}
TOKEN = "-".join(["of", "the", "watchers"] * 3)


def gone(execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
    raise OperationalError("server closed the connection unexpectedly")


def figure(text: str, name: str) -> float:
    line = next(line for line in text.splitlines() if line.startswith(f"{name} ") or line.startswith(f"{name}{{"))
    return float(line.rpartition(" ")[2])


def test_alive_asks_no_database_no_host_and_is_not_sent_to_https(settings: Settings) -> None:
    settings.SECURE_SSL_REDIRECT, settings.ALLOWED_HOSTS = True, ["lot.example"]
    answer = Client().get("/healthz", headers={"host": "10.0.0.7:8000"})  # no mark: a query would fail here
    assert (answer.status_code, answer.json()) == (200, {"alive": True})
    assert Client().post("/healthz").status_code == 405
    assert not answer.cookies


@pytest.mark.django_db
def test_ready_tells_a_watcher_each_check_and_a_stranger_only_the_answer() -> None:
    own, strange = Client().get("/readyz"), Client().get("/readyz", **STRANGER)
    assert own.json() == {
        "ready": True,
        "checks": {"database": "ok", "migrations": "ok", "worker": "none", "media": "ok", "disk": "ok"},
    }
    assert (strange.status_code, strange.json()) == (200, {"ready": True})


@pytest.mark.django_db
def test_not_ready_without_database_disk_or_media(settings: Settings) -> None:
    with connection.execute_wrapper(gone):
        away = Client().get("/readyz")
        assert (away.status_code, away.json()["checks"]["database"]) == (503, "away")
        assert Client().get("/healthz").status_code == 200
        assert "lot_database_up 0.0" in Client().get("/metrics").content.decode()
    settings.LEAST_FREE_DISK = 2**60
    assert Client().get("/readyz").json()["checks"]["disk"] == "nearly full"
    settings.MEDIA_ROOT = "/nowhere/at/all"
    answer = Client().get("/readyz", **STRANGER)
    assert (answer.status_code, answer.json()) == (503, {"ready": False})
    assert probes.checks()["media"] == "not writable"


@pytest.mark.django_db
def test_a_worker_is_seen_for_two_minutes_after_it_said_so(settings: Settings) -> None:
    settings.TASKS = {"default": {"BACKEND": "django_tasks_db.DatabaseBackend"}}
    now = timezone.now()
    cache.delete(WORKER_SEEN)  # its table is not emptied between tests
    answer = Client().get("/readyz")
    assert (answer.status_code, answer.json()["checks"]["worker"]) == (200, "not seen")  # told, not failing
    workers.seen(at=now)
    assert probes.checks()["worker"] == "ok"
    workers.seen(at=now - timedelta(seconds=probes.WORKER_LATE + 1))
    assert probes.checks()["worker"] == "not seen"


@pytest.mark.parametrize(
    ("asked", "headers", "is_open"),
    [
        ({}, {}, True),
        ({"REMOTE_ADDR": "::1"}, {}, True),
        ({}, {"x-forwarded-for": "127.0.0.1"}, False),  # a proxy on this machine speaks for somebody
        ({}, {"forwarded": "for=127.0.0.1"}, False),
        ({"REMOTE_ADDR": ""}, {}, False),  # a Unix socket
        (STRANGER, {}, False),
        (STRANGER, {"authorization": f"Bearer {TOKEN}"}, True),
        ({}, {"authorization": "Bearer not-the-token"}, False),
    ],
)
@pytest.mark.django_db
def test_figures_are_for_watchers_alone(
    settings: Settings, asked: dict[str, Any], headers: dict[str, str], is_open: bool
) -> None:
    settings.METRICS_TOKEN = TOKEN
    assert Client().get("/metrics", headers=headers, **asked).status_code == (200 if is_open else 404)


@pytest.mark.django_db
def test_figures_tell_what_waits_and_what_was_answered(settings: Settings, tmp_path: Path, at: datetime) -> None:
    settings.BACKUP_MARK = tmp_path / "last_backup"
    assert "lot_backup_age_seconds" not in Client().get("/metrics").content.decode()
    settings.BACKUP_MARK.touch()
    os.utime(settings.BACKUP_MARK, (timezone.now().timestamp() - 3600,) * 2)
    jobs.start("fit", enqueue=lambda **_: None, by=build.BUILDER, at=timezone.now() - timedelta(minutes=10))
    Client().get("/sign-in/")
    Client().post("/sign-in/", {"username": "nobody", "password": "wrong"})
    text = Client().get("/metrics").content.decode()
    assert 'lot_jobs{kind="fit",status="queued"} 1.0' in text
    assert 600 <= figure(text, "lot_job_oldest_seconds") < 660
    assert 3600 <= figure(text, "lot_backup_age_seconds") < 3660
    assert figure(text, "lot_sign_in_failures_total") >= 1
    assert 'lot_requests_total{method="GET",route="sign_in",status="2xx"}' in text
    assert 'lot_request_seconds_bucket{le="0.5",route="sign_in"}' in text
    assert figure(text, "lot_database_up") == 1


@pytest.mark.django_db
def test_figures_cost_the_same_queries_however_much_waits(django_assert_num_queries: Any) -> None:
    Job.objects.bulk_create(
        Job(kind=f"kind {number}", asked_by="x", asked_at=datetime(2026, 3, 1, tzinfo=UTC)) for number in range(30)
    )
    with django_assert_num_queries(6):
        Client().get("/metrics")
