"""A stored file where code needs a path: as it lies on this disk, else a copy for the while."""

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import NamedTemporaryFile

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
