"""Pictures: judged by their content, shown without anything but their pixels, kept as they came beside it."""

import hashlib
import io
import struct
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import pi_heif
from django.core.files.uploadedfile import UploadedFile
from django.utils import timezone
from PIL import ExifTags, Image, ImageOps, UnidentifiedImageError

from inventory.errors import Refused
from inventory.rules.media import PHOTO_BYTES, UploadKind, check_size
from inventory.uploads.refusing import bad_file

PICTURE_BYTES = PHOTO_BYTES
PICTURE_PIXELS = 60_000_000
LONGEST_SIDE = 2400
THUMBNAIL_SIDE = 480
# What the decoder calls each format, and the ending its original is kept under.
_FORMATS = {"JPEG": "jpg", "MPO": "jpg", "PNG": "png", "WEBP": "webp", "HEIF": "heic"}
_MAGIC = (b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n")
_HEIC_BRANDS = (b"heic", b"heix", b"heim", b"heis", b"mif1", b"msf1")
# What the decoders raise on broken content; TypeError was found by changing single bytes of good files.
_DAMAGE = (OSError, SyntaxError, ValueError, TypeError, struct.error)

pi_heif.register_heif_opener()


@dataclass(frozen=True)
class Original:
    """The file as the camera wrote it, with place and device in it: kept, never shown."""

    content: bytes
    sha256: str
    name: str
    suffix: str


@dataclass(frozen=True)
class CleanPicture:
    """A picture upright and without metadata: a phone's photo carries the place where it was taken."""

    content: bytes
    suffix: str
    taken_at: datetime | None
    width: int | None = None
    height: int | None = None
    thumbnail: bytes = b""
    original: Original | None = None

    @property
    def digest(self) -> str:
        """Of what is shown."""
        return hashlib.sha256(self.content).hexdigest()


def uploaded_picture(upload: UploadedFile[Any]) -> CleanPicture:
    """The picture of one uploaded file; its size is looked at before its content is read."""
    name = upload.name or "without a name"
    check_size(upload.size or 0, kind=UploadKind.PHOTO, name=name)
    return clean_picture(upload.read(), name=name)


def clean_picture(content: bytes, *, name: str) -> CleanPicture:
    """Decode, turn upright and encode anew, so that nothing but pixels is shown."""
    check_size(len(content), kind=UploadKind.PHOTO, name=name)
    try:
        picture = Image.open(io.BytesIO(content), formats=["JPEG", "PNG", "WEBP", "HEIF"])
        _check_frame(picture, name=name)
        suffix = _FORMATS[picture.format or "JPEG"]
        taken_at = _taken_at(picture)
        shown = _upright(picture)
    except (Image.DecompressionBombWarning, Image.DecompressionBombError) as problem:
        raise _too_large(name) from problem
    except UnidentifiedImageError as problem:
        raise _unread(content, name=name) from problem
    except _DAMAGE as problem:
        raise _damaged(name) from problem
    small = shown.copy()
    small.thumbnail((THUMBNAIL_SIDE, THUMBNAIL_SIDE))
    original = Original(content, hashlib.sha256(content).hexdigest(), name, suffix)
    return CleanPicture(_jpeg(shown, quality=85), "jpg", taken_at, *shown.size, _jpeg(small, quality=80), original)


def _check_frame(picture: Image.Image, *, name: str) -> None:
    """Before anything is decoded: a header of a few bytes can claim any size."""
    if picture.width * picture.height > PICTURE_PIXELS:
        raise _too_large(name)
    if picture.format in {"PNG", "WEBP"} and getattr(picture, "is_animated", False):
        raise bad_file(name, "is animated", mend="Send a still picture, or film a clip.")


def _upright(picture: Image.Image) -> Image.Image:
    """The pixels alone, as RGB, upright, at most the longest side.

    A JPEG is decoded at the half, quarter or eighth of its size that is still large enough: 60 million pixels then
    take some 20 MB. What else is large is decoded whole, at four bytes a pixel, and brought down before it is turned.
    """
    share = LONGEST_SIDE / max(picture.size)
    picture.draft("RGB", (int(picture.width * share), int(picture.height * share)))
    turn = picture.getexif().get(ExifTags.Base.Orientation, 1)
    plain = _rgb(picture)
    plain.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    bare = _bare(plain)
    bare.getexif()[ExifTags.Base.Orientation] = turn if turn in range(1, 9) else 1
    return _bare(ImageOps.exif_transpose(bare))


def _bare(picture: Image.Image) -> Image.Image:
    """A new picture of the same pixels, with nothing beside them."""
    bare = Image.new("RGB", picture.size)
    bare.paste(picture)
    return bare


def _rgb(picture: Image.Image) -> Image.Image:
    """Grey of 16 bits is scaled, not cut off at 255; what is transparent lies on white."""
    picture.load()
    if picture.mode.startswith("I"):
        return picture.point(lambda value: value * (1 / 256)).convert("L").convert("RGB")
    if picture.mode in {"RGBA", "LA", "PA"} or "transparency" in picture.info:
        layered = picture if picture.mode == "RGBA" else picture.convert("RGBA")
        layered.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
        ground = Image.new("RGB", layered.size, "white")
        ground.paste(layered, mask=layered.getchannel("A"))
        return ground
    return picture if picture.mode == "RGB" else picture.convert("RGB")


def _jpeg(picture: Image.Image, *, quality: int) -> bytes:
    kept = io.BytesIO()
    picture.save(kept, format="JPEG", quality=quality, optimize=True)
    return kept.getvalue()


def _taken_at(picture: Image.Image) -> datetime | None:
    """When the camera says it was taken: by its own offset where it gives one, else in the lot's time zone."""
    exif = picture.getexif().get_ifd(ExifTags.IFD.Exif)
    written = str(exif.get(ExifTags.Base.DateTimeOriginal, "")).strip("\0 ")
    offset = str(exif.get(ExifTags.Base.OffsetTimeOriginal, "")).strip("\0 ")
    for text, form in ((f"{written}{offset}", "%Y:%m:%d %H:%M:%S%z"), (written, "%Y:%m:%d %H:%M:%S")):
        try:
            told = datetime.strptime(text, form)  # noqa: DTZ007  # a camera without an offset says no zone
        except ValueError:
            continue  # not in this form
        return told if told.tzinfo else timezone.make_aware(told)
    return None  # the camera did not say


def _unread(content: bytes, *, name: str) -> Refused:
    """No decoder knows it: it begins like a picture and is cut off, or it never was one."""
    heic = content[4:8] == b"ftyp" and content[8:12] in _HEIC_BRANDS
    webp = content[:4] == b"RIFF" and content[8:12] == b"WEBP"
    if heic or webp or content.startswith(_MAGIC):
        return _damaged(name)
    return bad_file(name, "is no JPEG, PNG, WebP or HEIC picture", mend="Send one of these.")


def _damaged(name: str) -> Refused:
    return bad_file(name, "is damaged", mend="Take or save the picture again.")


def _too_large(name: str) -> Refused:
    return bad_file(name, "has more than 60 million pixels", mend="Send a smaller picture.")
