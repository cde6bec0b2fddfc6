"""manage.py backup FILE: every record and every file of the media in one zip file."""

import sys
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from django.utils import timezone

from inventory.actions import backing_up
from inventory.errors import Refused
from inventory.management.commands._backups import KEY_APART, tell_manifest, tell_names
from inventory.rules.roles import command


class Command(BaseCommand):
    help = (
        "Write a backup while the lot goes on working: one zip file, checked before it gets its name. It holds names, "
        f"money and pass phrases as hashes: keep it as safe as the database. {KEY_APART}"
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument("--overwrite", action="store_true", help="put it in the place of a file of that name")

    def handle(self, *_: Any, **given: Any) -> None:
        try:
            made = backing_up.make_backup(
                given["file"], overwrite=given["overwrite"], by=command("backup"), at=timezone.now()
            )
        except Refused as problem:
            self.stderr.write(str(problem))
            sys.exit(2)
        tell_manifest(self, manifest=made.manifest)
        self.stdout.write(f"{given['file'].name}: {made.size:,} bytes, read again and found whole. {KEY_APART}")
        if made.without_row:
            self.stdout.write(f"{made.without_row:,} files in the media belong to no row; they are not in it.")
        if made.manifest.missing:
            tell_names(self, names=made.manifest.missing, what="files that rows name are missing from the media")
            sys.exit(3)
