"""Texts of a sheet, and what only the sheet of current stock holds: addresses, phone numbers, rates."""

import re
from decimal import Decimal

from inventory.errors import Refused
from inventory.sheets.cells import Cell, known_text, refuse_mangled, refuse_not_text, shown, text_of

LONGEST_PHONE = 40
_MAIL = re.compile(r"[^@\s,;<>]+@[^@\s,;<>]+\.[^@\s,;<>.]+")
_RATE = re.compile(r"(\d{1,3}(?:\.\d{1,3})?) ?%?", re.ASCII)
_LONGEST_MAIL = 254  # RFC 5321, 4.5.3.1.3, less the angle brackets


def read_text(cell: Cell, *, field: str, longest: int) -> str | None:
    refuse_not_text(cell, field=field)
    text = known_text(cell)
    if len(text) > longest:
        raise Refused(
            "sheet.too_long",
            f"{shown(text)} has {len(text)} characters.",
            field=field,
            got=text,
            mend=f"Enter text of at most {longest} characters.",
        )
    return text or None


def read_mail(cell: Cell, *, field: str) -> str | None:
    """One e-mail address."""
    text = read_text(cell, field=field, longest=_LONGEST_MAIL)
    if text is not None and not _MAIL.fullmatch(text):
        raise Refused(
            "sheet.not_an_address", f"{shown(text)} is not one e-mail address.", field=field, got=text,
            mend="Give one address, such as ada@example.org, or leave the cell empty.",
        )  # fmt: skip
    return text


def read_phone(cell: Cell, *, field: str) -> str | None:
    """A phone number as written; a typed number is taken by its digits."""
    refuse_mangled(cell, field=field)
    return read_text(cell, field=field, longest=LONGEST_PHONE)


def read_rate(cell: Cell, *, field: str) -> Decimal | None:
    """A rate in percent, from 1 to 100: 0.1 could be a tenth of the price or of a percent."""
    text = known_text(cell)
    if not text:
        return None
    typed = None if isinstance(cell, bool) else _RATE.fullmatch(text)
    rate = Decimal(typed[1]) if typed else Decimal(-1)
    if not (rate == 0 or 1 <= rate <= 100):
        raise Refused(
            "sheet.not_a_rate", f"{shown(text_of(cell))} is not a rate in percent.", field=field, got=text,
            mend="Write ten percent as 10 or 10%.",
        )  # fmt: skip
    return rate
