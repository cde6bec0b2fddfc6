"""What a file from outside may be: type, size and content are checked before anything is kept."""

import io
import warnings
from dataclasses import dataclass
from datetime import UTC, datetime

from PIL import ExifTags, Image, ImageOps, UnidentifiedImageError

from inventory.errors import Refused

PICTURE_BYTES = 20 * 2**20
PICTURE_PIXELS = 60_000_000
LONGEST_SIDE = 2400
SHEET_BYTES = 40 * 2**20
SHEET_SUFFIXES = (".csv", ".txt", ".tsv", ".xlsx")
_FORMATS = {"JPEG": "jpg", "PNG": "png", "WEBP": "webp"}


@dataclass(frozen=True)
class CleanPicture:
    """A picture upright and without metadata: a phone's photo carries the place where it was taken."""

    content: bytes
    suffix: str
    taken_at: datetime | None


def clean_picture(content: bytes, *, name: str) -> CleanPicture:
    """Decode, turn upright and encode anew, so that nothing but pixels is kept."""
    if len(content) > PICTURE_BYTES:
        raise _refuse(name, "is larger than 20 MB", mend="Send a smaller picture.")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            picture = Image.open(io.BytesIO(content), formats=list(_FORMATS))
        if picture.width * picture.height > PICTURE_PIXELS:
            raise _refuse(name, "has more than 60 million pixels", mend="Send a smaller picture.")
        taken_at = _taken_at(picture)
        upright = ImageOps.exif_transpose(picture)
    except (UnidentifiedImageError, Image.DecompressionBombWarning, Image.DecompressionBombError) as problem:
        raise _refuse(name, "is no JPEG, PNG or WebP picture", mend="Send one of these.") from problem
    except (OSError, SyntaxError, ValueError) as problem:
        raise _refuse(name, "is damaged", mend="Take or save the picture again.") from problem
    plain = upright.convert("RGB")
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
    written = picture.getexif().get_ifd(ExifTags.IFD.Exif).get(ExifTags.Base.DateTimeOriginal)
    try:
        return datetime.strptime(str(written), "%Y:%m:%d %H:%M:%S").replace(tzinfo=UTC)
    except ValueError:
        return None  # the camera did not say


def _refuse(name: str, what: str, *, mend: str) -> Refused:
    return Refused("bad_file", f"The file {name} {what}.", field="file", got=name, mend=mend)
