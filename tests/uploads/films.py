"""Clips built box by box: small, whole, and wrong in any way that a test asks for."""

import struct

LOCATION_KEY = b"com.apple.quicktime.location.ISO6709"


def box(kind: bytes, *content: bytes) -> bytes:
    body = b"".join(content)
    return struct.pack(">I", 8 + len(body)) + kind + body


def long_box(kind: bytes, content: bytes) -> bytes:
    """A box whose size stands in eight bytes, as of films over 4 GB."""
    return struct.pack(">I", 1) + kind + struct.pack(">Q", 16 + len(content)) + content


def ftyp(major: bytes = b"isom", *more: bytes) -> bytes:
    return box(b"ftyp", major, struct.pack(">I", 512), *(more or (b"mp41",)))


def moov(*notes: bytes, handler: bytes = b"vide", entry: bytes = b"avc1") -> bytes:
    hdlr = box(b"hdlr", bytes(8), handler, bytes(13))
    stsd = box(b"stsd", bytes(4), struct.pack(">I", 1), box(entry, bytes(8)))
    track = box(b"trak", box(b"mdia", hdlr, box(b"minf", box(b"stbl", stsd))))
    return box(b"moov", box(b"mvhd", bytes(100)), track, *notes)


def mp4(*notes: bytes, major: bytes = b"isom", film: bytes = b"pixels" * 50, **track: bytes) -> bytes:
    return ftyp(major) + box(b"mdat", film) + moov(*notes, **track)


def place_of_android() -> bytes:
    """`©xyz` in the user data, as ISO 6709 text with its length and language."""
    text = b"+41.8750-087.6244/"
    return box(b"udta", box(b"\xa9xyz", struct.pack(">HH", len(text), 0x15C7), text))


def place_of_apple() -> bytes:
    keys = box(b"keys", bytes(4), struct.pack(">I", 1), box(b"mdta", LOCATION_KEY))
    return box(b"meta", keys)


def place_of_3gpp() -> bytes:
    return box(b"udta", box(b"loci", bytes(30)))


def element(kind: int, *content: bytes, size: int | None = None) -> bytes:
    """An element of EBML with a size of eight bytes; a size may be claimed."""
    body = b"".join(content)
    name = kind.to_bytes((kind.bit_length() + 7) // 8, "big")
    return name + (0x01 << 56 | (len(body) if size is None else size)).to_bytes(8, "big") + body


UNKNOWN = (1 << 56) - 1


def webm(
    *, doc_type: bytes = b"webm", track_type: bytes = b"\x01", tags: bytes = b"", size: int | None = None
) -> bytes:
    head = element(0x1A45DFA3, element(0x4282, doc_type))
    tracks = element(0x1654AE6B, element(0xAE, element(0xD7, b"\x01"), element(0x83, track_type)))
    noted = element(0x1254C367, tags) if tags else b""
    return head + element(0x18538067, tracks, noted, element(0x1F43B675, b"frames" * 20), size=size)
