"""Whether the house can work, and what waits in it, in figures."""

from datetime import datetime, timedelta

from django.core.cache import cache
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from django.db.models import Count, Max, Min, Q

from inventory.metrics import Figures
from inventory.models import Job, ModelFit, OutMessage
from inventory.rules.words import JobStatus, MessageStatus

WORKER_SEEN = "worker:seen"
LATELY = timedelta(days=1)
_known_to_be_applied: set[str] = set()


def database_answers() -> None:
    """Raises the database's own error when it does not."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1")


def has_all_migrations() -> bool:
    """Asked until it is so; a process never sees its own code's migrations taken back."""
    if connection.alias not in _known_to_be_applied:
        executor = MigrationExecutor(connection)
        if executor.migration_plan(executor.loader.graph.leaf_nodes()):
            return False
        _known_to_be_applied.add(connection.alias)
    return True


def worker_age(*, at: datetime) -> float | None:
    """Seconds since a worker said that it is there."""
    seen = cache.get(WORKER_SEEN)
    return None if seen is None else max(at.timestamp() - float(seen), 0.0)


def figures(*, at: datetime) -> Figures:
    """Seven queries, whatever is in the tables."""
    return Figures(
        jobs=_jobs(at=at),
        oldest_job_seconds=_since(
            Job.objects.filter(status=JobStatus.QUEUED).aggregate(first=Min("asked_at"))["first"], at=at
        )
        or 0.0,
        mail=_mail(at=at),
        oldest_mail_seconds=_since(
            OutMessage.objects.filter(status=MessageStatus.QUEUED, next_try_at__lte=at).aggregate(
                first=Min("next_try_at")
            )["first"],
            at=at,
        )
        or 0.0,
        fit_age_seconds=_since(ModelFit.objects.aggregate(last=Max("at"))["last"], at=at),
        worker_age_seconds=worker_age(at=at),
    )


def _jobs(*, at: datetime) -> dict[tuple[str, str], int]:
    rows = Job.objects.filter(
        Q(status__in=[JobStatus.QUEUED, JobStatus.RUNNING]) | Q(status=JobStatus.FAILED, ended_at__gt=at - LATELY)
    )
    counted = rows.values_list("kind", "status").annotate(Count("pk")).order_by()
    return {(kind, status): count for kind, status, count in counted}


def _mail(*, at: datetime) -> dict[str, int]:
    waiting = [MessageStatus.QUEUED, MessageStatus.SENDING]
    trouble = [MessageStatus.FAILED, MessageStatus.UNCLEAR]
    rows = OutMessage.objects.filter(Q(status__in=waiting) | Q(status__in=trouble, made_at__gt=at - LATELY))
    none = dict.fromkeys([str(status) for status in [*waiting, *trouble]], 0)
    return none | dict(rows.values_list("status").annotate(Count("pk")).order_by())


def _since(then: datetime | None, *, at: datetime) -> float | None:
    return None if then is None else max((at - then).total_seconds(), 0.0)
