"""A stored file has a path while it is read, wherever it is kept."""

from pathlib import Path

from django.core.files import File
from django.core.files.base import ContentFile
from django.core.files.storage import FileSystemStorage, Storage
from django.db.models.fields.files import FieldFile

from inventory.models import SalesImport
from inventory.uploads import on_disk


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
