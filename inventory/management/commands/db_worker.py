"""manage.py db_worker: the worker of the queue. It outlives an outage of its database and marks what others left."""

import time
from datetime import timedelta
from typing import Any

from django.db import connection
from django.utils import timezone
from django_tasks_db.management.commands.db_worker import Command as LibraryCommand

from inventory.actions import tending, workers
from inventory.actions.workers import OUTAGE, Patience, beside
from inventory.rules.roles import command

AGAIN_SECONDS = 2
TENDED_EVERY, SEEN_EVERY = timedelta(minutes=1), timedelta(seconds=20)


class Command(LibraryCommand):
    def handle(self, **given: Any) -> None:
        """A task that an outage broke is marked as stopped a little later; its job can then be started again."""
        patience = Patience("db_worker")
        with beside(_tend, every=TENDED_EVERY), beside(_say_so, every=SEEN_EVERY):
            while True:
                try:
                    super().handle(**given)
                    return
                except OUTAGE as problem:
                    patience.failed(problem)
                    _wait(patience)


def _wait(patience: Patience) -> None:
    while patience.is_down:
        time.sleep(AGAIN_SECONDS)
        try:
            connection.ensure_connection()
        except OUTAGE as problem:
            patience.failed(problem)
        else:
            patience.came_through()


def _tend() -> None:
    tending.mark_stopped(by=command("the worker"), at=timezone.now())


def _say_so() -> None:
    workers.seen(at=timezone.now())
