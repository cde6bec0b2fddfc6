"""Text files: encoding, delimiter, and records as a spreadsheet program counts them."""

import codecs
import csv
import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import TextIO

from inventory.errors import Refused
from inventory.sheets.cells import Cell, has_control_characters
from inventory.sheets.columns import columns_named

_DELIMITERS = {",": "comma", ";": "semicolon", "\t": "tab"}
_BLOCK = 2**20
_SAMPLE_RECORDS = 30
_MOST_NOISE = 0.02
_DECLARED = re.compile(r"sep=(.)[\r\n]*", re.IGNORECASE)
# Two-byte UTF-8 letters of western languages; read as Windows-1252 they make pairs nobody writes.
_UTF8_LETTERS = re.compile(rb"[\xc2\xc3][\x80-\xbf]")
_CHARACTER_LIMIT = 131_072
_LINE_LIMIT = _CHARACTER_LIMIT * 8


@dataclass(frozen=True, slots=True)
class TextForm:
    """How the text is written; `skip` lines before the header declare the delimiter."""

    encoding: str
    delimiter: str
    skip: int

    @property
    def described(self) -> str:
        names = {"utf-8-sig": "UTF-8", "cp1252": "Windows-1252", "utf-16": "UTF-16"}
        return f"CSV, {names[self.encoding]}, {_DELIMITERS[self.delimiter]}"


def describe_text(path: Path, *, sample_bytes: int) -> TextForm:
    """Find encoding and delimiter. Raises Refused for what is not text."""
    encoding = _encoding(path)
    with path.open(encoding=encoding, newline="") as file:
        sample = _read_sample(file, size=sample_bytes)
    noise = sum(map(has_control_characters, sample))
    if noise > _MOST_NOISE * len(sample):
        raise Refused("sheet.not_text", "The file is not a text file.", mend="Save the table as .xlsx or .csv.")
    declared = _DECLARED.match(sample)
    if declared and declared[1] in _DELIMITERS:
        return TextForm(encoding, declared[1], skip=1)
    return TextForm(encoding, _delimiter(sample), skip=0)


def text_records(path: Path, *, text: TextForm) -> Iterator[tuple[int, list[Cell]]]:
    """Each record with its row number; a record may run over several lines. Blank ones count as rows."""
    with path.open(encoding=text.encoding, newline="") as file:
        lines = _Lines(file)
        reader = csv.reader(lines, delimiter=text.delimiter)
        number = 0
        while True:
            try:
                record = next(reader, None)
            except _LineTooLong as fault:
                raise _long_line(number + 1) from fault
            except csv.Error as fault:
                raise _open_quote(number + 1) from fault
            if record is None:
                return
            number += 1
            # A reader asks for another line only inside quotation marks: the file ended there.
            if lines.ended:
                raise _open_quote(number)
            if number > text.skip:
                yield number, list(record)


class _LineTooLong(Exception):
    pass


class _Lines:
    """The file's lines, and whether they have run out. A piece of a line would count as a row of its own."""

    def __init__(self, file: TextIO) -> None:
        self._file = file
        self.ended = False

    def __iter__(self) -> "_Lines":
        return self

    def __next__(self) -> str:
        line = self._file.readline(_LINE_LIMIT)
        if len(line) == _LINE_LIMIT and not line.endswith(("\r", "\n")):
            raise _LineTooLong
        if not line:
            self.ended = True
            raise StopIteration
        return line


def _encoding(path: Path) -> str:
    with path.open("rb") as file:
        start = file.read(4)
        file.seek(0)
        if start.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
            return _checked(path, encoding="utf-16")
        if _decodes(path, encoding="utf-8"):
            return "utf-8-sig"
        for block in iter(lambda: file.read(_BLOCK), b""):
            if start.startswith(codecs.BOM_UTF8) or _UTF8_LETTERS.search(block):
                raise _bad_encoding("is UTF-8 in part only")
    return _checked(path, encoding="cp1252")


def _checked(path: Path, *, encoding: str) -> str:
    if not _decodes(path, encoding=encoding):
        raise _bad_encoding("is neither UTF-8 nor Windows-1252")
    return encoding


def _decodes(path: Path, *, encoding: str) -> bool:
    decoder = codecs.getincrementaldecoder(encoding)()
    with path.open("rb") as file:
        try:
            while block := file.read(_BLOCK):
                decoder.decode(block)
            decoder.decode(b"", final=True)
        except UnicodeError:
            return False
    return True


def _read_sample(file: TextIO, *, size: int) -> str:
    """Whole lines where lines are short, so that the last record of the sample is not cut."""
    return file.read(size) + file.readline(size)


def _delimiter(sample: str) -> str:
    """The delimiter under which most header cells are known columns; then the one with most cells."""

    def worth(delimiter: str) -> tuple[int, int]:
        header = _first_record(sample, delimiter=delimiter)
        return sum(bool(columns_named(cell)) for cell in header), len(header)

    return max(_DELIMITERS, key=worth)


def _first_record(sample: str, *, delimiter: str) -> list[str]:
    reader = csv.reader(sample.splitlines(keepends=True), delimiter=delimiter)
    try:
        return next((record for record in islice(reader, _SAMPLE_RECORDS) if any(record)), [])
    except csv.Error:
        return []


def _open_quote(number: int) -> Refused:
    return Refused(
        "sheet.open_quote",
        f"A quotation mark opened in row {number} is never closed.",
        got=number,
        mend='Close it, or write "" for a quotation mark inside a cell.',
    )


def _long_line(number: int) -> Refused:
    return Refused(
        "sheet.long_line",
        f"Row {number} has a line of more than {_LINE_LIMIT:,} characters.",
        got=number,
        mend="Look whether its line breaks were lost, and save the sheet again.",
    )


def _bad_encoding(why: str) -> Refused:
    return Refused("sheet.encoding", f"The file {why}.", mend="Save it as UTF-8 (“CSV UTF-8”).")
