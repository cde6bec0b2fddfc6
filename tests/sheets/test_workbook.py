"""Workbooks: types, the guard, damage. Files are built with another library than the one that reads them."""

import re
import zipfile
from collections.abc import Callable
from datetime import date, datetime, time
from decimal import Decimal
from pathlib import Path

import openpyxl
import pytest

from inventory.errors import Refused
from inventory.sheets import CANONICAL, Limits
from tests.sheets.build import GOOD, bad, good, open_sales, outcomes, write_text, write_workbook

HEADER = list(GOOD)


def edit_part(path: Path, *, part: str, change: Callable[[bytes], bytes]) -> None:
    """Rewrite one part of a workbook in place."""
    with zipfile.ZipFile(path) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    parts[part] = change(parts[part])
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)


def refusal(path: Path, **options: object) -> Refused:
    with pytest.raises(Refused) as caught:
        outcomes(path, **options)
    assert "\n" not in str(caught.value)
    return caught.value


def test_typed_cells_come_as_numbers_and_dates(tmp_path: Path) -> None:
    rows: list[list[object]] = [
        [*HEADER, "condition", "odometer", "stock no"],
        [1962, "Corvane", "Meridian", datetime.combine(date(2020, 3, 4), time(10, 5)), 21500.5, 72.5, 45210.0, 17.0],
        [1963.0, "Corvane", "Tern", date(2020, 4, 3), 9800, "70-80", "45k", "0012"],
    ]
    first, second = (good(outcome).sale for outcome in outcomes(write_workbook(tmp_path, rows=rows)))
    assert (first.year, first.ended_on, first.price) == (1962, date(2020, 3, 4), Decimal("21500.50"))
    assert (first.condition_low, first.mileage_mi, first.stock_number) == (Decimal("72.5"), 45210, "17")
    assert (second.ended_on, second.mileage_mi, second.stock_number) == (date(2020, 4, 3), 45000, "0012")


def test_binary_noise_of_a_computed_price_is_not_a_fault(tmp_path: Path) -> None:
    rows: list[list[object]] = [[*HEADER], [1962, "Corvane", "Meridian", date(2020, 3, 4), 0.1 + 0.2 + 100]]
    assert good(outcomes(write_workbook(tmp_path, rows=rows))[0]).sale.price == Decimal("100.30")


@pytest.mark.parametrize(
    ("place", "value"),
    [(0, date(1962, 1, 1)), (0, True), (3, 43912), (3, time(3, 4)), (4, date(2020, 1, 1)), (4, 100.125)],
)
def test_cell_of_another_type_is_rejected(tmp_path: Path, *, place: int, value: object) -> None:
    row: list[object] = [1962, "Corvane", "Meridian", date(2020, 3, 4), 21500]
    row[place] = value
    assert bad(outcomes(write_workbook(tmp_path, rows=[HEADER, row]))[0]).column == HEADER[place]


@pytest.mark.parametrize("column", CANONICAL)
@pytest.mark.parametrize("value", ["#N/A", "=1+1"])
def test_broken_cell_rejects_its_row_in_every_column(tmp_path: Path, *, column: str, value: str) -> None:
    row = {**GOOD, column: value}
    found = bad(outcomes(write_workbook(tmp_path, rows=[list(row), list(row.values())]))[0])
    assert [fault.column for fault in found.faults] == [column]


@pytest.mark.parametrize("column", ["make", "model", "trim", "stock_number", "vin", "modifications"])
def test_text_that_became_a_date_is_rejected(tmp_path: Path, *, column: str) -> None:
    row = {**GOOD, column: date(2020, 9, 3)}
    found = bad(outcomes(write_workbook(tmp_path, rows=[list(row), list(row.values())]))[0])
    assert "not text" in found.reason


@pytest.mark.parametrize(("value", "words"), [("#N/A", "#ERROR"), ("=10000+1", "formula without a value")])
def test_error_and_uncalculated_formula_are_not_read_as_blank(tmp_path: Path, *, value: str, words: str) -> None:
    row = [1962, "Corvane", "Meridian", date(2020, 3, 4), 21500, value]
    found = bad(outcomes(write_workbook(tmp_path, rows=[[*HEADER, "first ask"], row]))[0])
    assert found.column == "first_ask"
    assert words in found.reason


def test_blank_rows_and_columns_before_the_table_keep_row_numbers(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    for place, (name, value) in enumerate(GOOD.items(), start=3):
        book.active.cell(4, place, name)
        book.active.cell(7, place, value)
    book.save(tmp_path / "sales.xlsx")
    (found,) = outcomes(tmp_path / "sales.xlsx")
    assert good(found).row == 7


def test_only_sheet_with_the_needed_columns_is_read_and_others_are_named(tmp_path: Path) -> None:
    path = write_workbook(tmp_path, rows=[["Note"], ["of no use"]])
    book = openpyxl.load_workbook(path)
    for row in (HEADER, list(GOOD.values())):
        book.create_sheet("Sales") if "Sales" not in book.sheetnames else None
        book["Sales"].append(row)
    book.save(path)
    found = open_sales(path)
    assert found.total == 1
    assert any("“Sheet”" in warning for warning in found.warnings)


def test_two_fitting_sheets_are_asked_for(tmp_path: Path) -> None:
    path = write_workbook(tmp_path, rows=[HEADER, list(GOOD.values())])
    book = openpyxl.load_workbook(path)
    for row in (HEADER, list(GOOD.values()), list(GOOD.values())):
        book["2020" if "2020" in book.sheetnames else book.create_sheet("2020").title].append(row)
    book.save(path)
    assert refusal(path).code == "sheet.which_sheet"
    assert open_sales(path, sheet="2020").total == 2
    assert refusal(path, sheet="2019").code == "sheet.which_sheet"


@pytest.mark.parametrize("cell", ["XFD1048576", "A1048576", "XFD1", "GS2"])
def test_cell_far_away_is_refused_before_any_reader(tmp_path: Path, *, cell: str) -> None:
    book = openpyxl.Workbook()
    for place, (name, value) in enumerate(GOOD.items(), start=1):
        book.active.cell(1, place, name)
        book.active.cell(2, place, value)
    book.active[cell] = "far"
    book.save(tmp_path / "sales.xlsx")
    assert refusal(tmp_path / "sales.xlsx").code == "sheet.too_large"


@pytest.mark.parametrize(
    "change",
    [
        lambda xml: xml.replace(b'<row r="2"', b'<row r="1048576"').replace(b'"A2"', b'"A1048576"'),
        lambda xml: xml.replace(b'r="A2"', b'r = "XFD1048576"'),
        lambda xml: xml.replace(b'r="A2"', b'r="&#88;&#70;&#68;1048576"'),
        lambda xml: xml.replace(b'r="A2"', b'r="xfd1048576"'),
        lambda xml: re.sub(rb'<row r="2"', b'<row r="1048576"', re.sub(rb' r="[A-Z]2"', b"", xml)),
        lambda xml: xml.replace(b'r="A2"', b'r="AAAAAAAAAAAA2"'),
        lambda xml: xml.replace(b'r="A2"', b'r="A99999999999999999999"'),
    ],
    ids=["row", "spaces", "entities", "small", "row only", "letters", "digits"],
)
def test_far_cell_is_refused_however_it_is_written(tmp_path: Path, *, change: Callable[[bytes], bytes]) -> None:
    path = write_workbook(tmp_path, rows=[HEADER, list(GOOD.values())])
    edit_part(path, part="xl/worksheets/sheet1.xml", change=change)
    assert refusal(path).code == "sheet.too_large"


@pytest.mark.parametrize(
    ("part", "change", "code"),
    [
        ("xl/worksheets/sheet1.xml", lambda xml: xml[:-20], "sheet.damaged"),
        ("xl/worksheets/sheet1.xml", lambda xml: b"<!DOCTYPE x [<!ENTITY a 'b'>]>" + xml, "sheet.damaged"),
        ("xl/worksheets/sheet1.xml", lambda xml: xml.replace(b'r="A2"', b'r="??"'), "sheet.damaged"),
        ("xl/_rels/workbook.xml.rels", lambda xml: xml.replace(b"sheet1.xml", b"sheet1.vml"), "sheet.damaged"),
        ("xl/_rels/workbook.xml.rels", lambda xml: xml.replace(b"sheet1.xml", b"none.xml"), "sheet.empty"),
    ],
)
def test_damaged_part_is_refused_in_one_line(
    tmp_path: Path, *, part: str, change: Callable[[bytes], bytes], code: str
) -> None:
    path = write_workbook(tmp_path, rows=[HEADER, list(GOOD.values())])
    edit_part(path, part=part, change=change)
    assert refusal(path).code == code


@pytest.mark.parametrize(
    "limits",
    [Limits(unpacked_bytes=1000), Limits(rows=1), Limits(columns=4), Limits(workbook_cells=9), Limits(file_bytes=99)],
)
def test_workbook_beyond_a_limit_is_refused(tmp_path: Path, *, limits: Limits) -> None:
    path = write_workbook(tmp_path, rows=[HEADER, list(GOOD.values())])
    assert refusal(path, limits=limits).code == "sheet.too_large"


def test_shared_text_pointed_at_too_often_is_refused(tmp_path: Path) -> None:
    path = write_workbook(tmp_path, rows=[HEADER, list(GOOD.values())])
    shared = b"<sst><si><t>" + b"x" * 30_000 + b"</t></si></sst>"
    pointing = b"".join(b'<row r="%d"><c r="A%d" t="s"><v>0</v></c></row>' % (n, n) for n in range(3, 5000))
    edit_part(
        path,
        part="xl/worksheets/sheet1.xml",
        change=lambda xml: xml.replace(b"</sheetData>", pointing + b"</sheetData>"),
    )
    with zipfile.ZipFile(path, "a") as archive:
        archive.writestr("xl/sharedStrings.xml", shared)
    assert refusal(path).code == "sheet.too_large"
    assert "repeats too much text" in str(refusal(path))


def test_two_parts_of_one_name_are_refused(tmp_path: Path) -> None:
    path = write_workbook(tmp_path, rows=[HEADER, list(GOOD.values())])
    with zipfile.ZipFile(path, "a") as archive:
        archive.writestr("xl/Worksheets/sheet1.xml", b"<worksheet/>")
    assert refusal(path).code == "sheet.damaged"


def test_member_longer_than_declared_is_refused(tmp_path: Path) -> None:
    path = write_workbook(tmp_path, rows=[HEADER, list(GOOD.values())])
    with zipfile.ZipFile(path) as archive:
        size = archive.getinfo("xl/worksheets/sheet1.xml").file_size
    written = path.read_bytes()
    path.write_bytes(written.replace(size.to_bytes(4, "little"), (size - 50).to_bytes(4, "little")))
    assert refusal(path).code == "sheet.damaged"


def test_archive_without_a_workbook_is_refused(tmp_path: Path) -> None:
    with zipfile.ZipFile(tmp_path / "sales.xlsx", "w") as archive:
        archive.writestr("readme.txt", "no table here")
    assert refusal(tmp_path / "sales.xlsx").code == "sheet.not_a_workbook"


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("sales.csv", b"\x89PNG\r\n\x1a\n" + bytes(range(256))),
        ("sales.xls", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600)),
        ("sales.csv", b"PK\x03\x04" + bytes(100)),
        ("sales.xlsx", b"year,make,model,ended_on,price\n"),
        ("sales.pdf", b"%PDF-1.7\n"),
    ],
)
def test_content_that_does_not_fit_is_refused(tmp_path: Path, *, name: str, content: bytes) -> None:
    assert refusal(write_text(tmp_path, text=content, name=name)).code == "sheet.wrong_content"


def test_truncated_archive_is_refused(tmp_path: Path) -> None:
    path = write_workbook(tmp_path, rows=[HEADER, list(GOOD.values())])
    path.write_bytes(path.read_bytes()[:-200])
    assert refusal(path).code == "sheet.damaged"
