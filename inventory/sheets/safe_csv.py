"""The one way a CSV file is written: nothing in it runs when a spreadsheet program opens it."""

import csv
import re
from collections.abc import Iterable, Sequence
from datetime import date
from decimal import Decimal
from typing import TextIO

from inventory.sheets.cells import escape_formula

Value = str | int | Decimal | date | None

_NUMBER = re.compile(r"-?[0-9]{1,15}(?:\.[0-9]{1,6})?", re.ASCII)


def write_rows(out: TextIO, *, rows: Iterable[Sequence[Value]]) -> None:
    """Write rows with every cell made safe; amounts stay numbers, also those below zero."""
    csv.writer(out).writerows([safe_cell(cell) for cell in row] for row in rows)


def safe_cell(value: Value) -> str:
    """Text that could run gets an apostrophe in front. A number, also one written out as text, is no formula."""
    if value is None:
        return ""
    text = str(value)
    return text if not isinstance(value, str) or _NUMBER.fullmatch(text) else escape_formula(text)
