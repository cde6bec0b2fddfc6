"""What the person who imports has answered about the file."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from inventory.errors import Refused
from inventory.rules.money import DecimalMark
from inventory.sheets.layouts import PAST_SALE_LAYOUT, Layout

DateOrder = Literal["mdy", "dmy"]


@dataclass(frozen=True, slots=True)
class Limits:
    """What a file may hold before it is refused; rows count the header."""

    rows: int = 100_001
    columns: int = 200
    file_bytes: int = 200 * 2**20
    unpacked_bytes: int = 300 * 2**20
    workbook_cells: int = 6_000_000
    """Rows × columns of one sheet: a reader keeps a slot for each, also for the empty ones."""
    workbook_characters: int = 100_000_000
    """Shared text is stored once in the file and once per cell in memory."""


@dataclass(frozen=True, slots=True)
class Options:
    """Answers to what a file leaves open.

    `columns` maps canonical names to headers, `ignore` lists headers that are to be left out.
    `two_digit_years` is the century of model years ('69 in 1900 is 1969), `two_digit_dates` that of
    dates; they are apart because one file may hold '69 as a model year and 3/14/21 as a sale.
    """

    columns: Mapping[str, str] = field(default_factory=dict)
    ignore: tuple[str, ...] = ()
    date_order: DateOrder | None = None
    two_digit_years: int | None = None
    two_digit_dates: int | None = None
    decimal_mark: DecimalMark = "."
    currency: str = "USD"
    sheet: str | None = None
    limits: Limits = Limits()
    source: str = ""
    """Where sales elsewhere were told, for rows that do not say."""
    layout: Layout = PAST_SALE_LAYOUT


def parse_century(text: str, *, field: str = "two_digit_years") -> int:
    """The century of two-digit years: "19xx" is 1900."""
    if not re.fullmatch(r"(?:18|19|20)xx", text.strip(), re.IGNORECASE):
        raise Refused(
            "sheet.century",
            f"“{text}” does not name a century.",
            field=field,
            got=text,
            mend="Write 19xx or 20xx.",
        )
    return int(text.strip()[:2]) * 100
