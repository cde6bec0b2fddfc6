"""manage.py reset_factor USERNAME: for an owner who lost phone and recovery codes, and no other owner is there."""

import sys
from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from django.utils import timezone

from inventory.actions import second_factor
from inventory.queries.sign_in import id_of
from inventory.rules.roles import command


class Command(BaseCommand):
    help = "Take somebody's second factor away: the password alone signs them in until they set up another."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("username")

    def handle(self, *_: Any, username: str, **__: Any) -> None:
        found = id_of(username)
        if found is None:
            self.stderr.write(f"There is no member of staff with the user name {username}.")
            sys.exit(2)
        second_factor.reset(found, by=command("reset_factor"), at=timezone.now())
        self.stdout.write(f"The second factor of {username} is reset.")
