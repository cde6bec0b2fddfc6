"""Write a backup: rows of one moment, the files they name, the manifest; all read again before it gets its name."""

import fcntl
import os
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import BinaryIO

from django.core.files.storage import default_storage
from django.db import connections

from inventory.backup import media, schema
from inventory.backup.archive import MANIFEST, check_archive, new_entry, sync_folder, table_entry
from inventory.backup.counting import Count
from inventory.backup.manifest import Manifest
from inventory.backup.snapshot import snapshot
from inventory.backup.tables import tables
from inventory.errors import Refused


@dataclass(frozen=True)
class Made:
    manifest: Manifest
    size: int
    without_row: int  # files in the media that no row names: not copied


def write_backup(path: Path, *, overwrite: bool, at: datetime, using: str = "default") -> Made:
    """Write it beside its name and give it the name when all of it is on the disk and was read again."""
    _refuse_taken(path, overwrite=overwrite)
    part = path.with_name(path.name + ".part")
    try:
        with _only_writer(part) as file:
            manifest, spare = _fill(file, at=at, using=using)
            file.flush()
            os.fsync(file.fileno())
            check_archive(part)
            _refuse_taken(path, overwrite=overwrite)
            os.replace(part, path)
            sync_folder(path.parent)
    except OSError as problem:  # a full disk, a file of the media that may not be read
        raise Refused("not_written", f"{path.name} was not written: {problem.strerror}.", field="file") from problem
    return Made(manifest=manifest, size=path.stat().st_size, without_row=spare)


def _refuse_taken(path: Path, *, overwrite: bool) -> None:
    if path.exists() and not (overwrite and path.is_file()):
        raise Refused(
            "file_exists", f"{path.name} is there already.", field="file", got=path.name,
            mend="Give another name, or --overwrite.",
        )  # fmt: skip


@contextmanager
def _only_writer(part: Path) -> Iterator[BinaryIO]:
    """The unfinished file, for its owner's eyes only. What a killed backup left of it is written over."""
    try:
        handle = os.open(part, os.O_RDWR | os.O_CREAT | os.O_NOFOLLOW, 0o600)
    except OSError as problem:
        raise Refused("no_place", f"{part.name} cannot be written: {problem.strerror}.", field="file") from problem
    with os.fdopen(handle, "r+b") as file:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as problem:
            raise Refused(
                "being_written", f"{part.name} is being written by another backup.", field="file"
            ) from problem
        os.fchmod(file.fileno(), 0o600)
        file.truncate(0)
        try:
            yield file
        finally:
            part.unlink(missing_ok=True)  # there only when it did not get its name


def _fill(file: BinaryIO, *, at: datetime, using: str) -> tuple[Manifest, int]:
    with zipfile.ZipFile(file, "w", allowZip64=True) as archive:
        with snapshot(using):
            steps = schema.refuse_pending(using)
            counted = {table.name: _copy_rows(archive, count=Count(table), name=table.name, using=using)
                       for table in tables()}  # fmt: skip
        named = set().union(*(count.files for count in counted.values()))
        copied, absent = media.copy_files(archive, names=named, storage=default_storage)
        still = _named_now(using) if absent else set()
        manifest = Manifest(
            made_at=at, database=connections[using].vendor, migrations=steps,
            tables={name: count.told() for name, count in counted.items()}, media=copied,
            missing=tuple(name for name in absent if name in still),
            gone=tuple(name for name in absent if name not in still),
        )  # fmt: skip
        with new_entry(archive, name=MANIFEST, packed=True) as entry:
            entry.write(manifest.as_json())
    return manifest, media.without_row(default_storage, named=named, before=at)


def _copy_rows(archive: zipfile.ZipFile, *, count: Count, name: str, using: str) -> Count:
    with new_entry(archive, name=table_entry(name), packed=True) as entry:
        for line in count.lines(using):
            entry.write(line)
    return count


def _named_now(using: str) -> set[str]:
    """The files that rows name by now: a copy of a licence may have been deleted meanwhile, with its name."""
    found: set[str] = set()
    for table in tables():
        for place in table.files:
            names = table.model._base_manager.using(using).values_list(table.columns[place], flat=True)
            found.update(name for name in names.iterator(chunk_size=2000) if name)
    return found
