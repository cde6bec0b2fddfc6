"""Vehicle and stock numbers as a spreadsheet holds them."""

import re
from collections.abc import Iterator

from inventory.errors import Refused
from inventory.rules import identity
from inventory.rules.identity import Severity
from inventory.sheets.cells import Cell, known_text, refuse_mangled, refuse_not_text, shown

LONGEST_SERIAL = 30
LONGEST_STOCK_NUMBER = 40

_SERIAL = re.compile(r"[0-9A-Z*./#]+", re.ASCII)
_NO_VIN = re.compile(r"[^0-9A-HJ-NPR-Z]", re.ASCII)


def read_vin(cell: Cell, *, field: str) -> str | None:
    """The number in capitals without spaces and hyphens; 17 characters must be of the VIN's alphabet."""
    refuse_not_text(cell, field=field)
    refuse_mangled(cell, field=field)
    text = known_text(cell)
    number = identity.normalise(text)
    if not number:
        return None
    if _SERIAL.fullmatch(number) is None or len(number) > LONGEST_SERIAL:
        raise _bad(text, field=field, why="is not a serial number", mend="Check it, or leave the cell empty.")
    if len(number) == identity.VIN_LENGTH and (foreign := sorted(set(_NO_VIN.findall(number)))):
        mend = f"Check it on the plate: perhaps {identity.suggest(number)}."
        raise _bad(text, field=field, why=f"holds {' '.join(foreign)}, which stands in no VIN", mend=mend)
    return number


def vin_remarks(vin: str | None, *, year: int) -> Iterator[str]:
    """What is odd about the number, such as a wrong check digit: imported, and worth a look."""
    if vin is None:
        return
    for finding in identity.assess(vin, year=year).of(Severity.WARNING):
        yield f"{finding.message} {finding.mend}"


def read_stock_number(cell: Cell, *, field: str) -> str | None:
    refuse_not_text(cell, field=field)
    refuse_mangled(cell, field=field)
    text = known_text(cell)
    if len(text) > LONGEST_STOCK_NUMBER:
        raise _bad(text, field=field, why="is too long", mend=f"Use at most {LONGEST_STOCK_NUMBER} characters.")
    return text or None


def _bad(text: str, *, field: str, why: str, mend: str) -> Refused:
    return Refused("sheet.bad_number", f"{shown(text)} {why}.", field=field, got=text, mend=mend)
