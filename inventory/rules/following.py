"""When an inquiry is to be followed up, and how that is said."""

from datetime import date

from inventory.errors import Refused


def check_follow_up(day: date | None, *, asked_on: date, today: date) -> None:
    """A day to follow up on is that of the inquiry or later."""
    if day is None:
        return
    if day < asked_on:
        raise Refused(
            "follow_up_before", f"{day} is before the inquiry of {asked_on}.", field="follow_up_on", got=day,
            mend=f"Give a date from {max(asked_on, today)} on.",
        )  # fmt: skip


def check_next(day: date | None, *, today: date) -> None:
    if day is not None and day <= today:
        raise Refused(
            "next_not_later", f"{day} is not after today, {today}.", field="next_on", got=day,
            mend="Give a later day, or leave it empty: then it is done.",
        )  # fmt: skip


def check_reachable(who: str, *, phone: str, email: str) -> None:
    """A phone number or an address belongs to somebody with a name."""
    if (phone.strip() or email.strip()) and not who.strip():
        raise Refused(
            "name_missing", f"{phone.strip() or email.strip()} comes without a name.", field="who",
            mend="Give the name, or leave phone and e-mail out.",
        )  # fmt: skip


def due_told(due_on: date, *, today: date) -> str:
    """How a day to follow up lies to today."""
    days = (due_on - today).days
    if days == 0:
        return "today"
    count = f"{abs(days)} day{'' if abs(days) == 1 else 's'}"
    return f"in {count}" if days > 0 else f"{count} overdue"


def waiting_told(count: int) -> str:
    return f"{count} inquir{'y' if count == 1 else 'ies'} to follow up today"
