"""The commands backup and restore: what they refuse, what they say, and how they end."""

import json
import zipfile
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import FileSystemStorage, default_storage

from inventory.models import Job, LogEntry, OutMessage, Photo, Vehicle
from inventory.rules.words import MessageStatus
from tests import build
from tests.management.test_commands import run

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture(autouse=True)
def media(settings: Any, tmp_path: Path) -> Path:
    settings.MEDIA_ROOT = tmp_path / "media"
    return tmp_path / "media"


def photo(at: datetime, *, name: str = "photos/a.jpg") -> Photo:
    """The row of a picture whose file is there."""
    default_storage.save(name, ContentFile(b"pixels"))
    return Photo.objects.create(consignment=build.consignment(at=at), file=name, digest="1", at=at)


def test_backup_is_private_whole_and_in_the_log(tmp_path: Path, media: Path, at: datetime) -> None:
    photo(at)
    (media / "stray.jpg").write_bytes(b"x")
    path = tmp_path / "lot.zip"
    code, out, err = run("backup", path)
    assert (code, err) == (0, "")
    assert path.stat().st_mode & 0o777 == 0o600
    assert [one.name for one in tmp_path.glob("lot.zip*")] == ["lot.zip"]
    assert "SECRET_KEY" in out
    assert "1 files in the media belong to no row" in out
    with zipfile.ZipFile(path) as file:
        assert file.testzip() is None
        assert file.read("media/photos/a.jpg") == b"pixels"
    assert LogEntry.objects.filter(action="backup.made").get().data["files"] == 1


def test_backup_takes_no_name_that_is_taken_unless_told(tmp_path: Path, at: datetime) -> None:
    path = tmp_path / "lot.zip"
    path.write_text("mine")
    code, _, err = run("backup", path)
    assert code == 2
    assert "--overwrite" in err
    assert path.read_text() == "mine"
    assert run("backup", path, "--overwrite")[0] == 0
    assert run("restore", path, "--check")[0] == 0


def test_file_that_a_row_names_and_nobody_finds_is_told_with_exit_3(tmp_path: Path, media: Path, at: datetime) -> None:
    photo(at)
    (media / "photos" / "a.jpg").unlink()
    code, _, err = run("backup", tmp_path / "lot.zip")
    assert code == 3
    assert "photos/a.jpg" in err
    with zipfile.ZipFile(tmp_path / "lot.zip") as file:
        assert json.loads(file.read("manifest.json"))["missing"] == ["photos/a.jpg"]


class Forgetful(FileSystemStorage):
    """A file is deleted, and its row no longer names it, after the rows were read and before the file is."""

    def _open(self, name: str, mode: str = "rb") -> Any:
        Photo.objects.update(file="")
        raise FileNotFoundError(name)


def test_file_that_was_deleted_with_leave_meanwhile_is_no_fault(tmp_path: Path, settings: Any, at: datetime) -> None:
    photo(at)
    settings.STORAGES = {**settings.STORAGES, "default": {"BACKEND": "tests.management.test_backups.Forgetful"}}
    assert run("backup", tmp_path / "lot.zip")[0] == 0
    with zipfile.ZipFile(tmp_path / "lot.zip") as file:
        told = json.loads(file.read("manifest.json"))
    assert (told["missing"], told["gone"], told["media"]) == ([], ["photos/a.jpg"], {})


def test_restore_empties_a_database_only_when_told_and_sure(
    tmp_path: Path, at: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    photo(at)
    path = tmp_path / "lot.zip"
    run("backup", path)
    Vehicle.objects.update(make="Other")
    code, _, err = run("restore", path)
    assert code == 2
    assert "--replace" in err
    monkeypatch.setattr("builtins.input", lambda: "yes")  # not the word that was asked for
    code, out, _ = run("restore", path, "--replace")
    assert code == 2
    assert "inventory.vehicle" in out
    assert Vehicle.objects.get().make == "Other"
    code, out, _ = run("restore", path, "--replace", "--yes")
    assert (code, Vehicle.objects.get().make) == (0, "Merrow")
    assert "Every row, every sum of money and every file is as the backup says." in out


def test_what_waited_is_not_done_twice_after_a_restore(tmp_path: Path, at: datetime) -> None:
    build.consignment(at=at)
    Job.objects.create(kind="fit", asked_by="x", asked_at=at)
    waiting = OutMessage.objects.filter(status=MessageStatus.QUEUED).count()
    path = tmp_path / "lot.zip"
    run("backup", path)
    assert run("restore", path, "--replace", "--yes")[0] == 0
    assert waiting > 0
    assert OutMessage.objects.filter(status=MessageStatus.UNCLEAR).count() == waiting
    assert Job.objects.get().is_over
    said = LogEntry.objects.get(action="backup.restored").data
    assert (said["jobs"], said["mails"]) == (1, waiting)
    assert run("restore", path, "--replace", "--yes", "--stood-still")[0] == 0
    assert OutMessage.objects.filter(status=MessageStatus.QUEUED).count() == waiting


def test_backup_of_a_newer_version_is_refused_by_name(tmp_path: Path, at: datetime) -> None:
    path = tmp_path / "lot.zip"
    run("backup", path)
    with zipfile.ZipFile(path) as file:
        held = {name: file.read(name) for name in file.namelist()}
    told = json.loads(held["manifest.json"])
    told["migrations"].append(["inventory", "0999_from_the_future"])
    held["manifest.json"] = json.dumps(told).encode()
    with zipfile.ZipFile(path, "w") as file:
        for name, content in held.items():
            file.writestr(name, content)
    code, _, err = run("restore", path, "--check")
    assert code == 2
    assert "0999_from_the_future" in err
