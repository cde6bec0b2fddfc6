"""What an arrival receipt says, and what it must say before anybody signs it."""

from collections.abc import Sequence
from typing import Any

from inventory.errors import Refused
from inventory.rules.words import OdometerStatus

CAUTION = "Received for inspection and possible sale; not a sale. Check local law."
MOST_LINES = 100
MOST_KEYS = 50

# The reading is what the lot saw; the status is what somebody says of it. Neither may sound like the other.
_STATUS_TOLD: dict[str, str] = {
    OdometerStatus.ACTUAL: "stated to be the actual mileage; the lot has not verified it",
    OdometerStatus.OVER_LIMIT: "stated to be over the mechanical limit: the true mileage is more than it shows",
    OdometerStatus.NOT_ACTUAL: "stated not to be the actual mileage: do not rely on it",
    OdometerStatus.NOT_STATED: "status not stated",
}


def odometer_told(mileage: int | None, *, reason: str, status: str) -> str:
    """The reading with its status in one sentence that claims no more than was seen and said."""
    if mileage is None:
        return f"No odometer reading, because: {reason.strip()}; {_STATUS_TOLD[status]}"
    return f"Odometer shows {mileage:,} miles; {_STATUS_TOLD[status]}"


def check_reading(mileage: int | None, *, reason: str) -> None:
    """Either a reading or why there is none: never both, never neither."""
    if mileage is None and not reason.strip():
        raise Refused(
            "no_reading",
            "The receipt has no odometer reading.",
            field="mileage",
            mend="Give the miles it shows, or say below why there is no reading.",
        )
    if mileage is not None and reason.strip():
        raise Refused(
            "reading_and_reason",
            f"The receipt gives a reading of {mileage:,} miles and also says why there is none.",
            field="no_reading_reason",
            got=reason,
            mend="Keep one of the two.",
        )


def odometer_question(mileage: int | None, *, status: str, on_file: int | None, status_on_file: str) -> str:
    """What to ask when the receipt is about to say something else than the file; empty when they agree."""
    if mileage is None or (mileage == on_file and status == status_on_file):
        return ""
    kept = "no reading" if on_file is None else f"{on_file:,} miles"
    return (
        f"The file says {kept}, {OdometerStatus(status_on_file).label}; "
        f"here it is {mileage:,} miles, {OdometerStatus(status).label}."
    )


def check_lines(lines: Sequence[Any], *, field: str) -> None:
    if len(lines) > MOST_LINES:
        raise Refused(
            "too_many_lines",
            f"The receipt has {len(lines)} lines here; it holds {MOST_LINES}.",
            field=field,
            got=len(lines),
            mend="Put several things into one line.",
        )
