"""Long work as its page shows it: how far it is, or why it does not go on."""

import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django_tasks_db.models import DBTaskResult

from inventory.errors import NotFound
from inventory.models import Job, SalesImport
from inventory.rules.jobs import RUNS, STARTABLE, Signs, Standing, minutes
from inventory.rules.words import JobStatus


@dataclass(frozen=True)
class JobSeen:
    """One job and what is to be said of it now."""

    job: Job
    record: SalesImport | None
    standing: Standing
    last_sign: datetime
    waited_minutes: int
    worker_is_busy: bool

    @property
    def has_stopped(self) -> bool:
        return self.standing == Standing.STOPPED

    @property
    def is_untaken(self) -> bool:
        return self.standing == Standing.UNTAKEN

    @property
    def may_start_again(self) -> bool:
        has_ended = self.has_stopped or self.job.status == JobStatus.FAILED
        return has_ended and self.job.kind in STARTABLE and (self.job.kind != "import" or self.record is not None)


def job_seen(code: uuid.UUID, *, now: datetime) -> JobSeen:
    row = Job.objects.prefetch_related("imports").filter(code=code).first()
    if row is None:
        raise NotFound("not_found", "There is no such job.", got=str(code))
    signs = signs_of([row])[row.pk]
    return JobSeen(
        row, next(iter(row.imports.all()), None), signs.standing(now=now), signs.last_sign or row.asked_at,
        waited_minutes=minutes(now - row.asked_at), worker_is_busy=_is_busy(now=now),
    )  # fmt: skip


def signs_of(jobs: Iterable[Job]) -> dict[int, Signs]:
    """What each job and the queue's row of it say, in one query."""
    listed = list(jobs)
    tasks = DBTaskResult.objects.in_bulk([job.task_id for job in listed if job.task_id])
    found = {}
    for job in listed:
        task = tasks.get(job.task_id)
        taken_at = task.started_at if task is not None and task.status == RUNS else None
        found[job.pk] = Signs(
            status=job.status, asked_at=job.asked_at, last_sign=job.seen_at or job.began_at or taken_at,
            task=task.status if task is not None else "",
        )  # fmt: skip
    return found


def _is_busy(*, now: datetime) -> bool:
    """Whether some worker is at another job."""
    signs = signs_of(Job.objects.filter(status=JobStatus.RUNNING))
    return any(one.standing(now=now) == Standing.AT_WORK for one in signs.values())
