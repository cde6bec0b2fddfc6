"""manage.py restore FILE: put back what a backup holds, into SQLite or PostgreSQL, or check it."""

import sys
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from django.utils import timezone

from inventory.actions import backing_up
from inventory.backup import Differs, Target
from inventory.errors import Refused
from inventory.management.commands._backups import KEY_APART, tell_manifest, tell_names
from inventory.rules.roles import command

WORD = "replace"


class Command(BaseCommand):
    help = (
        f"Restore a backup into an empty database, of either kind. Stop the server and the workers first. {KEY_APART}"
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument(
            "--check", action="store_true", help="read all of the backup, say if it is whole, write nothing"
        )
        parser.add_argument("--replace", action="store_true", help="delete the rows that are there")
        stood = "the lot has done nothing since the backup: mail that waited then goes out"
        parser.add_argument("--stood-still", action="store_true", help=stood)
        parser.add_argument("--yes", action="store_true", help="do not ask before deleting")

    def handle(self, *_: Any, **given: Any) -> None:
        try:
            if given["check"]:
                self._check(given["file"])
            else:
                self._restore(given.pop("file"), **given)
        except Refused as problem:
            self.stderr.write(str(problem))
            sys.exit(1 if isinstance(problem, Differs) else 2)

    def _check(self, path: Path) -> None:
        manifest, target = backing_up.check(path)
        tell_manifest(self, manifest=manifest)
        rows = sum(target.rows.values())
        here = f"The database here holds {rows:,} rows." if rows else "The database here is empty."
        self.stdout.write(f"{path.name} is whole and can be restored by this version. {here}")

    def _restore(self, path: Path, *, replace: bool, yes: bool, stood_still: bool, **_: Any) -> None:
        done = backing_up.restore(
            path,
            replace=replace,
            stood_still=stood_still,
            sure=lambda target: yes or self._ask(target),
            by=command("restore"),
            at=timezone.now(),
        )
        tell_manifest(self, manifest=done.manifest, found=done.restored.found)
        files, right = done.restored.written, done.restored.put_right
        self.stdout.write(
            f"Every row, every sum of money and every file is as the backup says. Files written: {len(files):,}; "
            f"put right: {len(right):,}; there already: {len(done.manifest.media) - len(files) - len(right):,}."
        )
        self.stdout.write(
            f"Work that waited for the worker: {done.jobs:,}, marked as failed. Mail that waited: {done.mails:,}, "
            "marked as unclear: send again what was not sent. Everybody signs in again. Who was erased after the "
            f"backup was made is back: erase them again, and run `clear_licences`. {KEY_APART}"
        )
        if gone := done.manifest.gone:
            tell_names(self, names=gone, what="files were deleted while the backup was made; its rows still name them")
        if missing := done.manifest.missing:
            tell_names(self, names=missing, what="files that rows name were missing when the backup was made")
            sys.exit(3)

    def _ask(self, target: Target) -> bool:
        for name, rows in sorted(target.rows.items()):
            self.stdout.write(f"  {name:<40}{rows:>12,}")
        self.stdout.write(f"These rows will be deleted. Type {WORD} to go on:")
        try:
            return input().strip() == WORD
        except EOFError:
            return False
