"""What a clip may be, by its boxes and never by its name."""

import struct
from contextlib import suppress
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from inventory.errors import Refused
from inventory.uploads import CleanClip, clean_clip
from inventory.uploads.clips import sha256_of
from tests.test_uploads import picture
from tests.uploads import films


def judged(content: bytes, folder: Path, *, name: str = "walk.mp4") -> CleanClip:
    path = folder / "clip"
    path.write_bytes(content)
    return clean_clip(path, name=name)


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (films.mp4(), ("video/mp4", "mp4")),
        (films.mp4(major=b"qt  "), ("video/quicktime", "mov")),
        (films.ftyp() + films.moov() + films.long_box(b"mdat", b"pixels"), ("video/mp4", "mp4")),
        (films.ftyp() + films.moov() + struct.pack(">I", 0) + b"mdat" + b"to the end", ("video/mp4", "mp4")),
        (films.webm(), ("video/webm", "webm")),
        (films.webm(size=films.UNKNOWN), ("video/webm", "webm")),
    ],
)
def test_clip_is_known_by_its_content_whatever_its_name(tmp_path: Path, content: bytes, told: tuple[str, str]) -> None:
    clip = judged(content, tmp_path, name="holiday.txt")
    assert ((clip.content_type, clip.suffix), clip.located) == (told, False)
    assert (clip.size, clip.sha256) == (len(content), sha256_of(tmp_path / "clip"))


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"", "is empty"),
        (b"hello", "is no MP4, QuickTime or WebM clip"),
        (picture(), "is no MP4, QuickTime or WebM clip"),
        (b"RIFF" + bytes(60), "is no MP4, QuickTime or WebM clip"),
        (films.ftyp(b"heic", b"mif1") + films.moov(), "no clip of a known kind"),
        (films.ftyp() + films.box(b"mdat", b"pixels"), "the table of its pictures is missing"),
        (films.mp4(handler=b"soun"), "holds no moving picture"),
        (films.mp4()[:-1], "is damaged or cut off"),
        (films.ftyp() + films.moov() + b"\0\0", "is damaged or cut off"),
        (films.ftyp() + struct.pack(">I", 4) + b"moov", "is damaged or cut off"),
        (films.ftyp() + struct.pack(">I", 2**31) + b"moov" + bytes(50), "is damaged or cut off"),
        (films.ftyp() + films.box(b"moov", films.box(b"trak", b"\0\0\xff\xffmdia")), "is damaged or cut off"),
        (films.webm(doc_type=b"matroska"), "is no WebM clip by its own word"),
        (films.webm(track_type=b"\x02"), "holds no moving picture"),
        (films.webm()[:-5], "is damaged or cut off"),
        (films.webm(size=2**40), "is damaged or cut off"),
        (films.webm().split(b"\x18\x53\x80\x67")[0], "its pictures are missing"),
        (b"\x1a\x45\xdf\xa3" + bytes(20), "is damaged or cut off"),
    ],
)
def test_what_is_no_whole_clip_is_refused_by_name(tmp_path: Path, content: bytes, told: str) -> None:
    with pytest.raises(Refused) as refusal:
        judged(content, tmp_path)
    assert told in str(refusal.value)
    assert (refusal.value.field, refusal.value.got) == ("file", "walk.mp4")


def test_clip_over_300_megabytes_is_refused_unread(tmp_path: Path) -> None:
    with (tmp_path / "clip").open("wb") as file:
        file.truncate(300 * 2**20 + 1)
    with pytest.raises(Refused, match="is larger than 300 MB"):
        clean_clip(tmp_path / "clip", name="long.mp4")


@pytest.mark.parametrize(
    "content",
    [
        films.mp4(films.place_of_android()),
        films.mp4(films.place_of_apple(), major=b"qt  "),
        films.mp4(films.place_of_3gpp()),
        films.mp4(entry=b"gpmd"),
        films.mp4() + films.box(b"uuid", bytes(16), b"<exif:GPSLatitude>41,52N</exif:GPSLatitude>"),
        films.webm(tags=b"Recording_Location"),
    ],
)
def test_place_in_a_clip_is_found(tmp_path: Path, content: bytes) -> None:
    assert judged(content, tmp_path).located


def test_place_marks_among_the_pixels_are_no_place(tmp_path: Path) -> None:
    assert not judged(films.mp4(film=b"\xa9xyz loci " + films.LOCATION_KEY), tmp_path).located


def test_boxes_without_end_are_given_up(tmp_path: Path) -> None:
    with pytest.raises(Refused, match="is damaged or cut off"):
        judged(films.mp4() + films.box(b"free") * 100_001, tmp_path)


@settings(max_examples=200, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    whole=st.sampled_from([films.mp4(films.place_of_apple()), films.webm(tags=b"x")]),
    changes=st.lists(st.tuples(st.integers(0, 10**6), st.integers(0, 255)), max_size=8),
    cut=st.floats(0.02, 1),
)
def test_broken_clip_is_judged_or_refused_never_a_crash(
    tmp_path: Path, whole: bytes, changes: list[tuple[int, int]], cut: float
) -> None:
    content = bytearray(whole)
    for place, byte in changes:
        content[place % len(content)] = byte
    with suppress(Refused):
        clip = judged(bytes(content[: int(len(content) * cut)]), tmp_path)
        assert clip.content_type in {"video/mp4", "video/quicktime", "video/webm"}
