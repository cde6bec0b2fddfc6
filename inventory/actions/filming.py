"""Clips are kept, and photos and clips that should not be seen are hidden."""

import uuid
from contextlib import ExitStack
from datetime import datetime

from django.db import transaction

from inventory.actions import logbook
from inventory.actions.writing import add, keep_file, locked
from inventory.errors import NotFound, Refused, TooLate
from inventory.models import Clip, HiddenMedia, Photo
from inventory.queries.media import bytes_held, clips_alike
from inventory.rules.media import NO_SPOT, Spot, check_room, check_spot
from inventory.rules.roles import Act, Actor, require
from inventory.uploads import CleanClip
from inventory.uploads.pieces import Whole


@transaction.atomic
def add_clip(
    consignment_id: int, *, clip: CleanClip, name: str, kind: str, caption: str = "", public: bool = False,
    spot: Spot = NO_SPOT, client_key: uuid.UUID | None = None, by: Actor, at: datetime,
) -> Clip:  # fmt: skip
    """Keep one clip as it came. The same clip is one of the stay, unless it was hidden."""
    require(by, Act.RECORD_FACTS)
    check_spot(spot)
    stay = locked(consignment_id)
    rows = clips_alike(stay, sha256=clip.sha256)
    if (known := next((row for row in rows if not row.is_hidden), None)) is not None:
        return known
    if public and clip.located:
        raise _holds_place(name)
    check_room(bytes_held(stay, but_for=client_key), more=clip.size)
    row = Clip(
        consignment=stay, kind=kind, caption=caption.strip(), public=public, name=name[-255:], sha256=clip.sha256,
        bytes=clip.size, content_type=clip.content_type, located=clip.located, resent=len(rows),
        station=spot.station, shot=spot.shot, client_key=client_key, by=by.name, at=at,
    )  # fmt: skip
    with ExitStack() as undo, Whole(clip.path, name=name) as whole:
        keep_file(row.file, name=f"{row.code}.{clip.suffix}", content=whole, undo=undo, more=whole.more)
        add(row)
        undo.pop_all()
    logbook.record("clip.added", row, by=by, at=at, consignment=stay, kind=row.get_kind_display(), caption=row.caption)
    return row


@transaction.atomic
def hide_photo(code: uuid.UUID, *, reason: str, by: Actor, at: datetime) -> HiddenMedia:
    """Show a photo no more. The file stays, and who hid it and why."""
    require(by, Act.RECORD_FACTS)
    row = Photo.objects.select_for_update(of=("self",)).select_related("consignment").filter(code=code).first()
    if row is None:
        raise NotFound("not_found", "There is no such photo.", field="photo", got=str(code))
    _refuse_hidden_before(HiddenMedia.objects.filter(photo=row).first())
    hidden = add(HiddenMedia(photo=row, reason=reason.strip(), by=by.name, at=at))
    logbook.record(
        "photo.hidden", row, by=by, at=at, consignment=row.consignment, caption=row.caption or "without caption",
        reason=hidden.reason,
    )  # fmt: skip
    return hidden


@transaction.atomic
def hide_clip(code: uuid.UUID, *, reason: str, by: Actor, at: datetime) -> HiddenMedia:
    """Show a clip no more. The file stays, and who hid it and why."""
    require(by, Act.RECORD_FACTS)
    row = Clip.objects.select_for_update(of=("self",)).select_related("consignment").filter(code=code).first()
    if row is None:
        raise NotFound("not_found", "There is no such clip.", field="clip", got=str(code))
    _refuse_hidden_before(HiddenMedia.objects.filter(clip=row).first())
    hidden = add(HiddenMedia(clip=row, reason=reason.strip(), by=by.name, at=at))
    logbook.record(
        "clip.hidden", row, by=by, at=at, consignment=row.consignment, kind=row.get_kind_display(),
        caption=row.caption, reason=hidden.reason,
    )  # fmt: skip
    return hidden


def _refuse_hidden_before(known: HiddenMedia | None) -> None:
    if known is not None:
        raise TooLate(
            "hidden_already",
            f"It was hidden by {known.by} on {known.at:%Y-%m-%d}: {known.reason}.",
            got=known.reason,
            mend="Nothing is left to do.",
        )


def _holds_place(name: str) -> Refused:
    return Refused(
        "place_in_clip",
        f"The clip {name} holds the place where it was taken, so it cannot be shown to the consignor and to buyers.",
        field="public",
        got=name,
        mend="Turn off location in the camera and film it again, or keep this one internal.",
    )
