"""Looks through a workbook before any reader opens it.

A few kilobytes can name a cell in the last row and column, or one long text a million times: a reader
that keeps a slot for every cell then takes all memory and ends the process without an exception. The
parts are parsed here one element at a time, with bounded memory, by the same rules of position.
"""

import re
import struct
import zipfile
import zlib
from array import array
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO
from xml.parsers import expat

from inventory.errors import Refused
from inventory.sheets.cells import shown, text_of
from inventory.sheets.options import Limits

_BLOCK = 2**18
_SHARED_STRINGS = "sharedstrings.xml"
_WORKBOOK = "xl/workbook.xml"
_RELATIONS = "xl/_rels/workbook.xml.rels"
_POSITION = re.compile(r"([A-Za-z]*)([0-9]*)", re.ASCII)
_MOST_MEMBERS = 2_000


class SheetScan:
    """What one worksheet part holds: its extent, and the cells that a reader would show as blank."""

    def __init__(self) -> None:
        self.rows = 0
        self.columns = 0
        self._errors: dict[int, bytearray] = {}
        self._formulas: dict[int, bytearray] = {}

    def mark(self, *, row: int, column: int, error: bool) -> None:
        bits = (self._errors if error else self._formulas).setdefault(column, bytearray())
        if len(bits) <= row >> 3:
            bits.extend(bytes((row >> 3) + 1 - len(bits)))
        bits[row >> 3] |= 1 << (row & 7)

    @property
    def has_broken(self) -> bool:
        return bool(self._errors or self._formulas)

    def broken_at(self, *, row: int, column: int) -> str:
        """What stands in a cell that a reader shows as blank, or an empty string; both count from 1."""
        if _is_set(self._errors.get(column), row=row):
            return "#ERROR"
        return "formula without a value" if _is_set(self._formulas.get(column), row=row) else ""


def scan_workbook(path: Path, *, limits: Limits) -> dict[str, SheetScan]:
    """The scan of each worksheet by its name, hidden ones too. Raises Refused for what must not be opened."""
    with _refusing_damage(), zipfile.ZipFile(path) as archive:
        members = archive.infolist()
        _check_archive(members, limits=limits)
        targets = _sheet_targets(archive)
        lengths = array("L")
        scans: dict[str, SheetScan] = {}
        # Shared text first: its length is needed where cells point at it.
        for member in sorted(members, key=lambda item: not item.filename.lower().endswith(_SHARED_STRINGS)):
            scan = _Parts(limits, lengths, may_hold_text=member.filename.lower().endswith(_SHARED_STRINGS))
            _parse_part(archive, member=member, start=scan.start, characters=scan.characters)
            scan.finish()
            scans[member.filename] = scan.sheet
    return {name: scans[part] for name, part in targets.items() if part in scans}


class _Parts:
    """Follows the elements of one part: rows, cells, formulas, values, shared text."""

    def __init__(self, limits: Limits, lengths: "array[int]", *, may_hold_text: bool) -> None:
        self.sheet = SheetScan()
        self._limits = limits
        self._lengths = lengths
        self._may_hold_text = may_hold_text
        self._row = self._column = 0
        self._type = ""
        self._index: list[str] | None = None
        self._in_text = False
        self._characters = 0

    def start(self, element: str, attributes: dict[str, str]) -> None:
        kind = element.rpartition(":")[2]
        if self._index is not None:
            self._count_shared()
        if kind == "c":
            self._cell(attributes)
        elif kind == "v":
            self._index = [] if self._type == "s" else None
        elif kind == "f" and self._type not in ("str", "e"):
            self.sheet.mark(row=self._row, column=self._column, error=False)
        elif kind == "row":
            self._start_row(attributes)
        elif kind == "si":
            self._start_text()

    def characters(self, text: str) -> None:
        if self._index is not None:
            self._index.append(text)
        elif self._in_text:
            self._lengths[-1] += len(text)

    def finish(self) -> None:
        if self._index is not None:
            self._count_shared()

    def _start_row(self, attributes: dict[str, str]) -> None:
        written = _attribute(attributes, name="r")
        self._row = _number(written) if written else self._row + 1
        self._column = 0
        self._check_extent()

    def _cell(self, attributes: dict[str, str]) -> None:
        self._type = _attribute(attributes, name="t")
        self._column += 1
        if written := _attribute(attributes, name="r"):
            letters, digits = _split_position(written)
            self._column = _column_number(letters)
            self._row = _number(digits)
        # A cell outside any row counts as in the first: how a reader takes it is not known.
        self._row = max(self._row, 1)
        self._check_extent()
        if self._type == "e":
            self.sheet.mark(row=self._row, column=self._column, error=True)

    def _check_extent(self) -> None:
        sheet, limits = self.sheet, self._limits
        sheet.rows = max(sheet.rows, self._row)
        sheet.columns = max(sheet.columns, self._column)
        if sheet.rows > limits.rows or sheet.columns > limits.columns:
            raise Refused(
                "sheet.too_large",
                f"The workbook has a cell in row {self._row}, column {max(self._column, 1)}; at most "
                f"{limits.rows:,} rows and {limits.columns} columns are read.",
                got=[self._row, self._column],
                mend="Delete what stands far below or right of the table, or send it in parts.",
            )
        if sheet.rows * sheet.columns > limits.workbook_cells:
            raise _too_large("The table has too many rows and columns together.")

    def _start_text(self) -> None:
        if not self._may_hold_text:
            raise _damaged("it keeps its text in an unusual place")
        self._lengths.append(0)
        self._in_text = True

    def _count_shared(self) -> None:
        written = "".join(self._index or ()).strip()
        self._index = None
        if written.isdigit() and int(written) < len(self._lengths):
            self._characters += self._lengths[int(written)]
        if self._characters > self._limits.workbook_characters:
            raise _too_large("The table repeats too much text.")


def _parse_part(
    archive: zipfile.ZipFile,
    *,
    member: zipfile.ZipInfo,
    start: Callable[[str, dict[str, str]], None],
    characters: Callable[[str], None],
) -> None:
    """Read a part to its end, which also checks its declared size and sum, and parse it if it is XML."""
    with archive.open(member) as part:
        block = part.read(_BLOCK)
        if not block.lstrip(b"\xef\xbb\xbf\xff\xfe\x00 \t\r\n").startswith(b"<"):
            _read_on(part)
            return
        parser = expat.ParserCreate()
        parser.buffer_text = True
        parser.StartElementHandler = start
        parser.CharacterDataHandler = characters
        parser.StartDoctypeDeclHandler = _refuse_doctype
        try:
            while block:
                parser.Parse(block, False)
                block = part.read(_BLOCK)
            parser.Parse(b"", True)
        except expat.ExpatError as fault:
            # Drawings beside comments are often loose markup; no worksheet may be kept under that name.
            if not member.filename.lower().endswith(".vml"):
                raise _damaged(f"{shown(text_of(member.filename))} is not well-formed") from fault
            _read_on(part)


def _read_on(part: IO[bytes]) -> None:
    while part.read(_BLOCK):
        pass


def _sheet_targets(archive: zipfile.ZipFile) -> dict[str, str]:
    """The part of each worksheet, by the name on its tab."""
    names: dict[str, str] = {}
    parts: dict[str, str] = {}

    def sheet(element: str, attributes: dict[str, str]) -> None:
        if element.rpartition(":")[2] == "sheet":
            names[_attribute(attributes, name="name")] = _attribute(attributes, name="id")

    def relation(element: str, attributes: dict[str, str]) -> None:
        target = _attribute(attributes, name="Target")
        if target.lower().endswith(".vml"):
            raise _damaged("a sheet is kept under the name of a drawing")
        parts[_attribute(attributes, name="Id")] = target[1:] if target.startswith("/") else f"xl/{target}"

    _parse_part(archive, member=archive.getinfo(_WORKBOOK), start=sheet, characters=lambda text: None)
    _parse_part(archive, member=archive.getinfo(_RELATIONS), start=relation, characters=lambda text: None)
    return {name: parts[key] for name, key in names.items() if key in parts}


def _check_archive(members: list[zipfile.ZipInfo], *, limits: Limits) -> None:
    names = [member.filename.lower() for member in members]
    if _WORKBOOK not in names or _RELATIONS not in names:
        raise Refused(
            "sheet.not_a_workbook",
            "The file is a zip archive but not an Excel workbook.",
            mend="Save the table as .xlsx or .csv.",
        )
    if len(set(names)) < len(names):
        raise _damaged("it holds two parts of one name")
    if len(members) > _MOST_MEMBERS or sum(member.file_size for member in members) > limits.unpacked_bytes:
        raise _too_large("The workbook is too large when unpacked.")


@contextmanager
def _refusing_damage() -> Iterator[None]:
    """Turn what a damaged or protected archive raises into one clear line."""
    try:
        yield
    except (
        *(zipfile.BadZipFile, zipfile.LargeZipFile, zlib.error, EOFError, OSError, struct.error),
        *(NotImplementedError, RuntimeError, ValueError, KeyError, OverflowError),
    ) as fault:
        raise _damaged("it cannot be unpacked") from fault


def _refuse_doctype(*_: object) -> None:
    raise _damaged("it declares a document type")


def _attribute(attributes: dict[str, str], *, name: str) -> str:
    """An attribute whatever its namespace prefix."""
    if name in attributes:
        return attributes[name]
    return next((value for key, value in attributes.items() if key.endswith(f":{name}")), "")


def _split_position(text: str) -> tuple[str, str]:
    found = _POSITION.fullmatch(text.strip())
    if found is None or not found[1] or not found[2]:
        raise _damaged("a cell has no proper position")
    return found[1], found[2]


def _column_number(letters: str) -> int:
    number = 0
    for letter in letters.upper()[:8]:
        number = number * 26 + ord(letter) - ord("A") + 1
    return number


def _number(digits: str) -> int:
    if not digits.isascii() or not digits.isdigit():
        raise _damaged("a row has no proper number")
    return int(digits[:12])


def _is_set(bits: bytearray | None, *, row: int) -> bool:
    return bits is not None and row >> 3 < len(bits) and bool(bits[row >> 3] & 1 << (row & 7))


def _damaged(why: str) -> Refused:
    return Refused(
        "sheet.damaged",
        f"The workbook cannot be read: {why}.",
        mend="Open it in a spreadsheet program and save it again as .xlsx or .csv.",
    )


def _too_large(what: str) -> Refused:
    return Refused("sheet.too_large", what, mend="Send it in parts, or as .csv.")
