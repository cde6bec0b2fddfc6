"""What a file from outside may be: type, size and content are checked before anything is kept."""

import io
import struct
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.core.files.uploadedfile import UploadedFile
from django.utils import timezone
from PIL import ExifTags, Image, ImageOps, UnidentifiedImageError

from inventory.errors import Refused

PICTURE_BYTES = 20 * 2**20
PICTURE_PIXELS = 60_000_000
LONGEST_SIDE = 2400
SHEET_BYTES = 40 * 2**20
SHEET_SUFFIXES = (".csv", ".txt", ".tsv", ".xlsx")
_FORMATS = ("JPEG", "PNG", "WEBP")
# What the decoder raises on broken content; TypeError was found by changing single bytes of good files.
_DAMAGE = (OSError, SyntaxError, ValueError, TypeError, struct.error)


@dataclass(frozen=True)
class CleanPicture:
    """A picture upright and without metadata: a phone's photo carries the place where it was taken."""

    content: bytes
    suffix: str
    taken_at: datetime | None


def uploaded_picture(upload: UploadedFile[Any]) -> CleanPicture:
    """The picture of one uploaded file; its size is looked at before its content is read."""
    name = upload.name or "without a name"
    if (upload.size or 0) > PICTURE_BYTES:
        raise _too_heavy(name)
    return clean_picture(upload.read(), name=name)


def clean_picture(content: bytes, *, name: str) -> CleanPicture:
    """Decode, turn upright and encode anew, so that nothing but pixels is kept."""
    if len(content) > PICTURE_BYTES:
        raise _too_heavy(name)
    try:
        picture = Image.open(io.BytesIO(content), formats=list(_FORMATS))
        if picture.width * picture.height > PICTURE_PIXELS:
            raise _too_large(name)
        taken_at = _taken_at(picture)
        plain = ImageOps.exif_transpose(picture).convert("RGB")
    except (Image.DecompressionBombWarning, Image.DecompressionBombError) as problem:
        raise _too_large(name) from problem
    except UnidentifiedImageError as problem:
        raise _refuse(name, "is no JPEG, PNG or WebP picture", mend="Send one of these.") from problem
    except _DAMAGE as problem:
        raise _refuse(name, "is damaged", mend="Take or save the picture again.") from problem
    plain.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    bare = Image.new("RGB", plain.size)
    bare.paste(plain)
    kept = io.BytesIO()
    bare.save(kept, format="JPEG", quality=85, optimize=True)
    return CleanPicture(kept.getvalue(), "jpg", taken_at)


def check_sheet(name: str, *, size: int) -> None:
    """Only what may be a spreadsheet is kept; its content is judged when it is read."""
    if not name.lower().endswith(SHEET_SUFFIXES):
        raise _refuse(name, "is no CSV or XLSX file by its name", mend="Save the sheet as CSV or XLSX.")
    if size > SHEET_BYTES:
        raise _refuse(name, "is larger than 40 MB", mend="Cut the sheet into several files.")
    if size == 0:
        raise _refuse(name, "is empty", mend="Save the sheet again.")


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


def _too_heavy(name: str) -> Refused:
    return _refuse(name, "is larger than 20 MB", mend="Send a smaller picture.")


def _too_large(name: str) -> Refused:
    return _refuse(name, "has more than 60 million pixels", mend="Send a smaller picture.")


def _refuse(name: str, what: str, *, mend: str) -> Refused:
    return Refused("bad_file", f"The file {name} {what}.", field="file", got=name, mend=mend)
