"""manage.py clear_uploads: throw away files that began to come and never came whole."""

from datetime import timedelta
from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from django.utils import timezone

from inventory.actions import uploading
from inventory.rules.media import STALE_DAYS
from inventory.rules.roles import command


class Command(BaseCommand):
    help = "Throw away uploads that nobody has gone on with for some days, and the pieces that came of them."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--days", type=int, default=STALE_DAYS, help=f"how many; {STALE_DAYS} unless said")

    def handle(self, *_: Any, days: int, **__: Any) -> None:
        count = uploading.clear_uploads(timedelta(days=days), by=command("clear_uploads"), at=timezone.now())
        self.stdout.write(f"{count} uploads cleared.")
