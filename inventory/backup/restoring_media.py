"""Files back into the storage, under the very names that the rows say."""

import tempfile
from typing import IO

from django.core.files import File
from django.core.files.storage import Storage

from inventory.backup.archive import Archive, media_entry
from inventory.backup.media import told_of
from inventory.errors import Refused

IN_MEMORY = 8 * 2**20


def put_missing(archive: Archive, *, storage: Storage) -> tuple[list[str], list[str]]:
    """Write what is not there; give back those names, and those under which other bytes lie."""
    written: list[str] = []
    others: list[str] = []
    try:
        for name, told in archive.manifest.media.items():
            held = told_of(name, storage=storage)
            if held is None:
                written.append(name)
                _write(archive, name=name, storage=storage)
            elif held != told:
                others.append(name)
    except BaseException:
        take_away(written, storage=storage)
        raise
    return written, others


def put_right(archive: Archive, *, names: list[str], storage: Storage) -> None:
    """Files whose bytes are not those of the backup: once the rows are in place, the backup's bytes count."""
    for name in names:
        storage.delete(name)
        _write(archive, name=name, storage=storage)


def take_away(names: list[str], *, storage: Storage) -> None:
    for name in names:
        storage.delete(name)


def _write(archive: Archive, *, name: str, storage: Storage) -> None:
    """The storage gets the file only when all its bytes have passed; then it is read again."""
    with tempfile.SpooledTemporaryFile(max_size=IN_MEMORY) as whole:
        for piece in archive.read(media_entry(name)):
            whole.write(piece)
        whole.seek(0)
        _save(whole, name=name, storage=storage)
    if told_of(name, storage=storage) != archive.manifest.media[name]:
        raise Refused("bad_copy", f"The media hold other bytes of {name} than were written.", field="media", got=name)


def _save(whole: "IO[bytes]", *, name: str, storage: Storage) -> None:
    saved = storage.save(name, File(whole, name=name))
    if saved != name:
        storage.delete(saved)
        raise Refused("name_taken", f"The media would not hold {name} under its name.", field="media", got=name)
