"""The pieces of a file on its way: written at their place, on the disk before anybody is told so."""

import os
import uuid
from pathlib import Path
from typing import BinaryIO

from django.conf import settings
from django.core.files import File


def folder() -> Path:
    return Path(settings.MEDIA_ROOT) / "uploads"


def path_of(code: uuid.UUID) -> Path:
    return folder() / f"{code}.part"


def write(code: uuid.UUID, *, offset: int, content: bytes) -> None:
    """Write one piece at its place. What lay behind it, of a try that was given up, is overwritten or cut off."""
    folder().mkdir(parents=True, exist_ok=True)
    handle = os.open(path_of(code), os.O_RDWR | os.O_CREAT, settings.FILE_UPLOAD_PERMISSIONS)
    with os.fdopen(handle, "r+b") as file:
        file.seek(offset)
        file.write(content)
        file.truncate()
        file.flush()
        os.fsync(file.fileno())


def holds(code: uuid.UUID, *, offset: int, content: bytes) -> bool:
    """Whether these very bytes are there already."""
    try:
        with path_of(code).open("rb") as file:
            file.seek(offset)
            return file.read(len(content)) == content
    except FileNotFoundError:
        return False


def remove(code: uuid.UUID) -> None:
    path_of(code).unlink(missing_ok=True)


def leftovers(*, older_than: float) -> list[Path]:
    """What nobody has written to since that moment (seconds since 1970)."""
    found = sorted(folder().iterdir()) if folder().is_dir() else []
    return [path for path in found if path.stat().st_mtime < older_than]


class Whole(File[bytes]):
    """All pieces together, for the storage to move instead of copy: a second name of the same bytes.

    The pieces themselves stay until the row is committed. Where a second name cannot be had, the file is copied.
    """

    def __init__(self, path: Path, *, name: str) -> None:
        self._second = path.with_suffix(".whole")
        self._second.unlink(missing_ok=True)
        try:
            os.link(path, self._second)
        except OSError:  # another kind of file system: read it through
            self._second = path
        self.more = path.stat().st_size if self._second == path else 0  # of the disk, beyond what the pieces take
        opened: BinaryIO = self._second.open("rb")
        super().__init__(opened, name=name)
        if self._second != path:
            self.temporary_file_path = lambda: str(self._second)
        self._made = self._second if self._second != path else None

    def close(self) -> None:
        """A storage that keeps files elsewhere has copied it: the second name goes."""
        super().close()
        if self._made is not None:
            self._made.unlink(missing_ok=True)
