"""Backups and restores: by command alone, with what must be said afterwards in the log."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.db import transaction

from inventory import backup
from inventory.actions import logbook
from inventory.actions.writing import locked_lot
from inventory.backup import Archive, Made, Manifest, Restored, Target
from inventory.errors import Refused
from inventory.models import Job, OutMessage
from inventory.rules.roles import Act, Actor, require
from inventory.rules.words import JobStatus, MessageStatus

AFTER_RESTORE = "It waited when the backup was made."


@dataclass(frozen=True)
class Outcome:
    manifest: Manifest
    restored: Restored
    jobs: int  # long work that waited, now marked as failed
    mails: int  # mail that waited, now unclear


def make_backup(path: Path, *, overwrite: bool, by: Actor, at: datetime) -> Made:
    """Write the file, checked; the log says so after it, so the entry is not in the backup itself."""
    require(by, Act.MANAGE_STAFF)
    made = backup.write_backup(path, overwrite=overwrite, at=at)
    told = made.manifest
    with transaction.atomic():
        logbook.record(
            "backup.made", locked_lot(), by=by, at=at, rows=told.rows, files=len(told.media), bytes=made.size,
            missing=len(told.missing),
        )  # fmt: skip
    Path(settings.BACKUP_MARK).touch()  # what watches asks how old this is
    return made


def restore(
    path: Path, *, replace: bool, stood_still: bool, sure: Callable[[Target], bool], by: Actor, at: datetime
) -> Outcome:
    """Check the whole file, then put back what it holds. A database that holds rows is emptied only when told to."""
    require(by, Act.MANAGE_STAFF)
    backup.check_archive(path)
    with Archive.open(path) as archive:
        target = backup.look_at(archive.manifest)
        _refuse_rows(target, replace=replace)
        if not target.is_empty and not sure(target):
            raise Refused("not_sure", "Nothing was done.")
        restored = backup.restore(archive, target=target)
        if not target.same_tables:  # forward from an older version, triggers, tables of no model
            call_command("migrate", verbosity=0, interactive=False)
        return _tell(archive.manifest, restored=restored, stood_still=stood_still, by=by, at=at)


def _refuse_rows(target: Target, *, replace: bool) -> None:
    if target.is_empty or replace:
        return
    count = sum(target.rows.values())
    raise Refused(
        "not_empty", f"The database holds {count:,} rows in {len(target.rows)} tables.",
        mend="Restore into an empty one, or give --replace: then they are deleted.",
    )  # fmt: skip


@transaction.atomic
def _tell(manifest: Manifest, *, restored: Restored, stood_still: bool, by: Actor, at: datetime) -> Outcome:
    """What waited then may have been done since: no mail goes out twice, no work is waited for that nobody does."""
    jobs = Job.objects.filter(status__in=[JobStatus.QUEUED, JobStatus.RUNNING]).update(
        status=JobStatus.FAILED, message=AFTER_RESTORE, ended_at=at
    )
    waiting = OutMessage.objects.filter(status__in=[MessageStatus.QUEUED, MessageStatus.SENDING])
    mails = 0 if stood_still else waiting.update(status=MessageStatus.UNCLEAR, last_error=AFTER_RESTORE)
    said: dict[str, Any] = {"made_at": f"{manifest.made_at:%Y-%m-%d %H:%M} UTC", "rows": manifest.rows,
                            "files": len(manifest.media), "jobs": jobs, "mails": mails}  # fmt: skip
    logbook.record("backup.restored", locked_lot(), by=by, at=at, **said)
    return Outcome(manifest=manifest, restored=restored, jobs=jobs, mails=mails)


def check(path: Path) -> tuple[Manifest, Target]:
    """Read all of a backup and hold it against its manifest and against this version; write nothing."""
    manifest = backup.check_archive(path)
    return manifest, backup.look_at(manifest)
