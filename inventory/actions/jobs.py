"""Long work is asked for in a request and done by the worker; its progress is written to one row."""

import logging
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from functools import partial
from typing import Any

from django.db import transaction
from django.utils import timezone

from inventory import logs
from inventory.actions import logbook
from inventory.actions.writing import add
from inventory.errors import Refused
from inventory.models import Job
from inventory.rules.roles import Actor, ActorKind, Role
from inventory.rules.words import JobStatus

log = logging.getLogger("inventory.jobs")
STOPPED = "It stopped because of an error on our side. Nothing was half-done; the server's log says more."


FORGOTTEN = timedelta(days=1)  # a job that waited longer holds no other one back


@transaction.atomic
def start(
    kind: str, *, enqueue: Callable[..., Any], by: Actor, at: datetime, acting: Actor | None = None, **given: Any
) -> Job:
    """Make the row that the page polls, and hand the work over once this transaction is through.

    The work is done as `acting` where whoever asks may not do it themselves.
    """
    job = add(Job(kind=kind, asked_by=by.name, asked_at=at))
    logbook.record("job.started", job, by=by, at=at, kind=kind.replace("_", " "))
    handed = {"job_id": job.pk, "actor": actor_as_json(acting or by), "asked_in": logs.request_id(), **given}
    transaction.on_commit(partial(enqueue, **handed))
    return job


def is_waiting(kind: str, *, at: datetime) -> bool:
    """Whether such a job waits for the worker already: it will see all that was written until it begins."""
    return Job.objects.filter(kind=kind, status=JobStatus.QUEUED, asked_at__gt=at - FORGOTTEN).exists()


@contextmanager
def running(job_id: int, *, asked_in: str = "") -> Iterator[Job]:
    """Mark the job running, and afterwards done or failed, whatever happened in between.

    All log lines meanwhile carry the job and the number of the request that asked for it.
    """
    job = Job.objects.get(pk=job_id)
    with logs.about(job=str(job.code), kind=job.kind, request=asked_in):
        log.info("job begins")
        with _marked(job):
            yield job
        log.info("job is over: %s", job.status)


@contextmanager
def _marked(job: Job) -> Iterator[None]:
    _write(job, status=JobStatus.RUNNING, began_at=timezone.now())
    status, message = JobStatus.FAILED, STOPPED
    try:
        yield
        status, message = JobStatus.DONE, job.message
    except Refused as problem:
        message = str(problem)
    except BaseException:
        log.exception("job stopped")
        raise
    finally:
        _write(job, status=status, message=message, ended_at=timezone.now())


def show_progress(job: Job, *, every: int = 2000) -> Callable[[int, int], None]:
    """A callback that writes how far the work has come, now and then."""

    def told(done: int, total: int) -> None:
        if done - job.done >= every or done == total:
            _write(job, done=done, total=total)

    return told


def actor_as_json(actor: Actor) -> dict[str, Any]:
    return {"kind": actor.kind.value, "role": actor.role.value, "name": actor.name, "id": actor.id}


def actor_from_json(given: dict[str, Any]) -> Actor:
    return Actor(kind=ActorKind(given["kind"]), role=Role(given["role"]), name=given["name"], id=given["id"])


def _write(job: Job, **values: Any) -> None:
    for name, value in values.items():
        setattr(job, name, value)
    job.save(update_fields=[*values])
