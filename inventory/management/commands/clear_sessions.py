"""manage.py clear_sessions: throw away sessions that are too old to open anything."""

from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand
from django.utils import timezone

from inventory.actions import sessions
from inventory.rules.roles import command


class Command(BaseCommand):
    help = "Throw away sessions that are over, with what staff saw of them. Run it daily."

    def handle(self, *_: Any, **__: Any) -> None:
        call_command("clearsessions")
        count = sessions.clear_sessions(by=command("clear_sessions"), at=timezone.now())
        self.stdout.write(f"{count} sessions cleared.")
