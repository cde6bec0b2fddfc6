"""What is left behind when a worker was cut off, and what is kept for a while only: marked, cleared, counted."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import QuerySet
from django_tasks_db.models import DBTaskResult

from inventory.actions import logbook
from inventory.actions.jobs import CUT_OFF
from inventory.models import Job, RepeatKey
from inventory.queries.jobs import signs_of
from inventory.rules.jobs import KEPT_KEYS, OPEN, RUNS, Standing
from inventory.rules.messages import UNCLEAR_AFTER
from inventory.rules.roles import Actor
from inventory.rules.words import JobStatus

FAILED = "FAILED"  # as the queue says it


@dataclass(frozen=True)
class Stopped:
    """Jobs whose worker is gone, and rows of the queue that nobody works on any more."""

    jobs: int = 0
    tasks: int = 0

    def __str__(self) -> str:
        return f"{self.jobs} stopped job(s) and {self.tasks} abandoned row(s) of the queue marked"


@transaction.atomic
def mark_stopped(*, by: Actor, at: datetime) -> Stopped:
    """Mark as failed what nobody works on any more. Any number of workers may do it at once.

    A job that lives after all (its clock was wrong, say) writes its own end over this one.
    """
    rows = Job.objects.select_for_update(of=("self",), skip_locked=True).filter(status__in=OPEN).order_by("pk")
    jobs = list(rows)
    signs = signs_of(jobs)
    stopped = [job for job in jobs if signs[job.pk].standing(now=at) == Standing.STOPPED]
    for job in stopped:
        mark_one_stopped(job, by=by, at=at)
    alive = [job.task_id for job in jobs if job.task_id and job not in stopped]
    return Stopped(len(stopped), _fail_tasks(alive=alive, at=at) + sum(job.task_id is not None for job in stopped))


def mark_one_stopped(job: Job, *, by: Actor, at: datetime) -> None:
    """Of a locked row."""
    job.status, job.message, job.ended_at = JobStatus.FAILED, CUT_OFF, at
    job.save(update_fields=["status", "message", "ended_at"])
    if job.task_id is not None:
        _fail(DBTaskResult.objects.filter(pk=job.task_id, status=RUNS), at=at)
    logbook.record("job.stopped", job, by=by, at=at, kind=job.kind.replace("_", " "))


def clear_keys(*, at: datetime) -> int:
    """Forget answers that are kept for posts sent twice, once nobody sends them any more."""
    gone, _ = RepeatKey.objects.filter(at__lt=at - KEPT_KEYS).delete()
    return gone


def _fail_tasks(*, alive: Sequence[UUID], at: datetime) -> int:
    """Tasks that have no job (mail) or whose job is over: after so long they are not worked on any more."""
    since, until = at - UNCLEAR_AFTER, at + UNCLEAR_AFTER
    running = DBTaskResult.objects.filter(status=RUNS).exclude(pk__in=alive)
    return _fail(running.exclude(started_at__range=(since, until)), at=at)


def _fail(rows: QuerySet[Any], *, at: datetime) -> int:
    count: int = rows.update(
        status=FAILED, finished_at=at, exception_class_path="builtins.SystemExit", traceback="Its worker was cut off."
    )
    return count
