"""What becomes of a picture from outside. Samples are made here, byte by byte where they are hostile."""

import io
import struct
import zlib
from contextlib import suppress
from datetime import UTC, datetime

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import ExifTags, Image

from inventory import uploads
from inventory.errors import Refused

RED, BLUE = (200, 30, 30), (30, 30, 200)


def picture(form: str = "JPEG", *, size: tuple[int, int] = (120, 80), orientation: int = 1, offset: str = "") -> bytes:
    """Left half red, right half blue, with the place and time of taking as a phone writes them."""
    image = Image.new("RGB", size, RED)
    image.paste(BLUE, (size[0] // 2, 0, size[0], size[1]))
    exif = Image.Exif()
    exif[ExifTags.Base.Orientation] = orientation
    exif[ExifTags.Base.Make] = "Phone of somebody"
    gps = exif.get_ifd(ExifTags.IFD.GPSInfo)
    gps[ExifTags.GPS.GPSLatitudeRef], gps[ExifTags.GPS.GPSLatitude] = "N", (41.0, 52.0, 30.0)
    details = exif.get_ifd(ExifTags.IFD.Exif)
    details[ExifTags.Base.DateTimeOriginal] = "2026:03:14 10:20:30"
    if offset:
        details[ExifTags.Base.OffsetTimeOriginal] = offset
    kept = io.BytesIO()
    image.save(kept, form, exif=exif, comment=b"seen at home") if form == "JPEG" else image.save(kept, form, exif=exif)
    return kept.getvalue()


def claimed_png(width: int, height: int) -> bytes:
    """A PNG of a few bytes whose header claims any size."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(b"\0")) + chunk(b"IEND", b"")


def refused(content: bytes, *, name: str = "left.jpg") -> str:
    with pytest.raises(Refused) as refusal:
        uploads.clean_picture(content, name=name)
    assert refusal.value.field == "file"
    assert refusal.value.got == name
    return str(refusal.value)


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
def test_place_and_camera_go_in_and_none_come_out(form: str) -> None:
    given = picture(form)
    assert Image.open(io.BytesIO(given)).getexif().get_ifd(ExifTags.IFD.GPSInfo)
    clean = uploads.clean_picture(given, name="left.jpg")
    kept = Image.open(io.BytesIO(clean.content))
    assert (kept.format, dict(kept.getexif())) == ("JPEG", {})
    assert not {"exif", "comment", "xmp", "icc_profile"} & set(kept.info)
    assert b"Phone of somebody" not in clean.content
    assert b"seen at home" not in clean.content


# EXIF orientation (JEITA CP-3451, tag 0x0112): 6 means that the stored rows run down the right side, so that the
# picture is turned 90 degrees clockwise to be upright; 3 is upside down. The stored left half is red.
@pytest.mark.parametrize(
    ("orientation", "size", "red_at"),
    [(1, (120, 80), (20, 40)), (3, (120, 80), (100, 40)), (6, (80, 120), (40, 20)), (8, (80, 120), (40, 100))],
)
def test_picture_is_turned_upright(orientation: int, size: tuple[int, int], red_at: tuple[int, int]) -> None:
    clean = uploads.clean_picture(picture(orientation=orientation), name="left.jpg")
    kept = Image.open(io.BytesIO(clean.content))
    assert kept.size == size
    red, _, blue = kept.getpixel(red_at)  # type: ignore[misc]
    assert red > 150 > 80 > blue


def test_large_picture_is_brought_down_to_the_longest_side() -> None:
    clean = uploads.clean_picture(picture(size=(4800, 1000)), name="left.jpg")
    assert Image.open(io.BytesIO(clean.content)).size == (2400, 500)


@pytest.mark.parametrize(("offset", "hour"), [("+02:00", 8), ("", 15)])
def test_time_of_taking_is_the_cameras_own_or_the_lots(offset: str, hour: int) -> None:
    """10:20:30 at +02:00 is 08:20:30 UTC; in Chicago on 14 March 2026 (daylight time, UTC−5) it is 15:20:30 UTC."""
    clean = uploads.clean_picture(picture(offset=offset), name="left.jpg")
    assert clean.taken_at == datetime(2026, 3, 14, hour, 20, 30, tzinfo=UTC)


def test_png_renamed_jpg_is_judged_by_its_content() -> None:
    clean = uploads.clean_picture(picture("PNG"), name="left.jpg")
    assert Image.open(io.BytesIO(clean.content)).format == "JPEG"


@pytest.mark.parametrize("size", [(10_000, 6_001), (30_000, 30_000), (60_000, 60_000)])
def test_pixel_bomb_is_refused_before_it_is_unpacked(size: tuple[int, int]) -> None:
    bomb = claimed_png(*size)
    assert len(bomb) < 100
    assert "more than 60 million pixels" in refused(bomb)


@pytest.mark.parametrize(
    "content",
    [b"hello", b"%PDF-1.7 not a picture", b"<svg xmlns='http://www.w3.org/2000/svg'/>", b"GIF89a" + b"\0" * 40],
)
def test_what_is_no_picture_is_refused_by_name(content: bytes) -> None:
    assert refused(content).startswith("The file left.jpg is no JPEG, PNG, WebP or HEIC picture.")


def test_cut_off_picture_is_damaged() -> None:
    whole = picture(size=(800, 600))
    assert "is damaged" in refused(whole[: len(whole) // 2])


def test_oversize_upload_is_refused_before_it_is_read() -> None:
    class Unread(SimpleUploadedFile):
        def read(self, *args: object) -> bytes:
            raise AssertionError("read although too large")

    upload = Unread("left.jpg", b"")
    upload.size = uploads.PICTURE_BYTES + 1
    with pytest.raises(Refused, match="larger than 20 MB"):
        uploads.uploaded_picture(upload)


def test_oversize_content_is_refused() -> None:
    assert "larger than 20 MB" in refused(b"\xff" * (uploads.PICTURE_BYTES + 1))


@pytest.mark.filterwarnings("ignore:.*EXIF.*", "ignore:Tag data", "ignore:Truncated", "ignore:Metadata")
@settings(max_examples=150, deadline=None)
@given(
    form=st.sampled_from(["JPEG", "PNG", "WEBP"]),
    changes=st.lists(st.tuples(st.integers(0, 10**6), st.integers(0, 255)), min_size=1, max_size=12),
    cut=st.floats(0.02, 1),
)
def test_broken_picture_is_kept_clean_or_refused_never_a_crash(
    form: str, changes: list[tuple[int, int]], cut: float
) -> None:
    content = bytearray(picture(form))
    for place, byte in changes:
        content[place % len(content)] = byte
    with suppress(Refused):
        clean = uploads.clean_picture(bytes(content[: int(len(content) * cut)]), name="left.jpg")
        assert Image.open(io.BytesIO(clean.content)).format == "JPEG"


@pytest.mark.parametrize(
    ("name", "size", "told"), [("a.pdf", 5, "no CSV"), ("a.csv", 0, "is empty"), ("A.XLSX", 2**26, "40 MB")]
)
def test_sheet_is_judged_by_name_and_size(name: str, size: int, told: str) -> None:
    with pytest.raises(Refused, match=told):
        uploads.check_sheet(name, size=size)
    uploads.check_sheet("Sales.XLSX", size=5)
