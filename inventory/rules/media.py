"""Photos and clips: their words, how large each may be, and how much one stay may hold."""

from dataclasses import dataclass
from datetime import timedelta

from django.db.models import TextChoices

from inventory.errors import Refused
from inventory.rules.catalogue import CHECKS, STATIONS

PHOTO_BYTES = 20 * 2**20
CLIP_BYTES = 300 * 2**20
STAY_BYTES = 3 * 2**30  # all originals and clips of one stay, and what is on its way
OPEN_UPLOADS = 40  # of one person at a time
DAY_BYTES = 20 * 2**30  # photos and clips of one person in 24 hours: the clips of some ten stays
DAY = timedelta(days=1)
PIECE_BYTES = 2 * 2**20
MOST_PIECES = 2000  # of one file: in a bucket each is an object that is written, read and deleted by itself
STALE_DAYS = 7


class UploadKind(TextChoices):
    PHOTO = "photo", "photo"
    CLIP = "clip", "clip"


class ClipKind(TextChoices):
    COLD_START = "cold_start", "cold start"
    WALK_ROUND = "walk_round", "walk-round"
    UNDERSIDE = "underside", "underside"
    OTHER = "other", "other"


@dataclass(frozen=True)
class Spot:
    """What a picture answers: a station, one of its checks, one of its shots. All empty: just a picture."""

    station: str = ""
    check_code: str = ""
    shot: str = ""


NO_SPOT = Spot()


def check_spot(spot: Spot) -> Spot:
    """Refuse a station or check that no walk has; a check or a shot alone says too little."""
    if spot.station and spot.station not in {station.code for station in STATIONS}:
        raise Refused("no_station", f"There is no station {spot.station}.", field="station", got=spot.station)
    if spot.check_code and spot.check_code not in CHECKS:
        raise Refused("no_check", f"There is no check {spot.check_code}.", field="check_code", got=spot.check_code)
    if (spot.shot or spot.check_code) and not spot.station:
        raise Refused(
            "station_missing",
            f"{spot.shot or spot.check_code} belongs to a station, and none was given.",
            field="station",
            got=spot.shot or spot.check_code,
            mend="Name the station.",
        )
    return spot


_MOST = {UploadKind.PHOTO: PHOTO_BYTES, UploadKind.CLIP: CLIP_BYTES}
_MEND = {
    UploadKind.PHOTO: "Send a smaller picture.",
    UploadKind.CLIP: "Film in parts, or at a lower resolution.",
}


def check_size(size: int, *, kind: str, name: str) -> None:
    """Refuse what is empty or too large for its kind."""
    most = _MOST[UploadKind(kind)]
    if size <= 0:
        raise Refused("empty_file", f"The file {name} is empty.", field="file", got=name, mend="Take it again.")
    if size > most:
        raise Refused(
            "too_large",
            f"The file {name} is {megabytes(size)}, which is larger than {megabytes(most)}.",
            field="file",
            got=name,
            mend=_MEND[UploadKind(kind)],
        )


def check_piece(size: int, *, rest: int, total: int, name: str) -> None:
    """Refuse a piece that is empty, too large, beyond the end, or so small that the file would fall into too many.

    `rest` is what has not come yet, in bytes. The last piece may be as small as it comes.
    """
    least = -(-total // MOST_PIECES)
    if not 0 < size <= PIECE_BYTES:
        raise _bad_piece(f"A piece has 1 to {PIECE_BYTES} bytes, this one {size}.", size=size, mend="smaller")
    if size > rest:
        raise Refused(
            "beyond_total",
            f"{name} was announced with {total} bytes; with this piece it would have {total - rest + size}.",
            field="body",
            got=total - rest + size,
            mend="Give this upload up and send the file again.",
        )
    if size < min(least, rest):
        raise _bad_piece(
            f"A piece of {name} has at least {least} bytes, but for the last; this one {size}.",
            size=size,
            mend="larger",
        )


def _bad_piece(message: str, *, size: int, mend: str) -> Refused:
    return Refused("bad_piece", message, field="body", got=size, mend=f"Cut the file into {mend} pieces.")


def check_room(held: int, *, more: int) -> None:
    """Refuse what one stay has no room for; `held` counts what is here and what is on its way, in bytes."""
    if held + more > STAY_BYTES:
        raise Refused(
            "no_room",
            f"The photos and clips of this vehicle take {megabytes(held)}; with {megabytes(more)} more they would pass "
            f"{megabytes(STAY_BYTES)}.",
            field="file",
            got=more,
            mend="Send shorter clips, or give up an upload that is still open.",
        )


def check_open_uploads(count: int) -> None:
    if count >= OPEN_UPLOADS:
        raise Refused(
            "too_many_uploads",
            f"You have {count} uploads open; {OPEN_UPLOADS} at a time are allowed.",
            got=count,
            mend="Let some of them finish first.",
        )


def check_day(sent: int, *, more: int) -> None:
    """Refuse what one person sends beyond a day's share; `sent` counts the last 24 hours, in bytes."""
    if sent + more > DAY_BYTES:
        raise Refused(
            "day_full",
            f"You have sent {megabytes(sent)} in 24 hours; {megabytes(DAY_BYTES)} are allowed.",
            field="file",
            got=more,
            mend="Send the rest tomorrow, or let a colleague send it.",
        )


def check_disk(free: int, *, more: int, least: int) -> None:
    """Refuse what would leave the disk too full to go on writing: the database and its log write on it too."""
    if free - more < least:
        raise Refused(
            "disk_full",
            f"The disk of this house has {megabytes(max(free, 0))} left: no files are taken.",
            field="file",
            got=more,
            mend="Tell whoever runs this house to make room.",
        )


def megabytes(size: int) -> str:
    """As people write it: 3 MB, 0.4 MB."""
    whole, rest = divmod(size * 10 // 2**20, 10)
    return f"{whole:,} MB" if whole >= 10 or not rest else f"{whole}.{rest} MB"
