"""Runs through a file and gives back, row by row, what it holds, a repeat or a reject."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import partial
from pathlib import Path
from typing import Any, Generic, TypeVar

from inventory.errors import Refused
from inventory.rules.words import OdometerStatus
from inventory.sheets.cells import (
    Cell,
    has_control_characters,
    raw_text,
    refuse_broken,
    shown,
    strip_escape,
    text_of,
)
from inventory.sheets.columns import Matching, match_columns, require_clear
from inventory.sheets.dates import read_date
from inventory.sheets.figures import Mileage, read_mileage, read_money, read_score, read_year
from inventory.sheets.kinds import PAST_SALES, Kind, Record
from inventory.sheets.options import DateOrder, Options
from inventory.sheets.readers import read_mail, read_phone, read_rate, read_text
from inventory.sheets.reading import Table, open_table
from inventory.sheets.sale import YEARS_AHEAD, Fault, Sale, stock_key
from inventory.sheets.serials import read_stock_number, read_vin, vin_remarks
from inventory.sheets.survey import Survey, require_settled, survey_table
from inventory.sheets.words import read_choice, read_modifications

Progress = Callable[[int, int], None]

_PROGRESS_EVERY = 500
_TEXT_COLUMNS = {
    **dict.fromkeys(("make", "model", "trim", "body", "engine", "transmission", "color", "note", "vin_reason"), 200),
    **dict.fromkeys(("source", "consignor_name", "signed_by"), 120),
    "place": 60, "key_tag": 20,
}  # fmt: skip
_CHOICE_COLUMNS = ("build_class", "title_brand", "result", "reason", "channel", "sold", "premium", "odometer_status")
_MONEY_COLUMNS = ("price", "first_ask", "last_ask", "commission_minimum", "commission_flat", "floor", "ask")
R = TypeVar("R", bound=Record)


@dataclass(frozen=True, slots=True)
class Warned:
    """Something imported that deserves a look."""

    row: int
    column: str
    message: str


@dataclass(frozen=True, slots=True)
class Row(Generic[R]):
    """A good row. `row` is its number in the file, the header being row 1."""

    row: int
    record: R
    content_hash: str
    warnings: tuple[Warned, ...]
    cells: tuple[Cell, ...]

    @property
    def sale(self) -> R:
        return self.record


@dataclass(frozen=True, slots=True)
class Repeat:
    """A row that says again what row `of` of the same file said: one sale, and a warning."""

    row: int
    of: int
    warning: Warned
    cells: tuple[Cell, ...]


@dataclass(frozen=True, slots=True)
class Reject:
    """A bad row with everything that is wrong with it; the first fault stands for it."""

    row: int
    faults: tuple[Fault, ...]
    cells: tuple[Cell, ...]

    @property
    def column(self) -> str:
        return self.faults[0].column

    @property
    def value(self) -> str:
        return self.faults[0].value

    @property
    def reason(self) -> str:
        """All reasons with their mends; those after the first name their column."""
        first, *others = self.faults
        return " ".join([first.reason, *(f"Also {fault.column}: {fault.reason}" for fault in others)])


Outcome = Row[R] | Repeat | Reject


@dataclass(frozen=True, slots=True)
class _Reading:
    """How the cells of this file are to be read."""

    matching: Matching
    options: Options
    orders: dict[str, DateOrder | None]
    today: date
    readers: dict[str, Callable[[Cell], Any]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class SheetFile(Generic[R]):
    """An opened file whose questions are all answered. Each `for` runs through it from the top."""

    kind: Kind[R]
    table: Table
    matching: Matching
    survey: Survey
    options: Options
    today: date
    warnings: tuple[str, ...]
    progress: Progress | None = None

    @property
    def total(self) -> int:
        """Rows below the header that are not blank."""
        return self.survey.rows

    @property
    def headers(self) -> tuple[str, ...]:
        return self.table.headers

    def __iter__(self) -> Iterator[Outcome[R]]:
        orders = dict(self.survey.orders(self.options))
        reading = _Reading(self.matching, self.options, orders, self.today)
        reading.readers.update(_readers(reading))
        seen = _Seen(self.matching.header_of("stock_number"))
        width = len(self.headers)
        for done, (number, cells) in enumerate(self.table.records(), start=1):
            yield seen.judged(_outcome(number, cells=tuple(cells), reading=reading, width=width, kind=self.kind))
            if self.progress is not None and (done % _PROGRESS_EVERY == 0 or done == self.total):
                self.progress(done, self.total)


def read_sales(
    path: Path, *, name: str, options: Options, today: date, progress: Progress | None = None
) -> SheetFile[Sale]:
    """Open a file of past sales."""
    return read_sheet(path, kind=PAST_SALES, name=name, options=options, today=today, progress=progress)


def read_sheet(
    path: Path, *, kind: Kind[R], name: str, options: Options, today: date, progress: Progress | None = None
) -> SheetFile[R]:
    """Open a file and settle its columns and dates. Raises Refused where that cannot be done.

    `name` is what its owner calls it (the ending must fit the content). The result is run through with
    `for`; it keeps no rows, only what recognises repeats.
    """
    options = kind.answered(options)
    table = open_table(path, name=name, options=options)
    matching = match_columns(table.headers, chosen=options.columns, ignore=options.ignore, layout=kind.layout)
    require_clear(matching)
    survey = survey_table(table, matching=matching)
    require_settled(survey, options=options, matching=matching)
    warnings = file_warnings(table, matching=matching, survey=survey)
    return SheetFile(kind, table, matching, survey, options, today, warnings, progress)


def file_warnings(table: Table, *, matching: Matching, survey: Survey) -> tuple[str, ...]:
    """What is left unread or looks odd about the file as a whole."""
    found: list[str] = []
    if matching.ignored:
        found.append(f"Columns not read: {', '.join(f'“{header}”' for header in matching.ignored)}.")
    if table.other_sheets:
        found.append(f"Sheets not read: {', '.join(f'“{sheet}”' for sheet in table.other_sheets)}.")
    found.extend(
        f"Column “{matching.header_of(column)}” has nothing above 10: is it on the scale from 0 to 100?"
        for column in survey.low_scales()
    )
    return tuple(found)


class _Seen:
    """The stock numbers and contents met so far in this file."""

    def __init__(self, header: str) -> None:
        self._header = header
        self._by_stock: dict[str, tuple[int, bytes]] = {}
        self._by_content: dict[bytes, int] = {}

    def judged(self, outcome: Row[R] | Reject) -> Outcome[R]:
        if isinstance(outcome, Reject):
            return outcome
        digest = bytes.fromhex(outcome.content_hash)
        stock = outcome.record.stock_number
        if stock is None:
            first = self._by_content.setdefault(digest, outcome.row)
            return outcome if first == outcome.row else _repeat(outcome, of=first)
        first, facts = self._by_stock.setdefault(stock_key(stock), (outcome.row, digest))
        if first == outcome.row:
            return outcome
        if facts == digest:
            return _repeat(outcome, of=first)
        reason = f"{shown(stock)} stands in row {first} with other facts. Keep one of the two rows."
        fault = Fault("stock_number", self._header, stock, reason)
        return Reject(outcome.row, (fault,), outcome.cells)


def _repeat(outcome: Row[Any], *, of: int) -> Repeat:
    column = "stock_number" if outcome.record.stock_number else ""
    warning = Warned(outcome.row, column, f"Row {outcome.row} says the same as row {of}; it counts once.")
    return Repeat(outcome.row, of, warning, outcome.cells)


def _outcome(number: int, *, cells: tuple[Cell, ...], reading: _Reading, width: int, kind: Kind[R]) -> Row[R] | Reject:
    fault = _shape_fault(cells, width=width)
    if fault is not None:
        return Reject(number, (fault,), cells)
    values, faults = _values(cells, reading=reading)
    remarks = values.pop("remarks")
    if faults:
        return Reject(number, tuple(faults), cells)
    record = kind.make(values, options=reading.options)
    faults = [
        _fault(column, value=_as_written(cells, column=column, reading=reading), reason=reason, reading=reading)
        for column, reason in kind.contradictions(record, today=reading.today)
    ]
    if faults:
        return Reject(number, tuple(faults), cells)
    remarks += [*kind.oddities(record), *(("vin", remark) for remark in vin_remarks(record.vin, year=record.year))]
    record = kind.kept(record)
    warnings = tuple(Warned(number, column, message) for column, message in remarks if message)
    return Row(number, record, record.content_hash(), warnings, cells)


def _shape_fault(cells: Sequence[Cell], *, width: int) -> Fault | None:
    """What is wrong with the row as a whole: cells too few or too many, or characters that are not text."""
    extra = next((text_of(cell) for cell in cells[width:] if text_of(cell)), None)
    if extra is not None:
        reason = (
            f"The row has {len(cells)} cells, the header {width}. "
            "Put quotation marks round cells that hold the delimiter."
        )
        return Fault("", "", extra, reason)
    if len(cells) < width:
        reason = f"The row has {len(cells)} cells, the header {width}. Add the missing ones, if need be empty."
        return Fault("", "", "", reason)
    bad = next((cell for cell in cells if isinstance(cell, str) and has_control_characters(cell)), None)
    if bad is not None:
        text = "".join(character if character.isprintable() else "�" for character in bad)
        return Fault("", "", text, f"{shown(text)} holds a character that is not text. Type the cell again.")
    return None


def _values(cells: Sequence[Cell], *, reading: _Reading) -> tuple[dict[str, Any], list[Fault]]:
    """The values of a row by field of `Sale`, remarks under "remarks", and every fault found."""
    found: dict[str, Any] = {"remarks": []}
    faults: list[Fault] = []
    for column, read in reading.readers.items():
        cell = cells[reading.matching.columns[column]]
        if cell is None or cell == "":
            continue
        try:
            refuse_broken(cell, field=column)
            _keep(found, column=column, value=read(strip_escape(cell) if isinstance(cell, str) else cell))
        except Refused as refusal:
            faults.append(_fault(column, value=raw_text(cell), reason=str(refusal), reading=reading))
    _settle_odometer(found, faults=faults, cells=cells, reading=reading)
    bad = {fault.column for fault in faults}
    faults.extend(
        _fault(column, value="", reason=f"The {column.replace('_', ' ')} is missing. Enter it.", reading=reading)
        for column in reading.matching.layout.required
        if found.get(column) is None and column not in bad
    )
    return found, faults


def _keep(found: dict[str, Any], *, column: str, value: Any) -> None:
    """File what a reader gave under the fields of `Sale`."""
    if column == "mileage":
        found["mileage"] = value
        found["remarks"].append(("mileage", value.note))
    elif column in ("condition", "originality"):
        found[f"{column}_low"], found[f"{column}_high"] = value.low, value.high
        found["remarks"].append((column, value.note))
    else:
        found[column] = value


def _settle_odometer(found: dict[str, Any], *, faults: list[Fault], cells: Sequence[Cell], reading: _Reading) -> None:
    """One status from the mileage cell and the status column; *actual* only where it is written."""
    mileage: Mileage = found.pop("mileage", Mileage(None))
    stated: str | None = found.get("odometer_status")
    implied = mileage.status
    weaker = (None, OdometerStatus.NOT_STATED)
    if implied not in weaker and stated not in weaker and stated != implied:
        clash = True
    else:
        clash = implied == OdometerStatus.NOT_STATED and stated == OdometerStatus.ACTUAL
    if clash:
        said = _as_written(cells, column="mileage", reading=reading)
        reason = f"{shown(said)} contradicts the odometer status {shown(stated or '')}. Correct one of them."
        faults.append(_fault("odometer_status", value=stated or "", reason=reason, reading=reading))
    found["mileage_mi"] = mileage.miles
    status = implied if implied not in weaker else stated
    found["odometer_status"] = OdometerStatus(status or OdometerStatus.NOT_STATED).value


def _as_written(cells: Sequence[Cell], *, column: str, reading: _Reading) -> str:
    place = reading.matching.columns.get(column)
    return "" if place is None else raw_text(cells[place])


def _fault(column: str, *, value: str, reason: str, reading: _Reading) -> Fault:
    return Fault(column, reading.matching.header_of(column), value, reason)


def _readers(reading: _Reading) -> dict[str, Callable[[Cell], Any]]:
    """One reader for each column that the file has."""
    options, today = reading.options, reading.today
    money = partial(read_money, decimal_mark=options.decimal_mark, currency=options.currency)
    latest = today.year + YEARS_AHEAD
    readers: dict[str, Callable[[Cell], Any]] = {
        "year": partial(read_year, field="year", century=options.two_digit_years, latest=latest),
        "stock_number": partial(read_stock_number, field="stock_number"),
        "vin": partial(read_vin, field="vin"),
        "mileage": partial(
            read_mileage,
            field="mileage",
            in_km=reading.matching.mileage_in_km(),
            decimal_mark=options.decimal_mark,
        ),
        "modifications": partial(read_modifications, field="modifications"),
        "consignor_email": partial(read_mail, field="consignor_email"),
        "consignor_phone": partial(read_phone, field="consignor_phone"),
        "commission_rate": partial(read_rate, field="commission_rate"),
    }
    readers |= {column: partial(read_text, field=column, longest=most) for column, most in _TEXT_COLUMNS.items()}
    readers |= {column: partial(read_choice, field=column) for column in _CHOICE_COLUMNS}
    readers |= {column: partial(money, field=column) for column in _MONEY_COLUMNS}
    readers |= {column: partial(read_score, field=column) for column in ("condition", "originality")}
    for column in reading.matching.layout.dates:
        order = reading.orders.get(column)
        readers[column] = partial(read_date, field=column, order=order, century=options.two_digit_dates)
    return {column: readers[column] for column in reading.matching.columns}
