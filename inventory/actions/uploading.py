"""Files that come in pieces: announced, received piece by piece, finished as one photo or clip, or given up.

An upload itself is scaffolding and leaves no line in the log; what it becomes does.
"""

import uuid
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import partial
from typing import Any

from django.db import transaction

from inventory.actions import filming, logbook, recording
from inventory.actions.writing import add, again, change, locked, locked_lot
from inventory.errors import NotFound, Refused, TooLate
from inventory.models import Consignment, Upload, UploadPiece
from inventory.queries.media import bytes_held, bytes_sent, clips_alike, photos_with, pieces_of
from inventory.rules import media
from inventory.rules.media import NO_SPOT, ClipKind, Spot, UploadKind
from inventory.rules.roles import Act, Actor, ActorKind, require
from inventory.uploads import CleanClip, CleanPicture, objects, pieces
from inventory.uploads.room import refuse_full_disk


@dataclass(frozen=True, kw_only=True)
class Sending:
    """What is announced: the file, and what it is a picture of."""

    kind: str
    name: str
    total: int
    sha256: str
    client_key: uuid.UUID
    spot: Spot = NO_SPOT
    clip_kind: str = ClipKind.OTHER
    caption: str = ""
    public: bool = False

    @property
    def said(self) -> dict[str, Any]:
        """What is said about the file; it may change as long as nothing was made of it."""
        return {
            "caption": self.caption.strip(), "public": self.public, "clip_kind": self.clip_kind,
            "station": self.spot.station, "check_code": self.spot.check_code, "shot": self.spot.shot,
        }  # fmt: skip


@transaction.atomic
def begin_upload(consignment_id: int, *, sending: Sending, by: Actor, at: datetime) -> Upload:
    """Announce a file. The same key again is the same upload, and tells how much of it is here."""
    require(by, Act.RECORD_FACTS)
    if by.kind != ActorKind.STAFF or by.id is None:
        raise Refused("staff_only", f"{by.name} sends no files in pieces.", got=by.name, mend="Sign in as staff.")
    media.check_spot(sending.spot)
    stay = locked(consignment_id)
    if (known := again(Upload, client_key=sending.client_key)) is not None:
        return _taken_up(known, stay=stay, sending=sending, by=by, at=at)
    media.check_size(sending.total, kind=sending.kind, name=sending.name)
    row = Upload(
        consignment=stay, kind=sending.kind, name=sending.name, total=sending.total, sha256=sending.sha256,
        client_key=sending.client_key, by_id=by.id, begun_at=at, touched_at=at, **sending.said,
    )  # fmt: skip
    if not _is_here_already(row, stay=stay, at=at):
        media.check_open_uploads(Upload.objects.filter(by_id=by.id, finished_at__isnull=True).count())
        media.check_day(bytes_sent(by_id=by.id, since=at - media.DAY), more=sending.total)
        media.check_room(bytes_held(stay), more=sending.total)
        refuse_full_disk(sending.total)
    return add(row)


def _taken_up(row: Upload, *, stay: Consignment, sending: Sending, by: Actor, at: datetime) -> Upload:
    if row.by_id != by.id or row.consignment_id != stay.pk:
        raise Refused("key_taken", "This key belongs to another upload.", field="client_key", got=sending.client_key)
    if (row.kind, row.total, row.sha256) != (sending.kind, sending.total, sending.sha256):
        raise Refused(
            "other_file",
            f"This key was given to {row.name} ({row.total} bytes); {sending.name} is another file.",
            field="client_key",
            got=str(sending.client_key),
            mend="Give each file a key of its own.",
        )
    return row if row.finished_at else change(row, touched_at=at, **sending.said)


def _is_here_already(row: Upload, *, stay: Consignment, at: datetime) -> bool:
    """The same bytes were kept before: nothing need be sent over a bad signal again."""
    if row.kind == UploadKind.PHOTO:
        row.photo = next((photo for photo in photos_with(stay, sha256=row.sha256) if not photo.is_hidden), None)
    else:
        row.clip = next((clip for clip in clips_alike(stay, sha256=row.sha256) if not clip.is_hidden), None)
    if row.photo is None and row.clip is None:
        return False
    row.received, row.finished_at = row.total, at
    return True


@transaction.atomic
def receive_piece(code: uuid.UUID, *, offset: int, content: bytes, by: Actor, at: datetime) -> Upload:
    """Write one piece where the last one ended. A piece that is here already is harmless."""
    require(by, Act.RECORD_FACTS)
    row = _locked(code, by=by)
    if row.finished_at or (0 <= offset < row.received and _is_here(row, offset=offset, content=content)):
        return row
    if offset != row.received:
        raise TooLate(
            "offset_differs",
            f"{row.received} bytes of {row.name} are here; the piece begins at {offset}.",
            field="offset",
            got=row.received,
            mend=f"Go on at {row.received}.",
        )
    media.check_piece(len(content), rest=row.total - offset, total=row.total, name=row.name)
    _keep_piece(row, offset=offset, content=content)
    return change(row, received=offset + len(content), touched_at=at)


def _is_here(row: Upload, *, offset: int, content: bytes) -> bool:
    end = offset + len(content)
    if end > row.received:
        return False
    if objects.in_use():
        return objects.hold(pieces_of(row, start=offset, end=end), offset=offset, content=content)
    return pieces.holds(row.code, offset=offset, content=content)


def _keep_piece(row: Upload, *, offset: int, content: bytes) -> None:
    """On the disk or in the bucket before the row says so; what is cut off between the two counts for nothing."""
    if not objects.in_use():
        refuse_full_disk(len(content))  # others were promised the same room when this file was announced
        pieces.write(row.code, offset=offset, content=content)
        return
    name = objects.write(row.code, offset=offset, content=content)
    add(UploadPiece(upload=row, offset=offset, size=len(content), name=name))


@transaction.atomic
def finish_upload(code: uuid.UUID, *, made: CleanPicture | CleanClip, by: Actor, at: datetime) -> Upload:
    """Make the photo or clip, once. The pieces are thrown away when that is committed."""
    require(by, Act.RECORD_FACTS)
    stay = locked(_mine(code, by=by).consignment_id)
    row = _locked(code, by=by)
    if row.finished_at:
        return row
    spot = Spot(row.station, row.check_code, row.shot)
    said: dict[str, Any] = {
        "caption": row.caption, "public": row.public, "client_key": row.client_key, "spot": spot, "by": by, "at": at,
    }  # fmt: skip
    if isinstance(made, CleanPicture):
        change(row, finished_at=at, photo=recording.add_photo(stay.pk, picture=made, **said))
    else:
        clip = filming.add_clip(stay.pk, clip=made, name=row.name, kind=row.clip_kind, **said)
        change(row, finished_at=at, clip=clip)
    _forget_pieces([row])
    return row


@transaction.atomic
def drop_upload(code: uuid.UUID, *, by: Actor, at: datetime) -> None:
    """Give an upload up, with what came of it. What was made of a finished one stays."""
    require(by, Act.RECORD_FACTS)
    row = _locked(code, by=by)
    if row.finished_at:
        raise TooLate("finished", f"{row.name} is kept since {row.finished_at:%Y-%m-%d}.", mend="Hide it instead.")
    _forget_pieces([row])
    row.delete()


@transaction.atomic
def clear_uploads(older_than: timedelta, *, by: Actor, at: datetime) -> int:
    """Throw away uploads that nobody has gone on with, and pieces that belong to none."""
    require(by, Act.MANAGE_STAFF)
    lot = locked_lot()
    since = at - older_than
    stale = Upload.objects.select_for_update().filter(finished_at__isnull=True, touched_at__lt=since).order_by("pk")
    rows = list(stale)
    _forget_pieces(rows)
    Upload.objects.filter(pk__in=[row.pk for row in rows]).delete()
    if rows:
        logbook.record("uploads.cleared", lot, by=by, at=at, count=len(rows))
    transaction.on_commit(lambda: _clear_leftovers(since), robust=True)
    return len(rows)


def _forget_pieces(rows: list[Upload]) -> None:
    """Their pieces go when that is committed. What cannot be taken away then, `clear_uploads` takes another day."""
    UploadPiece.objects.filter(upload__in=rows).delete()
    for row in rows:
        transaction.on_commit(partial(_remove, row.code), robust=True)


def _remove(code: uuid.UUID) -> None:
    pieces.remove(code)
    if objects.in_use():
        objects.remove(code)


def _clear_leftovers(since: datetime) -> None:
    """What lies about of uploads that are over: written by a request that was cut off, or not taken away by one."""
    open_ones = Upload.objects.filter(finished_at__isnull=True).values_list("code", flat=True)
    going_on = {str(code) for code in open_ones}
    for path in pieces.leftovers(older_than=since.timestamp()):
        if path.stem not in going_on:
            path.unlink(missing_ok=True)
    if objects.in_use():
        objects.remove_leftovers(but_of=going_on, older_than=since)


def _mine(code: uuid.UUID, *, by: Actor) -> Upload:
    row = Upload.objects.filter(code=code, by_id=by.id).first()
    if row is None:
        raise NotFound("not_found", "There is no such upload.", field="upload", got=str(code))
    return row


def _locked(code: uuid.UUID, *, by: Actor) -> Upload:
    row = Upload.objects.select_for_update(of=("self",)).filter(code=code, by_id=by.id).first()
    if row is None:
        raise NotFound("not_found", "There is no such upload.", field="upload", got=str(code))
    return row
