"""manage.py clear_licences: delete copies of driving licences whose days are over."""

from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from inventory.actions import driving
from inventory.rules.roles import command


class Command(BaseCommand):
    help = "Delete the copies of driving licences kept for test drives whose days are over. Run it daily."

    def handle(self, *_: Any, **__: Any) -> None:
        count = driving.clear_licences(by=command("clear_licences"), at=timezone.now())
        self.stdout.write(f"{count} cop{'y' if count == 1 else 'ies'} of driving licences deleted.")
