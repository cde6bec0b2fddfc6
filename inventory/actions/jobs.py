"""Long work is asked for in a request and done by the worker; its progress is written to one row."""

import errno
import logging
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager, nullcontext
from datetime import datetime, timedelta
from functools import partial
from typing import Any

from django.db import transaction
from django.utils import timezone

from inventory import logs
from inventory.actions import logbook, workers
from inventory.actions.writing import add
from inventory.errors import Refused, TooLate
from inventory.models import Job
from inventory.queries.jobs import signs_of
from inventory.rules.jobs import BEAT, Standing
from inventory.rules.roles import Actor, ActorKind, Role
from inventory.rules.words import JobStatus

log = logging.getLogger("inventory.jobs")
STOPPED = "It stopped because of an error on our side. Nothing was half-done; the server's log says more."
FULL = "The disk of the server is full. Nothing was half-done: make room, then start it again."
CUT_OFF = "Its worker was cut off and did not come back. Nothing was half-done: start it again."
FORGOTTEN = timedelta(days=1)  # a job that waited longer holds no other one back


@transaction.atomic
def start(
    kind: str, *, enqueue: Callable[..., Any], by: Actor, at: datetime, acting: Actor | None = None, **given: Any
) -> Job:
    """Make the row that the page polls, and hand the work over; the worker sees it once this transaction is through.

    The work is done as `acting` where whoever asks may not do it themselves. Row and task are committed together: no
    job waits for a task that was never handed over.
    """
    job = add(Job(kind=kind, asked_by=by.name, asked_at=at))
    logbook.record("job.started", job, by=by, at=at, kind=kind.replace("_", " "))
    handed = {"job_id": job.pk, "actor": actor_as_json(acting or by), "asked_in": logs.request_id(), **given}
    handed_over = partial(enqueue, **handed)
    if workers.has_worker():
        _write(job, task_id=handed_over().id)
    else:
        transaction.on_commit(handed_over)
    return job


def waiting(kind: str, *, at: datetime) -> Job | None:
    """Such a job that waits for the worker already: it will see all that was written until it begins."""
    queued = Job.objects.filter(kind=kind, status=JobStatus.QUEUED, asked_at__gt=at - FORGOTTEN)
    return queued.order_by("-pk").first()


def is_waiting(kind: str, *, at: datetime) -> bool:
    return waiting(kind, at=at) is not None


def is_going_on(job: Job, *, at: datetime) -> bool:
    """Whether somebody works on it, or will."""
    return signs_of([job])[job.pk].standing(now=at) not in {Standing.STOPPED, Standing.OVER}


@contextmanager
def running(job_id: int, *, asked_in: str = "") -> Iterator[Job]:
    """Mark the job running, and afterwards done or failed, whatever happened in between.

    Only one worker takes a job. While it works another thread says that it still does. All log lines meanwhile carry
    the job and the number of the request that asked for it.
    """
    job = _taken(job_id, at=timezone.now())
    with logs.about(job=str(job.code), kind=job.kind, request=asked_in):
        log.info("job begins")
        with _marked(job), signs_of_life(job_id) if workers.has_worker() else nullcontext():
            yield job
        log.info("job is over: %s", job.status)


@contextmanager
def _marked(job: Job) -> Iterator[None]:
    status, message = JobStatus.FAILED, STOPPED
    try:
        yield
        status, message = JobStatus.DONE, job.message
    except Refused as problem:
        message = str(problem)
    except OSError as problem:
        message = FULL if problem.errno in {errno.ENOSPC, errno.EDQUOT} else STOPPED
        log.exception("job stopped")
        raise
    except BaseException:
        log.exception("job stopped")
        raise
    finally:
        _write(job, status=status, message=message, ended_at=timezone.now())


def _taken(job_id: int, *, at: datetime) -> Job:
    waiting = Job.objects.filter(pk=job_id, status=JobStatus.QUEUED)
    if not waiting.update(status=JobStatus.RUNNING, began_at=at, seen_at=at):
        raise TooLate("job_taken", "This job was taken or given up before.", field="job", got=job_id)
    return Job.objects.get(pk=job_id)


def signs_of_life(job_id: int) -> AbstractContextManager[None]:
    """Say now and then that the job is still worked on."""
    return workers.beside(lambda: Job.objects.filter(pk=job_id).update(seen_at=timezone.now()), every=BEAT)


def show_progress(job: Job, *, every: int = 2000) -> Callable[[int, int], None]:
    """A callback that writes how far the work has come, now and then."""

    def told(done: int, total: int) -> None:
        if done - job.done >= every or done == total:
            _write(job, done=done, total=total, seen_at=timezone.now())

    return told


def actor_as_json(actor: Actor) -> dict[str, Any]:
    return {"kind": actor.kind.value, "role": actor.role.value, "name": actor.name, "id": actor.id}


def actor_from_json(given: dict[str, Any]) -> Actor:
    return Actor(kind=ActorKind(given["kind"]), role=Role(given["role"]), name=given["name"], id=given["id"])


def _write(job: Job, **values: Any) -> None:
    for name, value in values.items():
        setattr(job, name, value)
    job.save(update_fields=[*values])
