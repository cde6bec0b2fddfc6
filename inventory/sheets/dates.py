"""Dates as people write them. The order of day and month is shown by the file or told, never guessed."""

import re
from datetime import date, datetime
from functools import lru_cache
from typing import Literal

from inventory.errors import Refused
from inventory.sheets.cells import Cell, kind_of, known_text, shown
from inventory.sheets.options import DateOrder

OrderShown = Literal["mdy", "dmy", "either"]

_CLOCK = r"(?:[T ]\d{1,2}:\d{2}(?::\d{2}(?:\.\d+)?)?(?: ?[AP]M)?(?: ?Z|[+-]\d{2}:?\d{2})?)?"
_YEAR_FIRST = re.compile(rf"(\d{{4}})([-/.])(\d{{1,2}})\2(\d{{1,2}}){_CLOCK}", re.IGNORECASE | re.ASCII)
_YEAR_LAST = re.compile(rf"(\d{{1,2}})([-/.])(\d{{1,2}})\2(\d{{4}}|\d{{2}}){_CLOCK}", re.IGNORECASE | re.ASCII)
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_FULL_MONTHS = (
    *("january", "february", "march", "april", "may", "june"),
    *("july", "august", "september", "october", "november", "december"),
)
_MONTH_NUMBER = {name: number for names in (_MONTHS, _FULL_MONTHS) for number, name in enumerate(names, 1)}
_MONTH_NUMBER["sept"] = 9
_WEEKDAY = r"(?:(?:mon|tues?|wed(?:nes)?|thu(?:rs?)?|fri|sat(?:ur)?|sun)(?:day)?\.?,? )?"
_PART = r"(?:, ?|[ -]|\. ?)"
_MONTH_FIRST = re.compile(
    rf"{_WEEKDAY}([a-z]+){_PART}(\d{{1,2}})(?:st|nd|rd|th)?{_PART}'?(\d{{4}}|\d{{2}}){_CLOCK}", re.I
)
_DAY_FIRST = re.compile(
    rf"{_WEEKDAY}(\d{{1,2}})(?:st|nd|rd|th)?{_PART}([a-z]+){_PART}'?(\d{{4}}|\d{{2}}){_CLOCK}", re.I
)
_NO_DAY = re.compile(rf"([a-z]+){_PART}'?(\d{{4}}|\d{{2}})|(\d{{4}}|\d{{1,2}})[-/.](\d{{4}}|\d{{1,2}})|\d{{4}}", re.I)

_FORMS = "Write it as 2021-03-14 or March 14, 2021."


def read_date(cell: Cell, *, field: str, order: DateOrder | None, century: int | None) -> date | None:
    """The date in a cell, or None where it is blank. `century` reads two-digit years (2000: 21 is 2021)."""
    if isinstance(cell, datetime):
        return cell.date()
    if isinstance(cell, date):
        return cell
    text = known_text(cell)
    if not text:
        return None
    if not isinstance(cell, str):
        raise _not_a_date(text, field=field, why=f"is {kind_of(cell)}, not a date", mend="Format the cell as a date.")
    return _parse(text, field=field, order=order, century=century)


def order_shown(text: str) -> OrderShown | None:
    """What a date in figures says about the order of day and month.

    "either" where both readings are dates and differ; None where the text is no such date or both
    readings are the same day. Only a reading that exists in the calendar proves anything.
    """
    typed = _YEAR_LAST.fullmatch(text)
    if typed is None:
        return None
    first, second, year = int(typed[1]), int(typed[3]), int(typed[4])
    # A leap year stands in for two-digit years, whose century is not known here.
    year = year if len(typed[4]) == 4 else 2000
    mdy, dmy = _exists(year, month=first, day=second), _exists(year, month=second, day=first)
    if mdy and dmy:
        return None if first == second else "either"
    return "mdy" if mdy else "dmy" if dmy else None


def has_two_digit_year(text: str) -> bool:
    """Whether the text is a date whose year has two figures."""
    typed = _YEAR_LAST.fullmatch(text)
    if typed is not None:
        return len(typed[4]) == 2
    spelled = _MONTH_FIRST.fullmatch(text) or _DAY_FIRST.fullmatch(text)
    return spelled is not None and len(spelled[3]) == 2


@lru_cache(maxsize=20_000)
def _parse(text: str, *, field: str, order: DateOrder | None, century: int | None) -> date:
    if typed := _YEAR_FIRST.fullmatch(text):
        return _day(text, field=field, year=int(typed[1]), month=int(typed[3]), day=int(typed[4]))
    if typed := _YEAR_LAST.fullmatch(text):
        year = _full_year(typed[4], text=text, field=field, century=century)
        return _ordered(text, field=field, order=order, year=year, first=int(typed[1]), second=int(typed[3]))
    if typed := _MONTH_FIRST.fullmatch(text):
        return _spelled(text, field=field, month=typed[1], day=typed[2], year=typed[3], century=century)
    if typed := _DAY_FIRST.fullmatch(text):
        return _spelled(text, field=field, month=typed[2], day=typed[1], year=typed[3], century=century)
    if _NO_DAY.fullmatch(text):
        raise _not_a_date(text, field=field, why="has no day", mend="Give the full date, such as 2021-03-14.")
    raise _not_a_date(text, field=field)


def _ordered(text: str, *, field: str, order: DateOrder | None, year: int, first: int, second: int) -> date:
    if first == second:
        return _day(text, field=field, year=year, month=first, day=first)
    if order is None:
        raise Refused(
            "sheet.date_order",
            f"{shown(text)}: the order of day and month is not known.",
            field=field,
            got=text,
            mend="Give --date-order mdy or --date-order dmy, or write the date as 2021-03-14.",
        )
    month, day = (first, second) if order == "mdy" else (second, first)
    if not _exists(year, month=month, day=day) and _exists(year, month=day, day=month):
        named = "month/day/year" if order == "mdy" else "day/month/year"
        raise _not_a_date(text, field=field, why=f"is no date in this column's order, {named}")
    return _day(text, field=field, year=year, month=month, day=day)


def _spelled(text: str, *, field: str, month: str, day: str, year: str, century: int | None) -> date:
    number = _MONTH_NUMBER.get(month.casefold())
    if number is None:
        raise _not_a_date(text, field=field, why="names no month")
    full = _full_year(year, text=text, field=field, century=century)
    return _day(text, field=field, year=full, month=number, day=int(day))


def _full_year(year: str, *, text: str, field: str, century: int | None) -> int:
    if len(year) == 4:
        return int(year)
    if century is None:
        raise Refused(
            "sheet.two_digit_date",
            f"{shown(text)} has a year of two figures.",
            field=field,
            got=text,
            mend="Give --two-digit-dates 20xx, or write the year in full.",
        )
    return century + int(year)


def _day(text: str, *, field: str, year: int, month: int, day: int) -> date:
    if not _exists(year, month=month, day=day):
        raise _not_a_date(text, field=field, why="is not in the calendar")
    return date(year, month, day)


def _exists(year: int, *, month: int, day: int) -> bool:
    try:
        date(year, month, day)
    except ValueError:
        return False
    return True


def _not_a_date(text: str, *, field: str, why: str = "is not a date", mend: str = _FORMS) -> Refused:
    return Refused("sheet.not_a_date", f"{shown(text)} {why}.", field=field, got=text, mend=mend)
