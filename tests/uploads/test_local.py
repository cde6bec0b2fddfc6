"""A stored file has a path while it is read, wherever it is kept."""

from functools import partial
from io import BytesIO
from pathlib import Path
from types import SimpleNamespace

import pytest
from django.core.files import File
from django.core.files.base import ContentFile
from django.core.files.storage import FileSystemStorage, Storage
from django.db.models.fields.files import FieldFile

from inventory.models import SalesImport
from inventory.uploads import on_disk, part_of


class Bucket(Storage):
    """Like a bucket it knows no paths."""

    def __init__(self) -> None:
        self._held: dict[str, bytes] = {}

    def _save(self, name: str, content: File[bytes]) -> str:
        self._held[name] = content.read()
        return name

    def _open(self, name: str, mode: str) -> ContentFile[bytes]:
        return ContentFile(self._held[name])

    def exists(self, name: str) -> bool:
        return name in self._held


class NoSuchKey(Exception):
    """As the library of the bucket calls it."""


class S3(Bucket):
    """What `storages.backends.s3` offers beside: the bucket, of whose objects a part can be asked for."""

    def __init__(self) -> None:
        super().__init__()
        self.bucket = self
        self.meta = SimpleNamespace(client=SimpleNamespace(exceptions=SimpleNamespace(NoSuchKey=NoSuchKey)))

    def Object(self, name: str) -> SimpleNamespace:
        return SimpleNamespace(get=partial(self._part, name))

    def _part(self, name: str, *, Range: str) -> dict[str, BytesIO]:
        if name not in self._held:
            raise NoSuchKey(name)
        first, last = map(int, Range.removeprefix("bytes=").split("-"))  # both counted in: RFC 9110, section 14.1.2
        return {"Body": BytesIO(self._held[name][first : last + 1])}


def kept_in(storage: Storage) -> FieldFile:
    field = SalesImport().file
    field.storage = storage
    field.save("sold.csv", ContentFile(b"price\n1"), save=False)
    return field


def test_file_on_this_disk_is_read_where_it_lies(tmp_path: Path) -> None:
    field = kept_in(FileSystemStorage(tmp_path))
    with on_disk(field) as path:
        assert path == Path(field.path)
    assert path.exists()


def test_file_kept_elsewhere_is_copied_for_the_while() -> None:
    with on_disk(kept_in(Bucket())) as path:
        assert (path.suffix, path.read_bytes()) == (".csv", b"price\n1")
    assert not path.exists()


def test_part_of_a_file_is_fetched_alone_from_a_bucket_and_sought_on_the_disk(tmp_path: Path) -> None:
    bucket, disk = S3(), FileSystemStorage(tmp_path)
    with part_of(bucket, str(kept_in(bucket).name), first=2, last=5) as part:
        assert part.read() == b"ice\n"
    with part_of(disk, str(kept_in(disk).name), first=2, last=5) as part:
        assert part.read(4) == b"ice\n"
    for storage in (bucket, disk):
        with pytest.raises(FileNotFoundError):
            part_of(storage, "gone.csv", first=0, last=1)
