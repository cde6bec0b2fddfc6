"""Whether long work is left to a worker, what runs beside one, and how one outlives an outage of its database."""

import logging
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from datetime import datetime, timedelta
from threading import Event, Thread

from django.core.cache import cache
from django.db import DatabaseError, InterfaceError, OperationalError, connection
from django_tasks import DEFAULT_TASK_BACKEND_ALIAS, task_backends
from django_tasks.backends.immediate import ImmediateBackend

from inventory.queries.health import WORKER_SEEN

DAY = 24 * 3600
OUTAGE = (OperationalError, InterfaceError)  # what a database that is gone, full or restarting answers with
log = logging.getLogger("inventory.workers")


def has_worker() -> bool:
    """Without one (TASKS=immediate) what is handed over would be done by whoever asks, in their request."""
    return not isinstance(task_backends[DEFAULT_TASK_BACKEND_ALIAS], ImmediateBackend)


def seen(*, at: datetime) -> None:
    """A worker says that it is there. No deed: nobody's history tells of it, and it may be lost."""
    cache.set(WORKER_SEEN, int(at.timestamp()), timeout=DAY)


@contextmanager
def beside(deed: Callable[[], object], *, every: timedelta) -> Iterator[None]:
    """Do a small thing at once and then now and then, in a thread with its own connection, while the block lasts."""
    over = Event()

    def repeat() -> None:
        try:
            while True:
                with suppress(DatabaseError, InterfaceError):  # the next time may come through
                    deed()
                if over.wait(every.total_seconds()):
                    return
        finally:
            connection.close()

    thread = Thread(target=repeat, daemon=True)
    thread.start()
    try:
        yield
    finally:
        over.set()
        thread.join(timeout=every.total_seconds())


class Patience:
    """One line in the log when the database goes, and one when it is back, however often it was tried."""

    def __init__(self, who: str) -> None:
        self.who, self.is_down = who, False

    def came_through(self) -> None:
        if self.is_down:
            log.warning("%s: the database is back.", self.who)
        self.is_down = False

    def failed(self, problem: DatabaseError | InterfaceError) -> None:
        """The lines of a driver may hold names of servers and of people: only the kind of the fault is told."""
        if not self.is_down:
            log.warning("%s: the database cannot be used (%s). Trying again.", self.who, type(problem).__name__)
        self.is_down = True
        with suppress(DatabaseError, InterfaceError):
            connection.close()
