"""Pictures of every ugly kind: what is shown of them, and the original beside it.

`phone.heic` was encoded once from invented pixels by pillow-heif 1.8.1: 120 by 80, the left half red, to be turned
by orientation 6, with a place, a maker and a time of taking.
"""

import hashlib
import io
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest
from PIL import Image

from inventory import uploads
from inventory.errors import Refused
from tests.test_uploads import BLUE, RED, claimed_png, picture

ROOT = Path(__file__).resolve().parents[2]
HEIC = (Path(__file__).parent / "phone.heic").read_bytes()


def shown(content: bytes, *, name: str = "left.jpg") -> Image.Image:
    return Image.open(io.BytesIO(uploads.clean_picture(content, name=name).content))


def saved(image: Image.Image, form: str, **more: object) -> bytes:
    kept = io.BytesIO()
    image.save(kept, form, **more)
    return kept.getvalue()


def near(got: object, wanted: tuple[int, int, int]) -> bool:
    return all(abs(one - other) <= 12 for one, other in zip(got, wanted, strict=True))  # type: ignore[call-overload]


def refused(content: bytes, *, name: str = "left.jpg") -> str:
    with pytest.raises(Refused) as refusal:
        uploads.clean_picture(content, name=name)
    assert (refusal.value.field, refusal.value.got) == ("file", name)
    return str(refusal.value)


def test_heic_of_a_phone_is_upright_bare_and_dated() -> None:
    clean = uploads.clean_picture(HEIC, name="IMG_1.jpg")
    kept = Image.open(io.BytesIO(clean.content))
    assert (kept.format, kept.size, dict(kept.getexif())) == ("JPEG", (80, 120), {})
    assert near(kept.getpixel((40, 20)), RED)
    assert near(kept.getpixel((40, 100)), BLUE)
    assert b"Phone of somebody" in HEIC
    assert b"Phone of somebody" not in clean.content + clean.thumbnail
    assert clean.taken_at == datetime(2026, 3, 14, 8, 20, 30, tzinfo=UTC)
    assert clean.original
    assert (clean.original.content, clean.original.suffix) == (HEIC, "heic")


# EXIF orientation (JEITA CP-3451, tag 0x0112): where row 0 and column 0 of the stored picture lie when it is upright.
# The stored picture is red but for its first quarter, at row 0 and column 0, which is blue.
@pytest.mark.parametrize(
    ("orientation", "blue_at"),
    [
        (1, (10, 10)), (2, (110, 10)), (3, (110, 70)), (4, (10, 70)),
        (5, (10, 10)), (6, (70, 10)), (7, (70, 110)), (8, (10, 110)),
    ],
)  # fmt: skip
@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
def test_every_orientation_is_turned_upright(form: str, orientation: int, blue_at: tuple[int, int]) -> None:
    image = Image.new("RGB", (120, 80), RED)
    image.paste(BLUE, (0, 0, 60, 40))
    exif = Image.Exif()
    exif[0x0112] = orientation
    kept = shown(saved(image, form, exif=exif))
    assert kept.size == ((120, 80) if orientation < 5 else (80, 120))
    corners = {(x, y) for x in (10, kept.width - 10) for y in (10, kept.height - 10)}
    assert near(kept.getpixel(blue_at), BLUE)
    assert all(near(kept.getpixel(place), RED) for place in corners - {blue_at})


@pytest.mark.parametrize("tag", [0, 9, 700])
def test_orientation_that_means_nothing_turns_nothing(tag: int) -> None:
    exif = Image.Exif()
    exif[0x0112] = tag
    assert shown(saved(Image.new("RGB", (30, 20)), "JPEG", exif=exif)).size == (30, 20)


def test_original_is_kept_to_the_byte_and_thumbnail_is_small() -> None:
    given = picture(size=(3000, 2000))
    clean = uploads.clean_picture(given, name="front.jpg")
    assert clean.original
    assert (clean.original.content, clean.original.name, clean.original.suffix) == (given, "front.jpg", "jpg")
    assert clean.original.sha256 == hashlib.sha256(given).hexdigest()
    assert (clean.width, clean.height) == Image.open(io.BytesIO(clean.content)).size == (2400, 1600)
    small = Image.open(io.BytesIO(clean.thumbnail))
    assert (small.format, small.size, dict(small.getexif())) == ("JPEG", (480, 320), {})


def test_small_picture_is_not_blown_up() -> None:
    clean = uploads.clean_picture(picture(size=(40, 30)), name="a.jpg")
    assert (clean.width, clean.height) == (40, 30)
    assert Image.open(io.BytesIO(clean.thumbnail)).size == (40, 30)


def test_cmyk_is_shown_in_its_colours() -> None:
    assert near(shown(saved(Image.new("CMYK", (30, 20), (0, 255, 255, 0)), "JPEG")).getpixel((9, 9)), (255, 0, 0))


def test_grey_of_16_bits_keeps_its_tone() -> None:
    """40,000 of 65,535 is 156 of 255."""
    assert near(shown(saved(Image.new("I;16", (30, 20), 40000), "PNG")).getpixel((9, 9)), (156, 156, 156))


@pytest.mark.parametrize("mode", ["1", "L", "P", "LA", "RGBA"])
def test_every_mode_of_png_is_shown(mode: str) -> None:
    assert near(shown(saved(Image.new("RGB", (30, 20), "white").convert(mode), "PNG")).getpixel((9, 9)), (255,) * 3)


def test_what_is_transparent_lies_on_white() -> None:
    see_through = Image.new("RGBA", (30, 20), (255, 0, 0, 0))
    assert near(shown(saved(see_through, "PNG")).getpixel((9, 9)), (255, 255, 255))


@pytest.mark.parametrize("form", ["PNG", "WEBP"])
def test_animation_is_refused(form: str) -> None:
    frames = [Image.new("RGB", (30, 20), colour) for colour in ("red", "blue")]
    moving = saved(frames[0], form, save_all=True, append_images=frames[1:])
    assert "is animated" in refused(moving)


def test_phone_picture_with_a_second_one_behind_it_is_shown() -> None:
    """Some phones put a preview behind the picture (CIPA DC-007, multi-picture format): the first one counts."""
    frames = [Image.new("RGB", (30, 20), RED), Image.new("RGB", (30, 20), BLUE)]
    assert near(shown(saved(frames[0], "MPO", save_all=True, append_images=frames[1:])).getpixel((9, 9)), RED)


@pytest.mark.parametrize("name", ["left.jpg", "left.heic"])
@pytest.mark.parametrize(
    "content", [b"only text", b"GIF89a" + bytes(40), b"<svg xmlns='http://www.w3.org/2000/svg'/>", b"BM" + bytes(60)]
)
def test_name_makes_no_picture(name: str, content: bytes) -> None:
    assert "is no JPEG, PNG, WebP or HEIC picture" in refused(content, name=name)


def test_nothing_is_empty() -> None:
    assert "is empty" in refused(b"")


@pytest.mark.parametrize(
    "whole", [HEIC, picture(), picture("PNG"), picture("WEBP")], ids=["heic", "jpg", "png", "webp"]
)
@pytest.mark.parametrize("share", [0.05, 0.5, 0.9])
def test_cut_off_picture_is_told_as_damaged(whole: bytes, share: float) -> None:
    assert "is damaged" in refused(whole[: max(24, int(len(whole) * share))])


def test_60_megapixels_are_accepted_and_one_row_more_is_refused() -> None:
    clean = uploads.clean_picture(saved(Image.new("L", (10_000, 6_000)), "PNG"), name="large.png")
    assert (clean.width, clean.height) == (2400, 1440)
    assert "has more than 60 million pixels" in refused(claimed_png(10_000, 6_001))


MEASURE = """
import io, resource, sys
from PIL import Image
import django
django.setup()
from inventory.uploads import clean_picture
content = sys.stdin.buffer.read()
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
clean_picture(content, name="large.jpg")
print((resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) // 1024)
"""


def test_60_megapixels_of_jpeg_never_take_the_memory_of_all_their_pixels() -> None:
    """Whole they would be 240 MB (four bytes a pixel) and a copy as many again; ru_maxrss counts kilobytes on Linux."""
    large = saved(Image.effect_noise((1000, 600), 60).convert("RGB").resize((10_000, 6_000)), "JPEG", quality=30)
    done = subprocess.run([sys.executable, "-c", MEASURE], input=large, capture_output=True, check=True, cwd=ROOT)
    assert int(done.stdout) < 100, done.stdout


def test_page_hidden_in_a_picture_is_not_in_what_is_shown() -> None:
    """A file that is picture and page at once (polyglot): what is shown is encoded anew, comment and tail are gone."""
    page = b"<script>alert(1)</script>"
    made = saved(Image.new("RGB", (40, 30), "red"), "JPEG", comment=page) + page
    found = uploads.clean_picture(made, name="left.jpg")
    assert page in made
    assert b"script" not in found.content + found.thumbnail


@pytest.mark.parametrize(
    "content", [b"<svg xmlns='http://www.w3.org/2000/svg' onload='x()'/>", b"<html>", b"GIF89a" + b"\0" * 90]
)
def test_markup_and_other_kinds_are_no_picture(content: bytes) -> None:
    assert "is no JPEG, PNG, WebP or HEIC picture" in refused(content)
