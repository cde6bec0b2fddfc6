"""What must hold before a vehicle goes out on a test drive, and the words for it. Common practice, no source."""

import hashlib
from collections.abc import Sequence
from datetime import date, datetime, timedelta

from inventory.errors import Refused

LONG_AFTER = timedelta(hours=2)  # common practice, no source
CAUTION = (
    "Look at the driving licence itself, and see that lot and driver are insured for this drive. Who may drive, with "
    "which plate, and what may be kept of a licence differ by place: check local law."
)
REVIEW = "Have a lawyer review the text that is signed: what it can settle differs by place."
DEFAULT_TEXT = (
    "I drive this vehicle today at the lot's leave and come straight back with it. I hold a driving licence that is "
    "valid here, I am fit to drive, and nobody else drives. I know that it is an old or altered vehicle: it may stop, "
    "steer and hold the road unlike a new one, and may lack belts, air bags and other protection. I keep to the law "
    "and to what the lot's staff tell me. I pay fines of this drive, and damage that I cause through my own fault as "
    "far as no insurance pays it. Nothing here takes away rights that the law gives me."
)
"""Signed where the lot has no text of its own."""


def drive_text(own: str) -> str:
    """What a driver signs: the lot's own text, else the house's."""
    return own.strip() or DEFAULT_TEXT


def text_mark(text: str) -> str:
    """A short mark of the text that the driver was shown."""
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def check_text_seen(mark: str, *, text: str) -> None:
    """The text that is kept is the one that was read."""
    if mark != text_mark(text):
        raise Refused(
            "text_changed", "The text to sign has changed since this page was opened.", field="text_seen", got=mark,
            mend="Let the driver read it as it stands now, and sign again.",
        )  # fmt: skip


def check_no_flags(flags: Sequence[tuple[str, str, str]]) -> None:
    """Each as where it is, what is wrong and the section it rests on."""
    if not flags:
        return
    told = "; ".join(_flag(where, message=message, section=section) for where, message, section in flags)
    raise Refused(
        "drives_stopped", f"Nobody drives it: open safety flags on brakes, steering or tyres. {told}",
        field="flags", got=len(flags), mend="Only the owner clears a flag, with a reason, once it is put right.",
    )  # fmt: skip


def _flag(where: str, *, message: str, section: str) -> str:
    return f"{where}: {message}" if not section or section in message else f"{where}: {message} ({section})"


def check_allowed(allowed: bool, *, stock_number: str) -> None:
    if not allowed:
        raise Refused(
            "drives_not_allowed", f"The terms of {stock_number} do not allow test drives.", field="terms",
            mend="Ask the consignor to agree to new terms that allow them.",
        )  # fmt: skip


def check_licence(issued: str, *, valid_until: date | None, today: date) -> None:
    """The licence was looked at and is valid today."""
    if not issued.strip() or valid_until is None:
        raise Refused(
            "licence_not_seen", "Where the licence was issued and until when it is valid is not said.",
            field="licence_valid_until" if issued.strip() else "licence_from",
            mend="Look at the driving licence itself. Its number is not kept.",
        )  # fmt: skip
    if valid_until < today:
        raise Refused(
            "licence_expired", f"The licence was valid until {valid_until}; today is {today}.",
            field="licence_valid_until", got=valid_until, mend="Nobody drives on it. Somebody with a valid one may.",
        )  # fmt: skip


def check_copy_kept(keeps_copies: bool) -> None:
    if not keeps_copies:
        raise Refused(
            "no_licence_copies", "This lot keeps no copies of driving licences.", field="licence_copy",
            mend="Leave the picture out, or let the owner allow copies in the settings of the lot.",
        )  # fmt: skip


def check_back(odometer: int, *, out: int) -> None:
    if odometer < out:
        raise Refused(
            "odometer_less", f"It went out at {out:,} and came back at {odometer:,}: that is less.",
            field="odometer_back", got=odometer, mend="Read the odometer again.",
        )  # fmt: skip


def is_long(out_at: datetime, *, now: datetime) -> bool:
    """Whether it has been out so long that somebody should ask after it."""
    return now - out_at > LONG_AFTER


def out_for(out_at: datetime, *, until: datetime) -> str:
    """How long a drive took, or has taken so far: 40 min, 2 h 05 min."""
    minutes = max(int((until - out_at).total_seconds()) // 60, 0)
    return f"{minutes} min" if minutes < 60 else f"{minutes // 60} h {minutes % 60:02d} min"
