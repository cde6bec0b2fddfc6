"""The page of long work says why it does not go on, and offers to start it again."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from django_tasks_db.models import DBTaskResult
from pytest_django import Settings

from inventory.actions import tasks
from inventory.models import Job
from inventory.rules.roles import Role
from tests import build

pytestmark = pytest.mark.django_db


@pytest.fixture
def queued(settings: Settings) -> Job:
    settings.TASKS = {"default": {"BACKEND": "django_tasks_db.DatabaseBackend"}}
    at = timezone.now() - timedelta(minutes=5)
    return tasks.start_pricing(by=build.staff(Role.OWNER, at=at), at=at)


def shown(client: Client, job: Job) -> str:
    client.login(username="the-owner", password=build.PASSWORD)
    return client.get(f"/jobs/{job.code}/").content.decode()


def test_job_that_no_worker_takes_says_for_how_long(client: Client, queued: Job) -> None:
    page = shown(client, queued)
    assert "No worker has taken this for 5 minutes: start <code>manage.py db_worker</code>." in page
    assert "Start again" not in page


def test_job_behind_another_one_says_so(client: Client, queued: Job) -> None:
    now = timezone.now()
    Job.objects.create(kind="fit", status="running", asked_by="x", asked_at=now, began_at=now, seen_at=now)
    page = shown(client, queued)
    assert "The worker is at other work; this comes next." in page
    assert "No worker" not in page


def test_stopped_job_is_told_and_started_again_by_its_button(client: Client, queued: Job) -> None:
    DBTaskResult.objects.update(status="RUNNING", started_at=queued.asked_at)
    Job.objects.update(status="running", seen_at=queued.asked_at, done=40, total=100)
    page = shown(client, queued)
    assert "It stopped without a word" in page
    assert "at 40 of 100" in page
    assert 'http-equiv="refresh"' not in page
    again = client.post(f"/jobs/{queued.code}/again/")
    fresh = Job.objects.exclude(pk=queued.pk).get()
    assert again["Location"] == f"/jobs/{fresh.code}/"
    queued.refresh_from_db()
    assert queued.status == "failed"


def test_job_that_goes_on_is_not_started_again(client: Client, queued: Job) -> None:
    shown(client, queued)
    page = client.post(f"/jobs/{queued.code}/again/", follow=True).content.decode()
    assert "This work is waiting for the worker." in page
    assert Job.objects.count() == 1


def test_page_of_a_job_asks_the_same_however_many_there_are(client: Client, queued: Job) -> None:
    shown(client, queued)
    counts, now = [], timezone.now()
    for more in (1, 3):
        for _ in range(more):
            Job.objects.create(
                kind="fit", status="running", asked_by="x", asked_at=now, seen_at=now, task_id=queued.task_id
            )
        with CaptureQueriesContext(connection) as asked:
            client.get(f"/jobs/{queued.code}/")
        counts.append(len(asked))
    assert counts[0] == counts[1]
