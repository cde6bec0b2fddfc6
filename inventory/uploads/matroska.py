"""WebM: elements, each an identifier and a size of variable length (RFC 8794; identifiers of RFC 9559)."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import BinaryIO

from inventory.uploads.mp4 import Found, NoClip

MAGIC = b"\x1a\x45\xdf\xa3"
_DOC_TYPE, _SEGMENT, _TRACKS, _ENTRY, _TRACK_TYPE = 0x4282, 0x18538067, 0x1654AE6B, 0xAE, 0x83
_TAGS = 0x1254C367
_VIDEO = b"\x01"
MOST_ELEMENTS = 100_000
MOST_NOTES = 16 * 2**20


@dataclass(frozen=True)
class Element:
    kind: int
    start: int
    end: int


def walk(file: BinaryIO, *, size: int) -> Found:
    """Walk the elements of the file once. Raises NoClip."""
    top = list(_elements(file, start=0, end=size))
    head = list(_elements(file, start=top[0].start, end=top[0].end))
    names = [_content(file, element=element) for element in head if element.kind == _DOC_TYPE]
    if [name.rstrip(b"\0") for name in names] != [b"webm"]:
        raise NoClip("is no WebM clip by its own word")
    segment = next((element for element in top if element.kind == _SEGMENT), None)
    if segment is None:
        raise NoClip("is cut off: its pictures are missing")
    parts = list(_elements(file, start=segment.start, end=segment.end))
    tracks = [part for part in parts if part.kind == _TRACKS]
    if not any(_is_video(file, tracks=part) for part in tracks):
        raise NoClip("holds no moving picture")
    notes = [_content(file, element=part) for part in parts if part.kind == _TAGS]
    return Found("video/webm", "webm", any(b"LOCATION" in note.upper() for note in notes))


def _elements(file: BinaryIO, *, start: int, end: int) -> Iterator[Element]:
    count = 0
    while start < end:
        count += 1
        file.seek(start)
        head = file.read(12)
        kind, after = _number(head, at=0, keep_mark=True, most=4)
        length, content = _number(head, at=after, keep_mark=False, most=8)
        open_ended = length == (1 << 7 * (content - after)) - 1  # a live recording does not know its own length
        stop = end if open_ended else start + content + length
        if count > MOST_ELEMENTS or stop > end:
            raise NoClip("is damaged or cut off")
        yield Element(kind, start + content, stop)
        start = stop


def _number(head: bytes, *, at: int, keep_mark: bool, most: int) -> tuple[int, int]:
    """A number of variable length: the zeros before its first one say how many bytes follow."""
    first = head[at] if at < len(head) else 0
    length = 9 - first.bit_length()
    if not first or length > most or at + length > len(head):
        raise NoClip("is damaged or cut off")
    value = int.from_bytes(head[at : at + length], "big")
    return value if keep_mark else value & (1 << 7 * length) - 1, at + length


def _is_video(file: BinaryIO, *, tracks: Element) -> bool:
    return any(
        part.kind == _TRACK_TYPE and _content(file, element=part) == _VIDEO
        for entry in _elements(file, start=tracks.start, end=tracks.end)
        if entry.kind == _ENTRY
        for part in _elements(file, start=entry.start, end=entry.end)
    )


def _content(file: BinaryIO, *, element: Element) -> bytes:
    if element.end - element.start > MOST_NOTES:
        raise NoClip("is damaged: its notes are too large")
    file.seek(element.start)
    return file.read(element.end - element.start)
