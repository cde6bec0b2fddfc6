"""manage.py first_owner USERNAME: the account that everything else is made with."""

import getpass
import os
import sys
from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from django.utils import timezone

from inventory.actions.staffing import add_staff
from inventory.errors import Refused
from inventory.rules.roles import Role, command


class Command(BaseCommand):
    help = "Add an owner. The pass phrase is asked for, or read from the variable OWNER_PASSWORD."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("username")
        parser.add_argument("--full-name", default="")

    def handle(self, *_: Any, **given: Any) -> None:
        password = os.environ.get("OWNER_PASSWORD") or getpass.getpass("Pass phrase: ")
        try:
            row = add_staff(
                given["username"], full_name=given["full_name"] or given["username"], role=Role.OWNER,
                password=password, by=command("first_owner"), at=timezone.now(),
            )  # fmt: skip
        except Refused as problem:
            self.stderr.write(str(problem))
            sys.exit(2)
        self.stdout.write(f"{row} may sign in as owner.")
