"""manage.py mail: send the mail that is due, and decide on reminders and weekly summaries."""

import logging
import signal
from threading import Event
from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from django.db import InterfaceError, OperationalError, close_old_connections
from django.utils import timezone

from inventory.actions import mailing

EVERY_SECONDS = 30
log = logging.getLogger("inventory.mail")


class Command(BaseCommand):
    help = "Send the mail that is due, remind of agreements that end, and on Mondays write the weekly summaries."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--loop", action="store_true", help=f"repeat every {EVERY_SECONDS} seconds until stopped")

    def handle(self, *_: Any, loop: bool, **__: Any) -> None:
        self.stdout.write(str(mailing.run(at=timezone.now())))
        if loop:
            self._repeat()

    def _repeat(self) -> None:
        """Told to stop, it ends the pass it is in: no mail is cut off while it is being sent."""
        stop = Event()
        for asked in (signal.SIGTERM, signal.SIGINT):
            signal.signal(asked, lambda *_: stop.set())
        while not stop.wait(EVERY_SECONDS):
            close_old_connections()
            self._once_more()

    def _once_more(self) -> None:
        try:
            done = mailing.run(at=timezone.now())
        except (OperationalError, InterfaceError):
            log.exception("the database is away; mail waits")
            return
        if done.did_something:
            self.stdout.write(str(done))
