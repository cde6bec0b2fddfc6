"""What is counted while the house runs, for Prometheus. Routes, kinds and codes only: never a person, never money.

With PROMETHEUS_MULTIPROC_DIR set (gunicorn's workers) the counts of all workers are added up when they are asked for.
"""

import os
from collections.abc import Iterator
from dataclasses import dataclass, field

from prometheus_client import CollectorRegistry, Counter, Gauge, Histogram, generate_latest
from prometheus_client.core import GaugeMetricFamily
from prometheus_client.multiprocess import MultiProcessCollector
from prometheus_client.registry import Collector

OWN = CollectorRegistry()
METHODS = frozenset({"GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS"})
REQUESTS = Counter("lot_requests", "Requests answered.", ["route", "method", "status"], registry=OWN)
SECONDS = Histogram(
    "lot_request_seconds",
    "Time until a request was answered.",
    ["route"],
    buckets=(0.05, 0.1, 0.25, 0.5, 1, 2.5, 5, 10, 30),
    registry=OWN,
)
IN_FLIGHT = Gauge("lot_requests_in_flight", "Requests being answered now.", multiprocess_mode="livesum", registry=OWN)
FAILURES = Counter(
    "lot_failures", "Answers 500 and 503: defect, database_away, disk_full, files_away.", ["kind"], registry=OWN
)
DATABASE_ERRORS = Counter("lot_database_errors", "Errors of the database that ended a request.", registry=OWN)
REFUSALS = Counter("lot_refusals", "Acts and values that were refused, with a reason.", ["code"], registry=OWN)
SIGN_IN_FAILURES = Counter("lot_sign_in_failures", "Tries to sign in that failed.", registry=OWN)


@dataclass(frozen=True, kw_only=True)
class Figures:
    """What the database says at the moment of asking. None: not known, or there is none."""

    jobs: dict[tuple[str, str], int] = field(default_factory=dict)  # by kind and status
    oldest_job_seconds: float = 0.0
    mail: dict[str, int] = field(default_factory=dict)  # by status
    oldest_mail_seconds: float = 0.0
    fit_age_seconds: float | None = None
    worker_age_seconds: float | None = None


def answered(*, route: str, method: str, status: int, seconds: float) -> None:
    known = method if method in METHODS else "other"
    REQUESTS.labels(route, known, f"{status // 100}xx").inc()
    SECONDS.labels(route).observe(seconds)
    if route == "sign_in" and method == "POST" and status != 302:
        SIGN_IN_FAILURES.inc()


def refused(code: str) -> None:
    REFUSALS.labels(code).inc()


def told(figures: Figures | None, *, free_bytes: int, backup_age_seconds: float | None) -> bytes:
    """All counts and figures as text. Without `figures` the database is away, and that is told."""
    now = CollectorRegistry()
    now.register(_Now(figures, free_bytes=free_bytes, backup_age_seconds=backup_age_seconds))
    return bytes(generate_latest(_counts()) + generate_latest(now))


def _counts() -> CollectorRegistry:
    if "PROMETHEUS_MULTIPROC_DIR" not in os.environ:
        return OWN
    of_all = CollectorRegistry()
    MultiProcessCollector(of_all)  # type: ignore[no-untyped-call]
    return of_all


class _Now(Collector):
    def __init__(self, figures: Figures | None, *, free_bytes: int, backup_age_seconds: float | None) -> None:
        self._figures = figures
        self._free = free_bytes
        self._backup = backup_age_seconds

    def collect(self) -> Iterator[GaugeMetricFamily]:
        yield _one("lot_database_up", "1 if the database answers.", float(self._figures is not None))
        yield _one("lot_disk_free_bytes", "Free space where data and media lie.", float(self._free))
        yield from _known("lot_backup_age_seconds", "Since the last backup that said it was done.", self._backup)
        if self._figures is not None:
            yield from _of_database(self._figures)


def _of_database(figures: Figures) -> Iterator[GaugeMetricFamily]:
    jobs = GaugeMetricFamily("lot_jobs", "Jobs waiting and running; failed in the last day.", labels=["kind", "status"])
    for (kind, status), count in sorted(figures.jobs.items()):
        jobs.add_metric([kind, status], count)
    yield jobs
    mail = GaugeMetricFamily("lot_mail", "Mail waiting; given up or unclear in the last day.", labels=["status"])
    for status, count in sorted(figures.mail.items()):
        mail.add_metric([status], count)
    yield mail
    yield _one("lot_job_oldest_seconds", "How long the oldest waiting job has waited.", figures.oldest_job_seconds)
    yield _one("lot_mail_oldest_seconds", "How long the oldest mail is overdue.", figures.oldest_mail_seconds)
    yield from _known("lot_fit_age_seconds", "Since the price band was last fitted.", figures.fit_age_seconds)
    yield from _known("lot_worker_age_seconds", "Since the worker was last seen.", figures.worker_age_seconds)


def _one(name: str, what: str, value: float) -> GaugeMetricFamily:
    return GaugeMetricFamily(name, what, value=value)


def _known(name: str, what: str, value: float | None) -> Iterator[GaugeMetricFamily]:
    """A figure that is not known is left out: an alarm on its absence is better than a false zero."""
    if value is not None:
        yield _one(name, what, value)
