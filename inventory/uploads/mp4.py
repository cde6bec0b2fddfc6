"""MP4 and QuickTime: a file is a row of boxes, each with its size and four letters (ISO/IEC 14496-12, section 4.2).

A moving picture needs `ftyp` with a brand that is known, `moov` with a track whose handler is `vide`, and sizes that
fill the file exactly. The place of taking stands in `udta` (`©xyz`, or `loci` of 3GPP TS 26.244), in the metadata keys
of QuickTime (`com.apple.quicktime.location…`), in XMP (`GPSLatitude`) or in a track of readings (`gpmd`).
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import BinaryIO

QUICKTIME = b"qt  "
BRANDS = frozenset(
    {
        QUICKTIME, b"isom", b"iso2", b"iso3", b"iso4", b"iso5", b"iso6", b"iso7", b"iso8", b"iso9", b"mp41", b"mp42",
        b"avc1", b"hvc1", b"M4V ", b"3gp4", b"3gp5", b"3gp6", b"3gp7", b"3g2a", b"3g2b", b"3g2c", b"MSNV", b"dash",
    }
)  # fmt: skip
MOST_BOXES = 100_000  # a fragmented clip of some hours; more is an attack on patience
MOST_TABLE = 64 * 2**20  # of one `moov`: sample tables of 300 MB of film stay far below
_HOLDERS = frozenset({b"moov", b"trak", b"mdia", b"minf", b"stbl"})
_IN_NOTES = (b"\xa9xyz", b"loci", b"com.apple.quicktime.location", b"GPSLatitude")
_ANYWHERE = (b"com.apple.quicktime.location", b"GPSLatitude")


class NoClip(Exception):
    """What is wrong with the file, to be put after its name."""


@dataclass(frozen=True)
class Found:
    content_type: str
    suffix: str
    located: bool


@dataclass(frozen=True)
class Box:
    kind: bytes
    start: int  # of its content
    end: int


def walk(file: BinaryIO, *, size: int) -> Found:
    """Walk the boxes of the file once. Raises NoClip."""
    top = list(_boxes(file, start=0, end=size))
    brands = _brands(file, box=top[0])
    if not brands & BRANDS:
        raise NoClip("is no clip of a known kind by its brands")
    film = next((box for box in top if box.kind == b"moov"), None)
    if film is None:
        raise NoClip("is cut off: the table of its pictures is missing")
    inner = list(_inside(file, box=film, depth=0))
    if not any(_handler(file, box=box) == b"vide" for box in inner if box.kind == b"hdlr"):
        raise NoClip("holds no moving picture")
    located = _located(file, film=film, boxes=[*top, *inner])
    if QUICKTIME in brands:
        return Found("video/quicktime", "mov", located)
    return Found("video/mp4", "mp4", located)


def _boxes(file: BinaryIO, *, start: int, end: int) -> Iterator[Box]:
    """The boxes side by side between two places; they fill it to the last byte."""
    count = 0
    while start < end:
        count += 1
        file.seek(start)
        head = file.read(16)
        length, content = int.from_bytes(head[:4], "big"), start + 8
        if length == 1:  # its real size follows in eight bytes
            length, content = int.from_bytes(head[8:16], "big"), start + 16
        elif length == 0:  # to the end
            length = end - start
        if count > MOST_BOXES or len(head) < 8 or start + length > end or content > start + length:
            raise NoClip("is damaged or cut off")
        yield Box(head[4:8], content, start + length)
        start += length


def _inside(file: BinaryIO, *, box: Box, depth: int) -> Iterator[Box]:
    if box.end - box.start > MOST_TABLE:
        raise NoClip("is damaged: the table of its pictures is too large")
    for inner in _boxes(file, start=box.start, end=box.end):
        yield inner
        if inner.kind in _HOLDERS and depth < len(_HOLDERS):
            yield from _inside(file, box=inner, depth=depth + 1)


def _brands(file: BinaryIO, *, box: Box) -> set[bytes]:
    """The major brand and the compatible ones; between them stands a version number."""
    file.seek(box.start)
    content = file.read(min(box.end - box.start, 4096))
    listed = {content[place : place + 4] for place in range(8, len(content) - 3, 4)}
    return {content[:4], *listed}


def _handler(file: BinaryIO, *, box: Box) -> bytes:
    file.seek(box.start + 8)
    return file.read(4)


def _located(file: BinaryIO, *, film: Box, boxes: list[Box]) -> bool:
    """Whether a place may stand in it. Short marks are looked for where notes are kept: elsewhere they are chance."""
    if any(mark in _content(file, box=film) for mark in _ANYWHERE):
        return True
    notes = [box for box in boxes if box.kind in {b"udta", b"meta", b"uuid"}]
    if any(mark in _content(file, box=box) for box in notes for mark in _IN_NOTES):
        return True
    return any(b"gpmd" in _content(file, box=box) for box in boxes if box.kind == b"stsd")


def _content(file: BinaryIO, *, box: Box) -> bytes:
    if box.end - box.start > MOST_TABLE:
        raise NoClip("is damaged: its notes are too large")
    file.seek(box.start)
    return file.read(box.end - box.start)
