"""Stored files where code needs a path or a part: as they lie on this disk, else as they are fetched."""

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import NamedTemporaryFile
from typing import Any

from django.core.files.storage import Storage
from django.db.models.fields.files import FieldFile


@contextmanager
def on_disk(field: FieldFile) -> Iterator[Path]:
    """The path of a stored file. Where files are kept on another machine it is fetched, and its copy removed after."""
    try:
        here = Path(field.path)
    except NotImplementedError:  # the storage has no paths of its own
        here = None
    if here is not None:
        yield here
        return
    with NamedTemporaryFile(suffix=Path(field.name or "").suffix) as copy:
        with field.open("rb") as stored:
            shutil.copyfileobj(stored, copy)
        copy.flush()
        yield Path(copy.name)


def part_of(storage: Storage, name: str, *, first: int, last: int) -> Any:
    """The stored bytes from one place to another, to be read and closed. Raises FileNotFoundError.

    Of a bucket only these are fetched, as they are read: who plays a clip asks for parts of it again and again.
    Elsewhere the file is open where they begin, and does not end with them.
    """
    bucket = getattr(storage, "bucket", None)
    if bucket is None:
        file = storage.open(name)
        file.seek(first)
        return file
    try:
        return bucket.Object(name).get(Range=f"bytes={first}-{last}")["Body"]
    except bucket.meta.client.exceptions.NoSuchKey as problem:
        raise FileNotFoundError(name) from problem
