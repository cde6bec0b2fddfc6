"""The pieces of a file on its way where media lie in a bucket: any machine takes any of them, any puts them together.

Each piece is an object of its own, `uploads/<upload>/<place>-<random>`: never written over, so a request that was given
up and writes late harms nothing. Which of them count says the database.
"""

import secrets
import shutil
import time
import uuid
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from tempfile import NamedTemporaryFile
from typing import Any

from django.core.files.base import ContentFile
from django.core.files.storage import FileSystemStorage, default_storage

from inventory.uploads import pieces
from inventory.uploads.local import part_of
from inventory.uploads.room import refuse_full_disk

FOLDER = "uploads"
_JOINED = ".joined"
_HALF_DONE = {_JOINED, ".whole"}
_DAY = 24 * 3600


@dataclass(frozen=True)
class Piece:
    """Bytes of the file from `offset` on, and the name of the object that holds them."""

    offset: int
    size: int
    name: str

    @property
    def end(self) -> int:
        return self.offset + self.size


def in_use() -> bool:
    """Whether media are kept by another server, which knows no paths."""
    return not isinstance(default_storage, FileSystemStorage)


def write(code: uuid.UUID, *, offset: int, content: bytes) -> str:
    """Keep one piece, and give back the name of its object. It is there when this returns."""
    return default_storage.save(f"{_folder(code)}/{offset:012d}-{secrets.token_hex(6)}", ContentFile(content))


def hold(kept: Sequence[Piece], *, offset: int, content: bytes) -> bool:
    """Whether these very bytes are in the pieces, which are the ones that hold this stretch."""
    try:
        held = b"".join(_read(piece) for piece in kept)
    except FileNotFoundError:
        return False
    start = offset - kept[0].offset if kept else 0
    return held[start : start + len(content)] == content


@contextmanager
def joined(kept: Sequence[Piece], *, code: uuid.UUID, total: int) -> Iterator[Path]:
    """All pieces in order as one file of this disk, for the while. Raises FileNotFoundError where one is missing."""
    refuse_full_disk(total)
    _forget_cut_off()
    pieces.folder().mkdir(parents=True, exist_ok=True)
    with NamedTemporaryFile(dir=pieces.folder(), prefix=f"{code}.", suffix=_JOINED) as whole:
        for piece in kept:
            if piece.offset != whole.tell():
                break
            with _opened(piece) as stored:
                shutil.copyfileobj(stored, whole)
        if whole.tell() != total:
            raise FileNotFoundError(f"Of {total} bytes {whole.tell()} are here.")
        whole.flush()
        yield Path(whole.name)


def remove(code: uuid.UUID) -> None:
    """All objects of one upload, also those that nobody counted."""
    for name in _names(_folder(code)):
        default_storage.delete(name)


def remove_leftovers(*, but_of: set[str], older_than: datetime) -> None:
    """Objects of uploads that are over. Only this folder of the bucket is looked through."""
    for upload in _listed(FOLDER)[0]:
        if upload not in but_of:
            for name in _names(f"{FOLDER}/{upload}"):
                if default_storage.get_modified_time(name) < older_than:
                    default_storage.delete(name)


def _folder(code: uuid.UUID) -> str:
    return f"{FOLDER}/{code}"


def _names(folder: str) -> list[str]:
    return [f"{folder}/{name}" for name in _listed(folder)[1]]


def _listed(folder: str) -> tuple[list[str], list[str]]:
    try:
        return default_storage.listdir(folder)
    except FileNotFoundError:
        return [], []


def _read(piece: Piece) -> bytes:
    with _opened(piece) as stored:
        return bytes(stored.read())


def _opened(piece: Piece) -> Any:
    """In one request: opened by the storage itself, an object is asked about twice before it is read."""
    return part_of(default_storage, piece.name, first=0, last=piece.size - 1)


def _forget_cut_off() -> None:
    """What a process that was killed left half joined on this machine; nobody joins for a day."""
    for path in pieces.leftovers(older_than=time.time() - _DAY):
        if path.suffix in _HALF_DONE:
            path.unlink(missing_ok=True)
