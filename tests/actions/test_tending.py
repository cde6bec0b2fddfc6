"""What a worker that was cut off leaves behind, and how the work is started again."""

from concurrent.futures import ThreadPoolExecutor
from datetime import datetime, timedelta
from threading import Barrier
from uuid import UUID, uuid4

import pytest
from django.core.files.base import ContentFile
from django.db import connection
from django.utils import timezone
from django_tasks_db.models import DBTaskResult
from pytest_django import Settings

from inventory.actions import importing, jobs, tasks, tending
from inventory.errors import NotAllowed, TooLate
from inventory.models import Job, LogEntry, RepeatKey
from inventory.rules.jobs import KEPT_KEYS, SILENT
from inventory.rules.messages import UNCLEAR_AFTER
from inventory.rules.roles import Actor, command

pytestmark = pytest.mark.django_db
BY = command("the worker")
LONG = SILENT + timedelta(seconds=1)


@pytest.fixture(autouse=True)
def with_worker(settings: Settings) -> None:
    settings.TASKS = {"default": {"BACKEND": "django_tasks_db.DatabaseBackend"}}


def taken(job: Job, *, at: datetime) -> UUID:
    """A worker took the job and said so last at this moment."""
    row = DBTaskResult.objects.get(pk=job.task_id)
    row.claim("w" * 32)
    DBTaskResult.objects.filter(pk=row.pk).update(started_at=at)
    Job.objects.filter(pk=job.pk).update(status="running", began_at=at, seen_at=at)
    return UUID(str(row.pk))


def status_of(task_id: UUID) -> str:
    return str(DBTaskResult.objects.get(pk=task_id).status)


def test_job_and_its_row_of_the_queue_are_committed_together(owner: Actor, at: datetime) -> None:
    job = tasks.start_pricing(by=owner, at=at)
    assert DBTaskResult.objects.get(pk=job.task_id).args_kwargs["kwargs"]["job_id"] == job.pk


def test_cut_off_job_is_marked_with_its_row_of_the_queue_once(owner: Actor, at: datetime) -> None:
    job = tasks.start_fit(by=owner, at=at)
    task_id = taken(job, at=at)
    assert tending.mark_stopped(by=BY, at=at + timedelta(seconds=30)).jobs == 0
    assert tending.mark_stopped(by=BY, at=at + LONG).jobs == 1
    job.refresh_from_db()
    assert (job.status, job.message, status_of(task_id)) == ("failed", jobs.CUT_OFF, "FAILED")
    assert LogEntry.objects.filter(action="job.stopped", subject_id=job.pk).count() == 1
    assert tending.mark_stopped(by=BY, at=at + LONG) == tending.Stopped()


def test_job_that_waits_for_a_worker_is_left_alone(owner: Actor, at: datetime) -> None:
    job = tasks.start_fit(by=owner, at=at)
    assert tending.mark_stopped(by=BY, at=at + timedelta(days=2)) == tending.Stopped()
    assert status_of(UUID(str(job.task_id))) == "READY"


def test_mail_task_of_a_worker_that_is_gone_is_marked(at: datetime) -> None:
    row = DBTaskResult.objects.create(
        args_kwargs={"args": [], "kwargs": {"message_id": 1}}, backend_name="default", run_after=at,
        task_path="inventory.actions.sending.send_message", status="RUNNING", started_at=at,
    )  # fmt: skip
    assert tending.mark_stopped(by=BY, at=at + UNCLEAR_AFTER - timedelta(seconds=1)).tasks == 0
    assert tending.mark_stopped(by=BY, at=at + UNCLEAR_AFTER + timedelta(seconds=1)).tasks == 1
    assert status_of(UUID(str(row.pk))) == "FAILED"


def test_stopped_job_is_started_again_once_by_whoever_may(owner: Actor, intake: Actor, at: datetime) -> None:
    job = tasks.start_fit(by=owner, at=at)
    taken(job, at=at)
    with pytest.raises(TooLate, match="This work is running"):
        tasks.start_again(job.code, by=owner, at=at)
    with pytest.raises(NotAllowed):
        tasks.start_again(job.code, by=intake, at=at + LONG)
    again = tasks.start_again(job.code, by=owner, at=at + LONG)
    assert again.pk != job.pk
    assert tasks.start_again(job.code, by=owner, at=at + LONG) == again  # pressed twice
    job.refresh_from_db()
    assert job.status == "failed"


def test_second_worker_leaves_a_taken_job_alone(owner: Actor, at: datetime) -> None:
    job = tasks.start_fit(by=owner, at=at)
    taken(job, at=at)
    with pytest.raises(TooLate, match="taken"), jobs.running(job.pk):
        pytest.fail("the job ran twice")


def test_full_disk_is_told_in_the_job(owner: Actor, at: datetime, settings: Settings) -> None:
    settings.TASKS = {"default": {"BACKEND": "django_tasks.backends.immediate.ImmediateBackend"}}
    job = Job.objects.create(kind="import", asked_by="x", asked_at=at)
    with pytest.raises(OSError, match="No space"), jobs.running(job.pk):
        raise OSError(28, "No space left on device")
    job.refresh_from_db()
    assert (job.status, job.message) == ("failed", jobs.FULL)


def test_answers_to_posts_sent_twice_are_kept_for_a_week() -> None:
    now = timezone.now()
    for age in (KEPT_KEYS - timedelta(minutes=1), KEPT_KEYS + timedelta(minutes=1)):
        RepeatKey.objects.create(key=str(uuid4()), actor="x", fingerprint="f", at=now - age)
    assert (tending.clear_keys(at=now), tending.clear_keys(at=now)) == (1, 0)


@pytest.mark.django_db(transaction=True)
def test_import_asked_for_by_several_at_once_is_one_job(owner: Actor, at: datetime) -> None:
    """On PostgreSQL alone: SQLite lets one writer in after the other anyway."""
    if connection.vendor != "postgresql":
        pytest.skip("needs PostgreSQL: TEST_ON=postgres")
    record = importing.keep_upload(ContentFile(b"Yr,Make"), name="sales.csv", by=owner, at=at)
    meeting = Barrier(3)

    def ask(_: int) -> int:
        try:
            meeting.wait(timeout=30)
            return tasks.start_import(record, by=owner, at=at).pk
        finally:
            connection.close()

    with ThreadPoolExecutor(3) as people:
        assert len(set(people.map(ask, range(3)))) == 1
    assert Job.objects.count() == 1
