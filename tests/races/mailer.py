"""Two workers of one process take one mail at once: `python -m tests.races.mailer`, on the database of DATABASE_URL.

Each thread has a connection of its own, so that the database sees two workers.
"""

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "inventory.settings")
django.setup()

from django.db import connection
from django.utils import timezone

from inventory.actions import sending
from inventory.models import OutMessage
from tests import build

Worker = Callable[[int, Barrier], bool]


def careful(message_id: int, meeting: Barrier) -> bool:
    """The house's own way: one conditional UPDATE."""
    connection.ensure_connection()
    meeting.wait(timeout=30)
    return sending.claim(message_id, at=timezone.now()) is not None


def naive(message_id: int, meeting: Barrier) -> bool:
    """What the house does not do: read, decide, write. Here to show that the race is real."""
    row = OutMessage.objects.get(pk=message_id)
    meeting.wait(timeout=30)
    if row.status != "queued":
        return False
    return OutMessage.objects.filter(pk=row.pk).update(status="sending") == 1


def race(worker: Worker) -> int:
    """How many of two workers would send the mail."""
    mail = OutMessage.objects.get(consignment=build.consignment(at=timezone.now()))
    meeting = Barrier(2)

    def work(_: int) -> bool:
        try:
            return worker(mail.pk, meeting)
        finally:
            connection.close()

    with ThreadPoolExecutor(max_workers=2) as workers:
        return sum(workers.map(work, range(2)))


if __name__ == "__main__":
    print(*(race(careful) for _ in range(5)), race(naive))
