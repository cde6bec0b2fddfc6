"""Photos and clips of a stay: who may see which, and how much room they take."""

import uuid
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Exists, OuterRef, Q, QuerySet, Sum
from django.db.models.fields.files import FieldFile

from inventory.errors import NotFound
from inventory.models import Clip, Consignment, Photo, Upload
from inventory.rules.media import PIECE_BYTES
from inventory.rules.roles import Act, Actor, require
from inventory.uploads import Arrived, CleanPicture, Piece


@dataclass(frozen=True)
class Media:
    photos: list[Photo]
    clips: list[Clip]
    hidden: list[Photo | Clip]


def media_of(stay: Consignment) -> Media:
    """What staff sees of one stay; what was hidden stands apart."""
    photos = list(stay.photos.select_related("hiding", "by").order_by("pk"))
    clips = list(stay.clips.select_related("hiding").order_by("pk"))
    hidden: list[Photo | Clip] = [row for row in photos if row.is_hidden]
    hidden += [row for row in clips if row.is_hidden]
    return Media([row for row in photos if not row.is_hidden], [row for row in clips if not row.is_hidden], hidden)


def shown_clips(stay: Consignment) -> QuerySet[Clip]:
    return stay.clips.filter(hiding__isnull=True)


def photos_alike(stay: Consignment, *, picture: CleanPicture) -> list[Photo]:
    """Photos of the stay made of the same original, hidden ones too; without an original, of the same pixels."""
    same = Q(original_sha256="", digest=picture.digest)
    if picture.original is not None:
        same |= Q(original_sha256=picture.original.sha256)
    return list(stay.photos.select_related("hiding", "consignment").filter(same))


def photos_with(stay: Consignment, *, sha256: str) -> list[Photo]:
    """Photos of the stay made of one original, hidden ones too."""
    return list(stay.photos.select_related("hiding").filter(original_sha256=sha256))


def clips_alike(stay: Consignment, *, sha256: str) -> list[Clip]:
    return list(stay.clips.select_related("hiding").filter(sha256=sha256))


def bytes_held(stay: Consignment, *, but_for: uuid.UUID | None = None) -> int:
    """What the stay takes: originals, clips, and what is announced and not here yet, but for one upload by its key."""
    waiting = stay.uploads.filter(finished_at__isnull=True)
    waiting = waiting if but_for is None else waiting.exclude(client_key=but_for)
    sums = (
        stay.photos.aggregate(held=Sum("original_bytes"))["held"],
        stay.clips.aggregate(held=Sum("bytes"))["held"],
        waiting.aggregate(held=Sum("total"))["held"],
    )
    return sum(held or 0 for held in sums)


def bytes_sent(*, by_id: int, since: datetime) -> int:
    """Photos and clips of one person since then: what was announced, whether or not it came, and photos sent whole."""
    of_upload = Upload.objects.filter(photo=OuterRef("pk"))
    whole = Photo.objects.filter(~Exists(of_upload), by_id=by_id, at__gte=since)
    sums = (
        Upload.objects.filter(by_id=by_id, begun_at__gte=since).aggregate(held=Sum("total"))["held"],
        whole.aggregate(held=Sum("original_bytes"))["held"],
    )
    return sum(held or 0 for held in sums)


def photo_of(code: uuid.UUID, *, by: Actor) -> Photo:
    """One photo, for staff: any of them may see the lot's vehicles."""
    require(by, Act.SEE_LOT)
    row = Photo.objects.select_related("consignment__vehicle", "consignment__consignor").filter(code=code).first()
    if row is None:
        raise _nothing("photo", code)
    return row


def clip_of(code: uuid.UUID, *, by: Actor) -> Clip:
    require(by, Act.SEE_LOT)
    row = Clip.objects.select_related("consignment__vehicle", "consignment__consignor").filter(code=code).first()
    if row is None:
        raise _nothing("clip", code)
    return row


def public_photo(stay: Consignment, *, code: uuid.UUID) -> Photo:
    """One photo that the consignor of this stay may see."""
    row = Photo.objects.shown().filter(consignment=stay, code=code, public=True).first()
    if row is None:
        raise _nothing("photo", code)
    return row


def public_clip(stay: Consignment, *, code: uuid.UUID) -> Clip:
    row = shown_clips(stay).filter(code=code, public=True).first()
    if row is None:
        raise _nothing("clip", code)
    return row


def original_of(code: uuid.UUID, *, by: Actor) -> tuple[FieldFile, str]:
    """The file as the camera wrote it and its name then; of photos of earlier versions, what is shown."""
    require(by, Act.SEE_ORIGINALS)
    row = photo_of(code, by=by)
    return (row.original, row.original_name) if row.original else (row.file, f"{row.code}.jpg")


def upload_of(code: uuid.UUID, *, by: Actor) -> Upload:
    """An upload of one's own."""
    require(by, Act.RECORD_FACTS)
    row = Upload.objects.filter(code=code, by_id=by.id).first()
    if row is None:
        raise _nothing("upload", code)
    return row


def arrived(row: Upload) -> Arrived:
    """What is known of an upload whose last byte has come, and where its pieces lie in a bucket."""
    return Arrived(row.code, row.kind, row.name, row.total, row.sha256, tuple(pieces_of(row, start=0, end=row.total)))


def pieces_of(row: Upload, *, start: int, end: int) -> list[Piece]:
    """The pieces in a bucket that hold these bytes, in order; none where pieces are kept on the disk."""
    rows = row.pieces.filter(offset__lt=end, offset__gt=start - PIECE_BYTES).order_by("offset")
    found = [Piece(one.offset, one.size, one.name) for one in rows]
    return [piece for piece in found if piece.end > start]


def _nothing(what: str, code: uuid.UUID) -> NotFound:
    return NotFound("not_found", f"There is no such {what}.", field=what, got=str(code))
