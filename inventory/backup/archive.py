"""The zip file of a backup: written a piece at a time, read with suspicion."""

import hashlib
import os
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

from inventory.backup.manifest import MOST_BYTES, FileTold, Manifest, read_manifest
from inventory.errors import Refused

PIECE = 2**20
LONGEST_LINE = 64 * 2**20
MANIFEST = "manifest.json"
BROKEN = (zipfile.BadZipFile, zipfile.LargeZipFile, zlib.error, NotImplementedError, EOFError)


def table_entry(name: str) -> str:
    return f"tables/{name}.jsonl"


def media_entry(name: str) -> str:
    return f"media/{name}"


class Digest:
    """Bytes counted and hashed as they pass."""

    def __init__(self) -> None:
        self._hash, self.size = hashlib.sha256(), 0

    def take(self, piece: bytes) -> None:
        self._hash.update(piece)
        self.size += len(piece)

    def told(self) -> FileTold:
        return FileTold(size=self.size, sha256=self._hash.hexdigest())


def pieces(file: IO[bytes]) -> Iterator[bytes]:
    while piece := file.read(PIECE):
        yield piece


def new_entry(archive: zipfile.ZipFile, *, name: str, packed: bool) -> IO[bytes]:
    """Rows are packed, media are not: pictures hold no air."""
    info = zipfile.ZipInfo(name)  # of 1980: the same records make the same bytes
    info.compress_type = zipfile.ZIP_DEFLATED if packed else zipfile.ZIP_STORED
    info.external_attr = 0o600 << 16
    return archive.open(info, "w", force_zip64=True)


class Archive:
    """A backup that is open for reading. Its names are those of its manifest, no more, no fewer."""

    def __init__(self, file: zipfile.ZipFile, *, size: int) -> None:
        self._zip = file
        self.manifest = self._read_manifest()
        self._check_names()
        self._check_media(size)

    @classmethod
    @contextmanager
    def open(cls, path: Path) -> Iterator["Archive"]:
        try:
            file = zipfile.ZipFile(path)
        except OSError as problem:
            raise Refused("no_file", f"{path.name} cannot be read: {problem.strerror}.", field="file") from problem
        except BROKEN as problem:
            raise _bad(f"it is no whole zip file ({problem})") from problem
        with file:
            yield cls(file, size=path.stat().st_size)

    def expected(self) -> dict[str, FileTold]:
        told = self.manifest
        rows = {table_entry(name): FileTold(table.size, table.sha256) for name, table in told.tables.items()}
        return rows | {media_entry(name): file for name, file in told.media.items()}

    def read(self, entry: str) -> Iterator[bytes]:
        """The bytes of one entry, no more of them than the manifest says; refused where they are others."""
        told, digest = self.expected_of(entry), Digest()
        try:
            with self._zip.open(entry) as file:
                for piece in pieces(file):
                    digest.take(piece)
                    if digest.size > told.size:
                        break
                    yield piece
        except BROKEN as problem:
            raise _bad(f"{entry} is broken ({problem})") from problem
        if digest.told() != told:
            raise _bad(f"{entry} is not what the manifest says")

    def expected_of(self, entry: str) -> FileTold:
        room, _, name = entry.partition("/")
        if room == "media":
            return self.manifest.media[name]
        table = self.manifest.tables[name.removesuffix(".jsonl")]
        return FileTold(table.size, table.sha256)

    def lines(self, table: str) -> Iterator[bytes]:
        rest = b""
        for piece in self.read(table_entry(table)):
            *whole, rest = (rest + piece).split(b"\n")
            yield from whole
            if len(rest) > LONGEST_LINE:
                raise _bad(f"a line of {table} has no end")
        if rest:
            raise _bad(f"the last line of {table} is cut off")

    def _read_manifest(self) -> Manifest:
        try:
            info = self._zip.getinfo(MANIFEST)
        except KeyError as problem:
            raise _bad("it has no manifest") from problem
        if info.file_size > MOST_BYTES:
            raise _bad("its manifest is too large")
        try:
            with self._zip.open(info) as file:
                return read_manifest(file.read(MOST_BYTES))
        except BROKEN as problem:
            raise _bad(f"its manifest is broken ({problem})") from problem

    def _check_names(self) -> None:
        held = self._zip.infolist()
        names = {info.filename for info in held}
        expected = {MANIFEST, *self.expected()}
        if len(names) != len(held):
            raise _bad("it holds one name twice")
        if odd := sorted(names ^ expected)[:3]:
            raise _bad(f"its files and its manifest differ: {', '.join(odd)}")
        if any(info.flag_bits & 1 for info in held):
            raise _bad("a part of it is encrypted")

    def _check_media(self, size: int) -> None:
        """Media lie there as they are: a small file cannot unfold into more than it is."""
        if any(map(_holds_air, self._zip.infolist())) or self.manifest.media_bytes > size:
            raise _bad("its media are packed, or more than the file is long")


def _holds_air(info: zipfile.ZipInfo) -> bool:
    return info.filename.startswith("media/") and info.compress_type != zipfile.ZIP_STORED


def check_archive(path: Path) -> Manifest:
    """Read the whole of it and hold every byte against the manifest, and every count of rows."""
    with Archive.open(path) as archive:
        for name, table in archive.manifest.tables.items():
            found = sum(1 for _ in archive.lines(name))
            if found != table.rows:
                raise _bad(f"{name} holds {found:,} rows, not {table.rows:,}")
        for name in archive.manifest.media:
            for _ in archive.read(media_entry(name)):
                pass
        return archive.manifest


def sync_folder(folder: Path) -> None:
    """A new name is on the disk only when its folder is."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _bad(what: str) -> Refused:
    return Refused("bad_backup", f"This backup is refused: {what}.", field="file", mend="Nothing was written.")
