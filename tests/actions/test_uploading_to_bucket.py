"""Files in pieces where media lie in a bucket: two machines on one database, each with a disk of its own."""

import os
import time
import uuid
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.files.storage import default_storage

from inventory.actions import uploading
from inventory.backup.media import without_row
from inventory.backup.tables import Table
from inventory.errors import Refused, TooLate
from inventory.models import Clip, Consignment, Photo, Upload, UploadPiece
from inventory.queries.media import arrived
from inventory.rules.roles import Actor
from inventory.uploads import assembled, objects
from inventory.uploads.clips import sha256_of
from tests import build
from tests.actions.test_uploading import begin, sending
from tests.test_uploads import picture
from tests.uploads import films

pytestmark = pytest.mark.django_db


class Machine:
    """One of those that serve: what it has on its own disk, nobody else sees."""

    def __init__(self, folder: Path, *, settings: Any, by: Actor, at: datetime) -> None:
        self.folder, self._settings, self._by, self._at = folder, settings, by, at

    def takes(self, row: Upload, content: bytes, *, start: int, end: int) -> Upload:
        self._settings.MEDIA_ROOT = self.folder
        said: dict[str, Any] = {"offset": start, "content": content[start:end], "by": self._by, "at": self._at}
        return uploading.receive_piece(row.code, **said)

    def finishes(self, row: Upload) -> Upload:
        self._settings.MEDIA_ROOT = self.folder
        with assembled(arrived(row)) as made:
            return uploading.finish_upload(row.code, made=made, by=self._by, at=self._at)

    @property
    def files(self) -> list[Path]:
        return [path for path in self.folder.rglob("*") if path.is_file()]


@pytest.fixture(autouse=True)
def bucket(settings: Any) -> None:
    settings.STORAGES = settings.STORAGES | {"default": {"BACKEND": "django.core.files.storage.InMemoryStorage"}}


@pytest.fixture
def machines(settings: Any, tmp_path: Path, intake: Actor, at: datetime) -> tuple[Machine, Machine]:
    a, b = (Machine(tmp_path / name, settings=settings, by=intake, at=at) for name in "ab")
    a.folder.mkdir()
    b.folder.mkdir()
    return a, b


@pytest.fixture
def stay(at: datetime) -> Consignment:
    return build.consignment(at=at)


def in_bucket(row: Upload) -> list[str]:
    try:
        return sorted(default_storage.listdir(f"uploads/{row.code}")[1])
    except FileNotFoundError:
        return []


def test_clip_comes_to_two_machines_and_is_joined_by_one(
    machines: tuple[Machine, Machine], intake: Actor, stay: Consignment, at: datetime,
    django_capture_on_commit_callbacks: Any,
) -> None:  # fmt: skip
    a, b = machines
    content = films.mp4(major=b"qt  ")
    row = begin(stay, content, by=intake, at=at, kind="clip", name="walk.mov")
    a.takes(row, content, start=0, end=100)
    b.takes(row, content, start=100, end=250)
    row = a.takes(row, content, start=250, end=len(content))
    assert row.is_whole
    assert not a.files + b.files
    with django_capture_on_commit_callbacks(execute=True):
        row = b.finishes(row)
    clip = Clip.objects.get()
    assert (row.clip, clip.bytes, clip.sha256) == (clip, len(content), row.sha256)
    with clip.file.open() as kept:
        assert kept.read() == content
    assert (in_bucket(row), UploadPiece.objects.count(), a.files, b.files) == ([], 0, [], [])


def test_photo_comes_to_two_machines_and_keeps_its_original(
    machines: tuple[Machine, Machine], intake: Actor, stay: Consignment, at: datetime
) -> None:
    content = picture()
    row = begin(stay, content, by=intake, at=at)
    for turn, start in enumerate(range(0, len(content), 300)):
        row = machines[turn % 2].takes(row, content, start=start, end=start + 300)
    machines[0].finishes(row)
    with Photo.objects.get().original.open() as kept:
        assert kept.read() == content


def test_piece_sent_twice_to_two_machines_counts_once(
    machines: tuple[Machine, Machine], intake: Actor, stay: Consignment, at: datetime
) -> None:
    content = picture()
    row = begin(stay, content, by=intake, at=at)
    for machine in machines:
        assert machine.takes(row, content, start=0, end=100).received == 100
    machines[0].takes(row, content, start=100, end=200)
    assert machines[1].takes(row, content, start=50, end=150).received == 200
    with pytest.raises(TooLate) as refusal:
        machines[1].takes(row, b"\0" * 200, start=0, end=100)
    assert (refusal.value.code, refusal.value.got) == ("offset_differs", 200)
    assert (UploadPiece.objects.count(), len(in_bucket(row))) == (2, 2)


def test_object_that_no_row_counts_is_overlooked_and_goes_with_the_others(
    machines: tuple[Machine, Machine], intake: Actor, stay: Consignment, at: datetime,
    django_capture_on_commit_callbacks: Any,
) -> None:  # fmt: skip
    """A machine went down after it wrote, before its row was there: the same piece comes again, to the other one."""
    content = picture()
    row = begin(stay, content, by=intake, at=at)
    objects.write(row.code, offset=0, content=content[:400])
    row = machines[1].takes(row, content, start=0, end=300)
    row = machines[1].takes(row, content, start=300, end=len(content))
    assert len(in_bucket(row)) == 3
    with django_capture_on_commit_callbacks(execute=True):
        assert machines[1].finishes(row).photo
    assert in_bucket(row) == []


def test_lost_object_makes_nothing_and_says_so(
    machines: tuple[Machine, Machine], intake: Actor, stay: Consignment, at: datetime
) -> None:
    content = picture()
    row = begin(stay, content, by=intake, at=at)
    machines[0].takes(row, content, start=0, end=300)
    row = machines[0].takes(row, content, start=300, end=len(content))
    default_storage.delete(UploadPiece.objects.get(offset=0).name)
    with pytest.raises(TooLate, match="not here any more"):
        machines[1].finishes(row)
    assert not Photo.objects.exists()
    assert machines[1].files == []


def test_wrong_hash_keeps_the_pieces_and_leaves_nothing_on_the_disk(
    machines: tuple[Machine, Machine], intake: Actor, stay: Consignment, at: datetime
) -> None:
    row = begin(stay, b"pixels", by=intake, at=at, sha256="0" * 64)
    row = machines[0].takes(row, b"pixels", start=0, end=6)
    with pytest.raises(Refused, match="is not what was announced"):
        machines[1].finishes(row)
    assert (len(in_bucket(row)), machines[1].files) == (1, [])


def test_joining_needs_room_on_the_disk_of_the_machine_that_joins(
    machines: tuple[Machine, Machine], intake: Actor, stay: Consignment, at: datetime, settings: Any
) -> None:
    row = begin(stay, b"pixels", by=intake, at=at)
    row = machines[0].takes(row, b"pixels", start=0, end=6)
    settings.LEAST_FREE_DISK = 2**60
    with pytest.raises(Refused) as refusal:
        machines[1].finishes(row)
    assert refusal.value.code == "disk_full"


def test_what_a_killed_process_left_half_joined_goes_with_the_next_one(
    machines: tuple[Machine, Machine], intake: Actor, stay: Consignment, at: datetime
) -> None:
    old, fresh = (machines[0].folder / "uploads" / f"{uuid.uuid4()}.{name}.joined" for name in ("old", "fresh"))
    old.parent.mkdir()
    for path, age in ((old, 2 * 24 * 3600), (fresh, 60)):
        path.write_bytes(b"half")
        os.utime(path, (time.time() - age,) * 2)
    row = begin(stay, picture(), by=intake, at=at)
    machines[0].finishes(machines[0].takes(row, picture(), start=0, end=len(picture())))
    assert machines[0].files == [fresh]


def test_upload_given_up_leaves_nothing_in_the_bucket(
    machines: tuple[Machine, Machine], intake: Actor, stay: Consignment, at: datetime,
    django_capture_on_commit_callbacks: Any,
) -> None:  # fmt: skip
    row = begin(stay, b"pixels", by=intake, at=at)
    machines[0].takes(row, b"pixels", start=0, end=3)
    with django_capture_on_commit_callbacks(execute=True):
        uploading.drop_upload(row.code, by=intake, at=at)
    assert (in_bucket(row), Upload.objects.count()) == ([], 0)


def test_stale_uploads_and_objects_of_nobody_are_cleared_and_others_stay(
    machines: tuple[Machine, Machine], intake: Actor, stay: Consignment, at: datetime,
    django_capture_on_commit_callbacks: Any,
) -> None:  # fmt: skip
    stale, going_on = (begin(stay, name, by=intake, at=at) for name in (b"stale", b"going on"))
    for row in (stale, going_on):
        machines[0].takes(row, row.name.encode(), start=0, end=3)
    Upload.objects.filter(pk=going_on.pk).update(touched_at=at + timedelta(days=7))
    orphan = Upload(code=uuid.uuid4())
    objects.write(orphan.code, offset=0, content=b"of nobody")
    picture_of_a_sale = default_storage.save("photos/2026/03/nose.jpg", objects.ContentFile(b"kept"))
    with django_capture_on_commit_callbacks(execute=True):
        uploading.clear_uploads(timedelta(days=7), by=build.BUILDER, at=at + timedelta(days=7, seconds=1))
    assert (in_bucket(stale), len(in_bucket(going_on)), UploadPiece.objects.count()) == ([], 1, 1)
    assert len(in_bucket(orphan)) == 1  # written this minute, by whatever clock the bucket has
    objects.remove_leftovers(but_of={str(going_on.code)}, older_than=at + timedelta(days=365 * 50))
    assert (in_bucket(orphan), len(in_bucket(going_on))) == ([], 1)
    assert default_storage.exists(picture_of_a_sale)


def test_backup_takes_neither_pieces_nor_their_rows(
    machines: tuple[Machine, Machine], intake: Actor, stay: Consignment, at: datetime
) -> None:
    row = begin(stay, b"pixels", by=intake, at=at)
    machines[0].takes(row, b"pixels", start=0, end=3)
    assert list(Table(UploadPiece).rows("default")) == []
    assert Table(UploadPiece).files == ()
    assert without_row(default_storage, named=set(), before=datetime.max.replace(tzinfo=UTC)) == 0


def test_sha256_of_what_was_joined_is_that_of_the_file(tmp_path: Path, settings: Any) -> None:
    settings.MEDIA_ROOT = tmp_path
    content, code = films.mp4(), uuid.uuid4()
    cuts = [(0, 7), (7, 200), (200, len(content))]
    kept = [objects.Piece(a, b - a, objects.write(code, offset=a, content=content[a:b])) for a, b in cuts]
    with objects.joined(kept, code=code, total=len(content)) as path:
        assert sha256_of(path) == sending(content).sha256
    with pytest.raises(FileNotFoundError), objects.joined(kept[1:], code=code, total=len(content)):
        pass
