"""A lot at work, backed up and restored: what is dumped again is the same to the byte."""

import hashlib
import json
import os
import threading
import zipfile
from datetime import datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from django.apps import apps
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.core.management import call_command
from django.db import DatabaseError, connection, connections, transaction
from django.utils import timezone

from inventory import backup
from inventory.actions import erasing, linking, recording, staffing
from inventory.backup import Archive
from inventory.backup.snapshot import snapshot
from inventory.errors import Refused
from inventory.models import Consignor, Lot, Photo, Vehicle
from inventory.queries.people import live_token
from inventory.rules.roles import Actor, Role
from inventory.rules.states import State
from inventory.uploads import clean_picture
from tests import build, receipts
from tests.servers import postgres
from tests.test_uploads import picture

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture(autouse=True)
def media(settings: Any, tmp_path: Path) -> Path:
    settings.MEDIA_ROOT = tmp_path / "media"
    return tmp_path / "media"


@pytest.fixture
def lot(owner: Actor, media: Path, at: datetime) -> Photo:
    """A stay that is sold and settled, one with a receipt, a photo and a link, and somebody who was erased."""
    build.consignment(State.SETTLED, at=at)
    stay = build.consignment(at=at)
    receipts.signed(stay, at=at)
    linking.make_link(stay.pk, by=owner, at=at)
    return recording.add_photo(stay.pk, picture=clean_picture(picture(), name="front.jpg"), caption="", by=owner, at=at)


def made(path: Path, *, at: datetime, using: str = "default") -> Path:
    backup.write_backup(path, overwrite=True, at=at, using=using)
    return path


def put_back(path: Path, *, using: str = "default") -> backup.Restored:
    with Archive.open(path) as archive:
        return backup.restore(archive, target=backup.look_at(archive.manifest, using=using), using=using)


def rows_of(path: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(path) as file:
        return {name: file.read(name) for name in file.namelist() if name != "manifest.json"}


def changed(path: Path, *, to: Path, was: bytes, becomes: bytes) -> Path:
    """The same backup with another deal, and a manifest that says so: whole, but not what the house would write."""
    entry, held = "tables/inventory.deal.jsonl", rows_of(path)
    with zipfile.ZipFile(path) as file:
        told = json.loads(file.read("manifest.json"))
    held[entry] = held[entry].replace(was, becomes, 1)
    told["tables"]["inventory.deal"] |= {
        "size": len(held[entry]), "sha256": hashlib.sha256(held[entry]).hexdigest(),
    }  # fmt: skip
    with zipfile.ZipFile(to, "w") as file:
        for name, content in {**held, "manifest.json": json.dumps(told).encode()}.items():
            file.writestr(name, content)
    return to


def test_restore_gives_every_row_file_and_cent_back(lot: Photo, media: Path, tmp_path: Path, at: datetime) -> None:
    first = made(tmp_path / "first.zip", at=at)
    with Archive.open(first) as archive:
        told = archive.manifest
    assert (told.tables["inventory.settlement"].rows, len(told.missing)) == (1, 0)
    assert Decimal(told.money["inventory.deal.price"]) == Decimal("48500.00")
    Vehicle.objects.update(make="Other")
    (media / str(lot.file.name)).unlink()
    restored = put_back(first)
    assert restored.written == [lot.file.name]
    assert rows_of(made(tmp_path / "second.zip", at=at)) == rows_of(first)
    with pytest.raises(DatabaseError, match="appended"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("UPDATE inventory_settlement SET number = 'x'")
    assert build.consignment(at=at).pk > lot.consignment_id  # numbers go on behind those that came back


def test_erased_person_stays_erased_and_tokens_go_on(owner: Actor, tmp_path: Path, at: datetime) -> None:
    stay = build.consignment(State.RELEASED, at=at)
    erasing.erase(stay.consignor, by=owner, at=at)
    _, token = staffing.make_token("books", role=Role.OWNER, by=owner, at=at)
    path = made(tmp_path / "lot.zip", at=at)
    put_back(path)
    assert Consignor.objects.get().erased_at == at
    assert live_token(token, today=timezone.localdate()) is not None


def test_media_come_and_go_by_the_storage_wherever_it_is(
    settings: Any, owner: Actor, tmp_path: Path, at: datetime
) -> None:
    settings.STORAGES = {**settings.STORAGES, "default": {"BACKEND": "django.core.files.storage.InMemoryStorage"}}
    stay = build.consignment(at=at)
    shot = clean_picture(picture(), name="front.jpg")
    row = recording.add_photo(stay.pk, picture=shot, caption="", by=owner, at=at)
    path = made(tmp_path / "lot.zip", at=at)
    content = default_storage.open(str(row.file.name)).read()
    default_storage.delete(str(row.file.name))
    default_storage.delete(str(row.original.name))
    default_storage.save(str(row.original.name), ContentFile(b"something else"))
    restored = put_back(path)
    assert (restored.written, restored.put_right) == ([row.file.name], [row.original.name])
    assert default_storage.open(str(row.file.name)).read() == content
    with zipfile.ZipFile(path) as file:
        assert default_storage.open(str(row.original.name)).read() == file.read(f"media/{row.original.name}")


@pytest.mark.postgres
@pytest.mark.skipif(os.environ.get("TEST_ON") == "postgres", reason="the other kind of database would be the same")
def test_rows_are_the_same_on_the_other_kind_of_database_and_back(
    lot: Photo, settings: Any, tmp_path: Path, at: datetime
) -> None:
    """Tables without migrations: these are walked elsewhere and cost half a minute."""
    settings.MIGRATION_MODULES = {config.label: None for config in apps.get_app_configs()}
    here = made(tmp_path / "here.zip", at=at)
    with other_database() as alias:
        call_command("migrate", run_syncdb=True, database=alias, verbosity=0, interactive=False)
        put_back(here, using=alias)
        there = made(tmp_path / "there.zip", at=at, using=alias)
    assert rows_of(there) == rows_of(here)
    put_back(there)
    assert rows_of(made(tmp_path / "again.zip", at=at)) == rows_of(here)


def other_database() -> Any:
    return _Other()


class _Other:
    """A PostgreSQL server beside the database of the tests, under an alias of its own."""

    def __enter__(self) -> str:
        self._server = postgres()
        url = self._server.__enter__()
        port = int(url.rsplit(":", 1)[1].split("/")[0])
        connections.databases["other"] = {
            **connections.databases["default"], "ENGINE": "django.db.backends.postgresql", "NAME": "postgres",
            "USER": "test", "PASSWORD": "", "HOST": "127.0.0.1", "PORT": port, "OPTIONS": {},
        }  # fmt: skip
        connections["other"].connect()  # the tests know of one database: they let no other be asked for
        return "other"

    def __exit__(self, *_: object) -> None:
        connections["other"].close()
        del connections["other"]
        del connections.databases["other"]
        self._server.__exit__(None, None, None)


def test_reading_is_of_one_moment_and_holds_up_no_writer(owner: Actor, at: datetime) -> None:
    build.consignment(at=at)

    def log_another() -> None:
        build.consignment(at=at)
        connections.close_all()

    with snapshot("default"):
        writer = threading.Thread(target=log_another)
        writer.start()
        writer.join(timeout=60)
        assert not writer.is_alive()
        assert Vehicle.objects.count() == 1
    assert Vehicle.objects.count() == 2


def test_nothing_can_be_written_while_a_backup_reads(owner: Actor) -> None:
    with pytest.raises(DatabaseError), snapshot("default"):
        Lot.objects.create(pk=7)


BAD_ROWS = (
    (b'"price":"48500.00"', b'"price":"48500.0"', "do not hold what the backup says"),
    (b'"consignment_id":', b'"consignment_id":99', "speaks of another"),
    (b'"price":"48500.00"', b'"price":48500.0', "inventory.deal, row 1: price holds 48500.0"),
    (b'"price":', b'"prize":', "its columns are not those"),
    (b'"price":"48500.00"', b'"price":"-1.00"', "cannot be stored"),
)


def test_rows_that_are_not_what_they_should_be_change_nothing(owner: Actor, tmp_path: Path, at: datetime) -> None:
    build.consignment(State.SOLD, at=at)
    good = made(tmp_path / "good.zip", at=at)
    for was, becomes, says in BAD_ROWS:
        bad = changed(good, to=tmp_path / "bad.zip", was=was, becomes=becomes)
        with pytest.raises(Refused) as problem:
            put_back(bad)
        assert says in problem.value.message
    assert rows_of(made(tmp_path / "after.zip", at=at)) == rows_of(good)
