"""manage.py mail: send the mail that is due, and decide on reminders and weekly summaries."""

import signal
from threading import Event
from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from django.db import close_old_connections
from django.utils import timezone

from inventory.actions import mailing
from inventory.actions.workers import OUTAGE, Patience

EVERY_SECONDS = 30


class Command(BaseCommand):
    help = "Send the mail that is due, remind of agreements that end, and on Mondays write the weekly summaries."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--loop", action="store_true", help=f"repeat every {EVERY_SECONDS} seconds until stopped")

    def handle(self, *_: Any, loop: bool, **__: Any) -> None:
        if loop:
            self._repeat()
        else:
            self.stdout.write(str(mailing.run(at=timezone.now())))

    def _repeat(self) -> None:
        """Told to stop, it ends the pass it is in: no mail is cut off while it is being sent.

        An outage of the database is waited out. A mail that it cut off between sending and marking is unclear, and left
        to a person: none goes out twice.
        """
        stop, patience = Event(), Patience("mail --loop")
        for asked in (signal.SIGTERM, signal.SIGINT):
            signal.signal(asked, lambda *_: stop.set())
        while True:
            self._pass(patience)
            if stop.wait(EVERY_SECONDS):
                return

    def _pass(self, patience: Patience) -> None:
        try:
            close_old_connections()
            done = mailing.run(at=timezone.now())
        except OUTAGE as problem:
            patience.failed(problem)
            return
        patience.came_through()
        if done.did_something:
            self.stdout.write(str(done))
