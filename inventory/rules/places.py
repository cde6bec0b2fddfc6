"""Where vehicles stand: the order of places on the sheet, and what a move may say."""

import re
from datetime import date

from inventory.errors import Refused
from inventory.rules.floor_words import PlaceKind

AWAY = frozenset({PlaceKind.EVENT, PlaceKind.HOME, PlaceKind.ROAD})
"""Places where the lot's own people cannot look after a vehicle."""

_KINDS = [kind.value for kind in PlaceKind]
Order = tuple[int, int, list[tuple[int, str]]]


def sheet_order(name: str, *, kind: str = "", order: int = 0) -> Order:
    """Bays first, in their order; a place that was only typed after all that were set up; none at all last."""
    rank = _KINDS.index(kind) if kind in _KINDS else len(_KINDS) + (not name)
    return rank, order, _natural(name)


def _natural(name: str) -> list[tuple[int, str]]:
    """Bay 2 before bay 10."""
    parts = re.findall(r"[0-9]+|[^0-9]+", name.casefold())
    return [(int(part), "") if part.isdecimal() else (-1, part) for part in parts]


def is_away(kind: str) -> bool:
    return kind in AWAY


def is_overdue(expected_back_on: date | None, *, today: date) -> bool:
    """Late from the day after it was expected."""
    return expected_back_on is not None and expected_back_on < today


def check_expected_back(day: date, *, today: date) -> date:
    if day < today:
        raise Refused(
            "date_past", f"{day} is over; today is {today}.", field="expected_back_on", got=day,
            mend="Give the day it is expected back, or leave it empty.",
        )  # fmt: skip
    return day
