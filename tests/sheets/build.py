"""Small files for the tests, written to a folder of their own."""

from collections.abc import Iterable, Mapping
from datetime import date
from pathlib import Path

import openpyxl

from inventory.sheets import Options, Outcome, Reject, Row, SalesFile, read_sales

TODAY = date(2026, 6, 1)
GOOD = {"year": "1962", "make": "Corvane", "model": "Meridian", "ended_on": "2020-06-15", "price": "21500"}


def write_text(folder: Path, *, text: str | bytes, name: str = "sales.csv") -> Path:
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def write_workbook(folder: Path, *, rows: Iterable[Iterable[object]], name: str = "sales.xlsx") -> Path:
    book = openpyxl.Workbook()
    sheet = book.active
    for row in rows:
        sheet.append(list(row))
    path = folder / name
    book.save(path)
    return path


def open_sales(path: Path, **options: object) -> SalesFile:
    return read_sales(path, name=path.name, options=Options(**options), today=TODAY)  # type: ignore[arg-type]


def outcomes(path: Path, **options: object) -> list[Outcome]:
    return list(open_sales(path, **options))


def outcome_of(folder: Path, *, cells: Mapping[str, str], **options: object) -> Outcome:
    """The outcome of one otherwise good row with these cells."""
    row = {**GOOD, **cells}
    quoted = [",".join('"{}"'.format(cell.replace('"', '""')) for cell in line) for line in (row, row.values())]
    (found,) = outcomes(write_text(folder, text="\n".join(quoted)), **options)
    return found


def good(outcome: Outcome) -> Row:
    assert isinstance(outcome, Row), outcome
    return outcome


def bad(outcome: Outcome) -> Reject:
    assert isinstance(outcome, Reject), outcome
    return outcome
