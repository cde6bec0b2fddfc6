"""A file from outside may be hostile: it is refused by name, before anything is written."""

import hashlib
import json
import zipfile
from pathlib import Path
from typing import Any

import pytest

from inventory.backup import check_archive
from inventory.backup.manifest import media_name, read_manifest
from inventory.errors import Refused

ROW = b'{"id":1}\n'


def file_told(content: bytes) -> dict[str, Any]:
    return {"size": len(content), "sha256": hashlib.sha256(content).hexdigest()}


def manifest(**changes: Any) -> dict[str, Any]:
    table = {"columns": ["id"], "rows": 1, "money": {}, **file_told(ROW)}
    told = {
        "format": 1, "made_at": "2026-03-16T15:00:00+00:00", "database": "sqlite", "migrations": [],
        "tables": {"inventory.lot": table}, "media": {"photos/a.jpg": file_told(b"pixels")}, "missing": [], "gone": [],
    }  # fmt: skip
    return {**told, **changes}


def archive(folder: Path, *, told: dict[str, Any] | None = None, pack_media: bool = False, **changes: bytes) -> Path:
    """A small backup as it should be, but for what is changed."""
    path = folder / "lot.zip"
    held = {"tables/inventory.lot.jsonl": ROW, "media/photos/a.jpg": b"pixels"}
    held["manifest.json"] = json.dumps(told or manifest()).encode()
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as file:
        for name, content in {**held, **changes}.items():
            packed = zipfile.ZIP_DEFLATED if pack_media or not name.startswith("media/") else zipfile.ZIP_STORED
            file.writestr(name, content, compress_type=packed)
    return path


def refusal(path: Path) -> str:
    with pytest.raises(Refused) as problem:
        check_archive(path)
    return problem.value.message


def test_whole_archive_is_read_with_its_counts(tmp_path: Path) -> None:
    told = check_archive(archive(tmp_path))
    assert (told.rows, told.media_bytes, list(told.tables)) == (1, 6, ["inventory.lot"])


@pytest.mark.parametrize(
    ("changes", "names"),
    [
        ({"media/photos/a.jpg": b"pixelz"}, "media/photos/a.jpg"),
        ({"tables/inventory.lot.jsonl": b'{"id":2}\n'}, "tables/inventory.lot.jsonl"),
        ({"tables/inventory.lot.jsonl": b"0" * 50_000_000}, "tables/inventory.lot.jsonl"),  # 50 kB as it lies there
        ({"media/../../evil.py": b"x"}, "media/../../evil.py"),
        ({"manifest.json": b"["}, "manifest"),
        ({"manifest.json": b'{"format": 2}'}, "format"),
    ],
)
def test_archive_that_is_not_what_its_manifest_says_is_refused(
    tmp_path: Path, changes: dict[str, bytes], names: str
) -> None:
    assert names in refusal(archive(tmp_path, **changes))


def test_row_that_the_manifest_does_not_count_is_refused(tmp_path: Path) -> None:
    tables = manifest()["tables"]
    tables["inventory.lot"]["rows"] = 2
    assert "holds 1 rows, not 2" in refusal(archive(tmp_path, told=manifest(tables=tables)))


def test_media_that_unfold_into_more_than_the_file_are_refused(tmp_path: Path) -> None:
    """A file of 50 kB that would write 50 MB."""
    air = b"\0" * 50_000_000
    told = manifest(media={"photos/a.jpg": file_told(air)})
    assert "packed" in refusal(archive(tmp_path, told=told, pack_media=True, **{"media/photos/a.jpg": air}))


def test_cut_off_file_and_no_zip_at_all_are_refused(tmp_path: Path) -> None:
    path = archive(tmp_path)
    path.write_bytes(path.read_bytes()[:-30])
    assert "no whole zip file" in refusal(path)
    assert "cannot be read" in refusal(tmp_path / "none.zip")


@pytest.mark.parametrize("name", ["../a", "/etc/a", "a/../../b", "a\\b", "c:/a", "", ".", "a//b", "./a", "a\0"])
def test_name_that_leads_out_of_the_media_is_refused(name: str) -> None:
    with pytest.raises(Refused):
        media_name(name)


@pytest.mark.parametrize(
    "changes",
    [
        {"made_at": "2026-03-16T15:00:00"}, {"tables": []}, {"media": {"a": {"size": -1, "sha256": "0" * 64}}},
        {"media": {"a": {"size": 1, "sha256": "?"}}}, {"migrations": [["inventory"]]}, {"tables": {"../x": {}}},
    ],
)  # fmt: skip
def test_manifest_that_says_what_cannot_be_is_refused(changes: dict[str, Any]) -> None:
    with pytest.raises(Refused):
        read_manifest(json.dumps(manifest(**changes)).encode())
