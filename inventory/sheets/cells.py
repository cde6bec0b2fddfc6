"""What one cell of a spreadsheet may hold, and how it reads as text."""

import re
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from inventory.errors import Refused


@dataclass(frozen=True, slots=True)
class Broken:
    """A workbook cell without a usable value: an error such as #N/A, or a formula never calculated."""

    why: str


Cell = str | int | float | bool | date | datetime | time | timedelta | Broken | None

MISSING = frozenset({"", "-", "--", "—", "–", "?", "??", "n/a", "na", "#n/a", "none", "null", "nan", "nil"}) | {
    "unknown",
    "not known",
    "tbd",
    "n.a.",
    "unk",
}
"""Usual ways to write that nothing is known."""

LONGEST_SHOWN = 60
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")
"""A cell that begins so is run as a formula by spreadsheet programs, some of which read = + - @ of full width too."""

_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")
_EXPONENT = re.compile(r"\d(?:[.,]\d+)?E\+?\d+", re.IGNORECASE)
_INTEGRAL_FLOATS = 1e15
"""Above this a float no longer holds every whole number: digits were lost before we saw them."""


def escape_formula(text: str) -> str:
    """The text with an apostrophe before what a spreadsheet program would run."""
    return f"'{text}" if text.startswith(FORMULA_STARTS) else text


def strip_escape(text: str) -> str:
    """Take back exactly what `escape_formula` added; any other apostrophe stays."""
    return text[1:] if text[:1] == "'" and text[1:].startswith(FORMULA_STARTS) else text


def text_of(cell: Cell) -> str:
    """The cell as a person reads it; whitespace and line breaks become single spaces."""
    if isinstance(cell, str):
        return " ".join(cell.split())
    return raw_text(cell)


def raw_text(cell: Cell) -> str:
    """The cell as it goes into a rejects file: text as it stands, typed values in their plainest form."""
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "TRUE" if cell else "FALSE"
    if isinstance(cell, float):
        return str(int(cell)) if cell.is_integer() and abs(cell) < _INTEGRAL_FLOATS else repr(cell)
    if isinstance(cell, datetime):
        return cell.date().isoformat() if cell.time() == time() else cell.isoformat(sep=" ")
    return cell.why if isinstance(cell, Broken) else str(cell)


def kind_of(cell: Cell) -> str:
    """What a typed cell is, in words."""
    if isinstance(cell, bool):
        return "a yes-or-no value"
    if isinstance(cell, int | float):
        return "a number"
    if isinstance(cell, date):
        return "a date"
    return "a time" if isinstance(cell, time | timedelta) else "text"


def known_text(cell: Cell) -> str:
    """The tidied text, or an empty string where the cell says that nothing is known."""
    text = text_of(cell)
    return "" if text.casefold() in MISSING else text


def shown(text: str) -> str:
    """The text in typographic quotes, cut where it is long."""
    return f"“{text if len(text) <= LONGEST_SHOWN else text[:LONGEST_SHOWN] + '…'}”"


def has_control_characters(text: str) -> bool:
    return _CONTROL.search(text) is not None


def refuse_broken(cell: Cell, *, field: str) -> None:
    """Refuse a cell without a usable value: it is not the same as an empty one."""
    if isinstance(cell, Broken):
        raise Refused(
            "sheet.broken_cell",
            f"{shown(cell.why)} is no value.",
            field=field,
            got=cell.why,
            mend="Enter the value itself, or empty the cell.",
        )


def refuse_not_text(cell: Cell, *, field: str) -> None:
    """Refuse what a spreadsheet program made of a text: 9-3 becomes a day in September."""
    if isinstance(cell, bool | date | time | timedelta):
        text = text_of(cell)
        raise Refused(
            "sheet.not_text_cell",
            f"{shown(text)} is {kind_of(cell)}, not text.",
            field=field,
            got=text,
            mend="Format the column as text and enter it again.",
        )


def refuse_mangled(cell: Cell, *, field: str) -> None:
    """Refuse a number of many digits that a spreadsheet program has shortened: its end is lost."""
    too_long = isinstance(cell, float | int) and not isinstance(cell, bool) and abs(cell) >= _INTEGRAL_FLOATS
    if too_long or (isinstance(cell, str) and _EXPONENT.fullmatch(cell.strip())):
        text = text_of(cell)
        raise Refused(
            "sheet.mangled",
            f"{shown(text)} is a long number that a spreadsheet program has shortened.",
            field=field,
            got=text,
            mend="Format the column as text and enter the number again.",
        )
