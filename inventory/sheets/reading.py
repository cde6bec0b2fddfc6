"""Opens a file of past sales as a table of cells, by what it holds and not only by its name."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import islice
from pathlib import Path, PurePath

from inventory.errors import Refused
from inventory.sheets.cells import Cell, strip_escape, text_of
from inventory.sheets.delimited import describe_text, text_records
from inventory.sheets.options import Limits, Options
from inventory.sheets.workbook import workbook_records

_SIGNATURES = {
    b"\x89PNG": "a PNG picture",
    b"\xff\xd8\xff": "a JPEG picture",
    b"GIF8": "a GIF picture",
    b"%PDF": "a PDF",
    b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1": "an old .xls workbook or a protected one",
    b"\x1f\x8b": "a packed archive",
    b"7z\xbc\xaf": "a packed archive",
    b"Rar!": "a packed archive",
    b"\x7fELF": "a program",
    b"MZ\x90": "a program",
    b"SQLite format 3": "a database",
}
_ZIP = b"PK\x03\x04"
_TEXT_ENDINGS = frozenset({".csv", ".txt", ".tsv"})
_WORKBOOK_ENDING = ".xlsx"
_SAMPLE = 64 * 1024
_MOST_BLANK_ROWS_AT_TOP = 20

Record = tuple[int, list[Cell]]
"""The row's number as a spreadsheet program shows it, and its cells."""


@dataclass(frozen=True, slots=True)
class Table:
    """A file with its header found; `records` can be run again from the top."""

    headers: tuple[str, ...]
    header_row: int
    described: str
    open_records: Callable[[], Iterator[Record]]
    limits: Limits
    other_sheets: tuple[str, ...] = ()

    def records(self) -> Iterator[Record]:
        """The rows below the header that are not blank."""
        for number, cells in self.open_records():
            if number > self.limits.rows:
                raise Refused(
                    "sheet.too_many_rows",
                    f"The file has more than {self.limits.rows - 1:,} rows.",
                    got=number,
                    mend="Send it in parts.",
                )
            if number > self.header_row and any(map(text_of, cells)):
                yield number, cells


def open_table(path: Path, *, name: str, options: Options) -> Table:
    """Open a CSV or XLSX file. `name` is what the file is called by its owner; raises Refused."""
    start = _start_of(path, limits=options.limits)
    kind = _kind(start, ending=PurePath(name).suffix.lower())
    other_sheets: tuple[str, ...] = ()
    if kind == "workbook":
        open_records, described, other_sheets = workbook_records(path, options=options)
    else:
        text = describe_text(path, sample_bytes=_SAMPLE)
        described = text.described

        def open_records() -> Iterator[Record]:
            return text_records(path, text=text)

    header_row, headers = _header(open_records(), limits=options.limits)
    return Table(headers, header_row, described, open_records, options.limits, other_sheets)


def _start_of(path: Path, *, limits: Limits) -> bytes:
    try:
        size = path.stat().st_size
        with path.open("rb") as file:
            start = file.read(_SAMPLE)
    except (OSError, ValueError) as fault:
        raise Refused("sheet.not_there", f"{path} cannot be opened.", got=str(path), mend="Check the path.") from fault
    if size > limits.file_bytes:
        raise Refused("sheet.too_large", f"The file has {size:,} bytes.", got=size, mend="Send it in parts.")
    if not start.strip(b"\xef\xbb\xbf \t\r\n"):
        raise Refused("sheet.empty", "The file is empty.", mend="Send a file with a header and rows.")
    return start


def _kind(start: bytes, *, ending: str) -> str:
    what = next((kind for signature, kind in _SIGNATURES.items() if start.startswith(signature)), None)
    if what is not None:
        raise _wrong_content(f"The file is {what}", mend="Save the table as .xlsx or .csv.")
    if start.startswith(_ZIP):
        if ending in _TEXT_ENDINGS:
            raise _wrong_content(
                f"The file is called {ending} but is a packed file",
                mend="If it is a workbook, call it .xlsx.",
            )
        return "workbook"
    if ending == _WORKBOOK_ENDING:
        raise _wrong_content("The file is called .xlsx but is no Excel workbook", mend="If it is text, call it .csv.")
    return "text"


def _header(records: Iterator[Record], *, limits: Limits) -> tuple[int, tuple[str, ...]]:
    for number, cells in islice(records, _MOST_BLANK_ROWS_AT_TOP):
        texts = [strip_escape(text_of(cell)) for cell in cells]
        while texts and not texts[-1]:
            texts.pop()
        if len(texts) > limits.columns:
            raise Refused(
                "sheet.too_many_columns",
                f"The header has {len(texts):,} columns; at most {limits.columns} are read.",
                got=len(texts),
                mend="Delete the columns that are not needed.",
            )
        if texts:
            return number, tuple(texts)
    raise Refused("sheet.no_header", "The file has no header.", mend="Put the column names into the first row.")


def _wrong_content(what: str, *, mend: str) -> Refused:
    return Refused("sheet.wrong_content", f"{what}.", mend=mend)
