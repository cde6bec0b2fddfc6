"""Workbooks: read behind the guard, one sheet, cells with their types."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from python_calamine import (
    CalamineError,
    CalamineSheet,
    CalamineWorkbook,
    SheetMetadata,
    SheetTypeEnum,
    SheetVisibleEnum,
)

from inventory.errors import Refused
from inventory.sheets.cells import Broken, Cell, shown, text_of
from inventory.sheets.columns import match_columns
from inventory.sheets.guard import SheetScan, scan_workbook
from inventory.sheets.layouts import Layout
from inventory.sheets.options import Options

Records = Callable[[], Iterator[tuple[int, list[Cell]]]]


def workbook_records(path: Path, *, options: Options) -> tuple[Records, str, tuple[str, ...]]:
    """A function that runs through the rows, how the sheet is described, and the sheets left unread."""
    scans = scan_workbook(path, limits=options.limits)
    with _refusing_reader_faults(), path.open("rb") as file:
        book = CalamineWorkbook.from_filelike(file)
        name = _choose_sheet(book, scans=scans, options=options)
        sheet = book.get_sheet_by_name(name)
    others = tuple(other for other in _sheets_with_cells(book.sheets_metadata, scans=scans) if other != name)
    scan = scans[name]

    def records() -> Iterator[tuple[int, list[Cell]]]:
        return _records(sheet, scan=scan)

    return records, f"XLSX, sheet {shown(text_of(name))}", others


def _records(sheet: CalamineSheet, *, scan: SheetScan) -> Iterator[tuple[int, list[Cell]]]:
    if sheet.start is None:
        return
    before: list[Cell] = [None] * sheet.start[1]
    with _refusing_reader_faults():
        for number, row in enumerate(sheet.iter_rows(), start=1):
            cells: list[Cell] = [*before, *row]
            for column, cell in enumerate(cells if scan.has_broken else (), start=1):
                if cell == "" and (why := scan.broken_at(row=number, column=column)):
                    cells[column - 1] = Broken(why)
            yield number, cells


def _choose_sheet(book: CalamineWorkbook, *, scans: dict[str, SheetScan], options: Options) -> str:
    """The sheet asked for, the only one with cells, or the only one with the columns that are needed."""
    names = _sheets_with_cells(book.sheets_metadata, scans=scans)
    wanted = options.sheet
    if wanted is not None:
        if wanted not in names:
            raise _which_sheet(f"There is no sheet “{wanted}” with cells", names=names)
        return wanted
    if not names:
        raise Refused("sheet.empty", "The workbook is empty.", mend="Send a sheet with a header and rows.")
    if len(names) == 1:
        return names[0]
    fitting = [name for name in names if _has_needed_columns(book.get_sheet_by_name(name), layout=options.layout)]
    if len(fitting) != 1:
        raise _which_sheet("The workbook has several sheets", names=names)
    return fitting[0]


def _sheets_with_cells(sheets: list[SheetMetadata], *, scans: dict[str, SheetScan]) -> list[str]:
    return [
        sheet.name
        for sheet in sheets
        if sheet.typ == SheetTypeEnum.WorkSheet
        and sheet.visible == SheetVisibleEnum.Visible
        and sheet.name in scans
        and scans[sheet.name].columns
    ]


def _has_needed_columns(sheet: CalamineSheet, *, layout: Layout) -> bool:
    rows = (row for row in sheet.iter_rows() if any(cell != "" for cell in row)) if sheet.start else iter(())
    headers = [text_of(cell) for cell in next(rows, [])]
    found = match_columns(headers, chosen={}, layout=layout)
    return not set(layout.required) & set(found.missing)


@contextmanager
def _refusing_reader_faults() -> Iterator[None]:
    """The reader is compiled code: its faults, also its panics, are refusals of this one file."""
    try:
        yield
    except (CalamineError, OSError, ValueError, OverflowError) as fault:
        raise _unreadable() from fault
    except BaseException as fault:
        # A panic of compiled code has a class of its own that cannot be imported.
        if type(fault).__name__ != "PanicException":
            raise
        raise _unreadable() from fault


def _unreadable() -> Refused:
    return Refused(
        "sheet.damaged",
        "The workbook cannot be read: it is damaged or protected.",
        mend="Open it in a spreadsheet program and save it again as .xlsx or .csv.",
    )


def _which_sheet(what: str, *, names: list[str]) -> Refused:
    listed = ", ".join(shown(text_of(name)) for name in names) or "none"
    return Refused(
        "sheet.which_sheet",
        f"{what}: {listed}.",
        field="sheet",
        got=names,
        mend="Give --sheet with the name of one.",
    )
