"""The files that the rows name, by way of the storage: a disk or another."""

import zipfile
from collections.abc import Iterable, Iterator
from datetime import datetime

from django.core.files.storage import Storage

from inventory.backup.archive import Digest, media_entry, new_entry, pieces
from inventory.backup.manifest import FileTold, media_name

PIECES = "uploads"  # of files that have not come whole


def copy_files(
    archive: zipfile.ZipFile, *, names: Iterable[str], storage: Storage
) -> tuple[dict[str, FileTold], list[str]]:
    """Copy each file as it is; give back what was copied, and the names of those that are not there."""
    copied: dict[str, FileTold] = {}
    absent: list[str] = []
    for name in sorted(names):
        try:
            file = storage.open(media_name(name), "rb")
        except FileNotFoundError:
            absent.append(name)
            continue
        digest = Digest()
        with file, new_entry(archive, name=media_entry(name), packed=False) as entry:
            for piece in file.chunks():
                digest.take(piece)
                entry.write(piece)
        copied[name] = digest.told()
    return copied, absent


def told_of(name: str, *, storage: Storage) -> FileTold | None:
    """What the storage holds under this name; None where there is nothing."""
    try:
        file = storage.open(name, "rb")
    except FileNotFoundError:
        return None
    digest = Digest()
    with file:
        for piece in pieces(file):
            digest.take(piece)
    return digest.told()


def without_row(storage: Storage, *, named: set[str], before: datetime) -> int:
    """How many files lie in the storage that no row names; those that came since are of rows that came since."""
    return sum(1 for name in _all(storage) if name not in named and _is_older(storage, name=name, than=before))


def _is_older(storage: Storage, *, name: str, than: datetime) -> bool:
    try:
        return storage.get_modified_time(name) < than
    except FileNotFoundError:
        return False


def _all(storage: Storage, *, below: str = "") -> Iterator[str]:
    try:
        folders, files = storage.listdir(below)
    except FileNotFoundError:
        return
    prefix = f"{below}/" if below else ""
    yield from (prefix + name for name in files)
    for folder in folders:
        if prefix + folder != PIECES:
            yield from _all(storage, below=prefix + folder)
