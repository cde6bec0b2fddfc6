"""The file of rejected rows: as they came, plus the reason, so that it can be mended and sent again."""

from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any, TextIO

from inventory.sheets.cells import Cell, raw_text, strip_escape, text_of
from inventory.sheets.columns import REJECT_REASON
from inventory.sheets.dates import has_two_digit_year, order_shown, read_date
from inventory.sheets.options import DateOrder
from inventory.sheets.rows import Reject, SheetFile
from inventory.sheets.safe_csv import write_rows


def save_rejects(path: Path, *, rejects: Iterable[Reject], source: SheetFile[Any]) -> int:
    """Write the rejects of a file beside a reason column; the number of rows written."""
    # The mark at the start lets spreadsheet programs read the file as UTF-8.
    with path.open("w", encoding="utf-8-sig", newline="") as file:
        return write_rejects(file, rejects=rejects, source=source)


def write_rejects(out: TextIO, *, rejects: Iterable[Reject], source: SheetFile[Any]) -> int:
    """Write header and rows as CSV with commas.

    Cells that a spreadsheet program would run as a formula get an apostrophe in front, which the reader
    takes off again. A date whose order only other rows of the file prove is written in ISO form: these
    rows travel without their proof.
    """
    width = len(source.headers)
    kept = [place for place in range(width) if source.headers[place].casefold() != REJECT_REASON]
    orders = {source.matching.columns[column]: order for column, order in source.survey.orders(source.options).items()}
    written = 0

    def rows() -> Iterator[list[str]]:
        nonlocal written
        yield [*(source.headers[place] for place in kept), REJECT_REASON]
        for reject in rejects:
            cells = [_written(_at(reject.cells, place=place), order=orders.get(place)) for place in kept]
            extra = [raw_text(cell) for cell in reject.cells[width:]] if any(map(text_of, reject.cells[width:])) else []
            yield [*cells, *extra, reject.reason]
            written += 1

    write_rows(out, rows=rows())
    return written


def _at(cells: tuple[Cell, ...], *, place: int) -> Cell:
    return cells[place] if place < len(cells) else None


def _written(cell: Cell, *, order: DateOrder | None) -> str:
    if order is not None and isinstance(cell, str):
        text = text_of(strip_escape(cell))
        if order_shown(text) == "either" and not has_two_digit_year(text):
            day = read_date(text, field="", order=order, century=None)
            return "" if day is None else day.isoformat()
    return strip_escape(raw_text(cell))
