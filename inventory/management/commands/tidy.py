"""manage.py tidy: the daily housekeeping, in one command. Run again, it finds nothing to do."""

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import DatabaseError
from django.utils import timezone

from inventory.actions import driving, sessions, tending, uploading, workers
from inventory.errors import Refused
from inventory.rules.jobs import KEPT_TASKS_DAYS
from inventory.rules.media import STALE_DAYS
from inventory.rules.roles import command

BY = command("tidy")


class Command(BaseCommand):
    help = (
        "Delete copies of licences, uploads nobody went on with, old sessions, old answers to posts sent twice and old "
        "results of the queue whose time is over; mark work whose worker is gone. Run it daily."
    )

    def handle(self, *_: Any, **__: Any) -> None:
        """Each chore by itself: one that fails keeps none of the others back."""
        at, failed = timezone.now(), []
        for what, chore in CHORES.items():
            try:
                self.stdout.write(f"{what}: {chore(at)}")
            except (Refused, DatabaseError, OSError) as problem:
                self.stderr.write(f"{what}: failed ({type(problem).__name__})")
                failed.append(what)
        if failed:
            raise CommandError(f"Not done: {', '.join(failed)}.")


def _sessions(at: datetime) -> int:
    call_command("clearsessions")
    return sessions.clear_sessions(by=BY, at=at)


def _results(_: datetime) -> str:
    if not workers.has_worker():
        return "no queue"
    call_command("prune_db_task_results", min_age_days=KEPT_TASKS_DAYS, queue_name="*", verbosity=0)
    return "done"


CHORES: dict[str, Callable[[datetime], object]] = {
    "copies of licences deleted": lambda at: driving.clear_licences(by=BY, at=at),
    "uploads cleared": lambda at: uploading.clear_uploads(timedelta(days=STALE_DAYS), by=BY, at=at),
    "sessions that are over": _sessions,
    "old answers to posts sent twice": lambda at: tending.clear_keys(at=at),
    f"results of the queue older than {KEPT_TASKS_DAYS} days": _results,
    "work whose worker is gone": lambda at: tending.mark_stopped(by=BY, at=at),
}
