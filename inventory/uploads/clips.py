"""Clips: the boxes of the file are walked, never its name; nothing is decoded and nothing is rewritten."""

import hashlib
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from inventory.errors import Refused
from inventory.rules.media import UploadKind, check_size
from inventory.uploads import matroska, mp4
from inventory.uploads.refusing import bad_file

_BLOCK = 2**20


@dataclass(frozen=True)
class CleanClip:
    """A clip that is one, where it lies, and whether the camera wrote the place of taking into it."""

    path: Path
    sha256: str
    size: int
    content_type: str
    suffix: str
    located: bool


def clean_clip(path: Path, *, name: str) -> CleanClip:
    """What the file is by its content. Raises Refused for anything but MP4, QuickTime and WebM with a picture."""
    size = path.stat().st_size
    check_size(size, kind=UploadKind.CLIP, name=name)
    with path.open("rb") as file:
        found = _found(file, size=size, name=name)
    return CleanClip(path, sha256_of(path), size, found.content_type, found.suffix, found.located)


def sha256_of(path: Path) -> str:
    """Read in blocks: a clip may be larger than the memory of a small machine."""
    digest = hashlib.sha256()
    with path.open("rb") as file:
        while block := file.read(_BLOCK):
            digest.update(block)
    return digest.hexdigest()


def _found(file: BinaryIO, *, size: int, name: str) -> mp4.Found:
    head = file.read(12)
    try:
        if head[4:8] == b"ftyp":
            return mp4.walk(file, size=size)
        if head[:4] == matroska.MAGIC:
            return matroska.walk(file, size=size)
    except mp4.NoClip as problem:
        raise _refused(problem, name=name) from problem
    raise bad_file(name, "is no MP4, QuickTime or WebM clip", mend="Film it with the phone's own camera.")


def _refused(problem: mp4.NoClip, *, name: str) -> Refused:
    return bad_file(name, str(problem), mend="Send the clip again, or film it with the phone's own camera.")
