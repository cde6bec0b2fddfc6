"""manage.py db_worker: the library's worker, which says that it is there and outlives a database that is away."""

import logging
import time
from collections.abc import Iterator
from contextlib import contextmanager
from threading import Event, Thread
from typing import Any

from django.db import InterfaceError, OperationalError, close_old_connections, connection
from django.utils import timezone
from django_tasks_db.management.commands import db_worker

from inventory.actions import workers

EVERY_SECONDS = 20
AGAIN_SECONDS = 5
log = logging.getLogger("inventory.worker")


class Command(db_worker.Command):
    def handle(self, **given: Any) -> None:
        with _heartbeat():
            while True:
                try:
                    super().handle(**given)
                    return
                except (OperationalError, InterfaceError):
                    log.exception("the database is away; trying again in %d seconds", AGAIN_SECONDS)
                    time.sleep(AGAIN_SECONDS)
                    close_old_connections()


@contextmanager
def _heartbeat() -> Iterator[None]:
    """Beside the work, which may take minutes. The thread has a connection of its own."""
    stop = Event()
    beat = Thread(target=_beat, args=(stop,), daemon=True)
    beat.start()
    try:
        yield
    finally:
        stop.set()
        beat.join(timeout=AGAIN_SECONDS)


def _beat(stop: Event) -> None:
    try:
        while True:
            close_old_connections()
            try:
                workers.seen(at=timezone.now())
            except (OperationalError, InterfaceError):
                log.warning("the database is away; nobody is told that the worker is here")
            if stop.wait(EVERY_SECONDS):
                return
    finally:
        connection.close()
