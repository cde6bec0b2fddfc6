"""Whatever comes in: one clear refusal, or every row accounted for. FUZZ_EXAMPLES=20000 looks harder."""

import csv
import io
import os
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from inventory.errors import Refused
from inventory.sheets import CANONICAL, Options, Reject, Repeat, Row, preview, read_sales, save_rejects
from tests.sheets.build import GOOD, TODAY, write_workbook

FUZZ = settings(
    max_examples=int(os.environ.get("FUZZ_EXAMPLES", "150")),
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
    derandomize=True,
)

NASTY = st.sampled_from(
    [
        *("", "-", "'", '"', '""', "=1+1", "'=1", "@x", "\t", "\r\n", "\x00", "\x1f", "٣", "１９６９", "²", "½", "🚗"),
        *(
            "1e5",
            "1E+99",
            "nan",
            "inf",
            "-0",
            "0x10",
            "1_000",
            "9" * 400,
            "0" * 30,
            "1.",
            ".5",
            "1,2,3",
            "$",
            "k",
            "km",
        ),
        *("2021-03-04", "3/4/2021", "31/12/2020", "12/31/2020", "3/4/21", "0/0/0000", "29 Feb 2023", "May", "TMU"),
        *("1969", "'69", "70-80", "sold", "withdrawn", "actual", "clean", "A1", "Corvane", "21500", "\u202e", "\ufeff"),
    ]
)
CELL = st.one_of(NASTY, st.text(st.characters(exclude_categories=["Cs"]), max_size=12))


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("fuzz")


@pytest.fixture(scope="module")
def workbook(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    rows: list[list[object]] = [list(GOOD), list(GOOD.values()), [1963, "Corvane", "Tern", "2020-01-01", 1.5]]
    return write_workbook(tmp_path_factory.mktemp("book"), rows=rows).read_bytes()


def require_one_line(refusal: Refused) -> None:
    assert refusal.message
    assert "\n" not in str(refusal)


def account(path: Path, *, options: Options) -> None:
    """Read a file in every way there is; only Refused may come out, and no row may get lost."""
    try:
        preview(path, name=path.name, options=options, today=TODAY)
        found = read_sales(path, name=path.name, options=options, today=TODAY)
        outcomes = list(found)
    except Refused as refusal:
        require_one_line(refusal)
        return
    assert len(outcomes) == found.total
    assert all(isinstance(outcome, Row | Repeat | Reject) for outcome in outcomes)
    rejects = [outcome for outcome in outcomes if isinstance(outcome, Reject)]
    assert all(reject.reason for reject in rejects)
    if rejects:
        again = path.with_name(f"again-{path.stem}.csv")
        assert save_rejects(again, rejects=rejects, source=found) == len(rejects)
        with again.open(encoding="utf-8-sig", newline="") as file:
            assert sum(1 for _ in csv.reader(file)) == len(rejects) + 1


def every_option() -> Iterator[Options]:
    yield Options()
    yield Options(date_order="mdy", two_digit_years=1900, two_digit_dates=2000, decimal_mark=",")


@pytest.mark.parametrize("name", ["any.csv", "any.xlsx", "any"])
@FUZZ
@given(content=st.binary(max_size=400))
@example(content=b"year,make,model,ended_on,price\n\xff\xfe")
@example(content=b"\xff\xfey\x00")
@example(content=b"PK\x03\x04")
def test_any_bytes_are_refused_or_read(*, folder: Path, name: str, content: bytes) -> None:
    path = folder / name
    path.write_bytes(content)
    for options in every_option():
        account(path, options=options)


@FUZZ
@given(
    rows=st.lists(st.lists(CELL, min_size=0, max_size=len(CANONICAL) + 1), max_size=6),
    delimiter=st.sampled_from(",;\t"),
)
def test_any_rows_are_all_accounted_for(*, folder: Path, rows: list[list[str]], delimiter: str) -> None:
    text = io.StringIO()
    writer = csv.writer(text, delimiter=delimiter)
    writer.writerow(CANONICAL)
    writer.writerows(rows)
    path = folder / "rows.csv"
    path.write_text(text.getvalue(), encoding="utf-8", newline="")
    for options in every_option():
        account(path, options=options)


@FUZZ
@given(cells=st.dictionaries(st.sampled_from(CANONICAL), CELL, max_size=5))
def test_any_cells_in_a_good_row_are_accounted_for(*, folder: Path, cells: dict[str, str]) -> None:
    row = {**GOOD, **cells}
    path = folder / "cells.csv"
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([list(row), list(row.values())])
    for options in every_option():
        account(path, options=options)


@FUZZ
@given(headers=st.lists(st.one_of(CELL, st.sampled_from(CANONICAL)), max_size=12))
def test_any_headers_are_refused_or_read(*, folder: Path, headers: list[str]) -> None:
    path = folder / "headers.csv"
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([headers, ["x"] * len(headers)])
    account(path, options=Options())


@FUZZ
@given(changes=st.lists(st.tuples(st.integers(0, 10**6), st.integers(0, 255)), min_size=1, max_size=6))
def test_damaged_workbook_is_refused_or_read(*, folder: Path, workbook: bytes, changes: list[tuple[int, int]]) -> None:
    content = bytearray(workbook)
    for place, value in changes:
        content[place % len(content)] = value
    path = folder / "damaged.xlsx"
    path.write_bytes(content)
    account(path, options=Options())


@FUZZ
@given(
    part=st.sampled_from(
        ["xl/worksheets/sheet1.xml", "xl/workbook.xml", "xl/styles.xml", "xl/_rels/workbook.xml.rels"]
    ),
    changes=st.lists(st.tuples(st.integers(0, 10**6), st.binary(max_size=4)), min_size=1, max_size=4),
)
def test_workbook_with_damaged_markup_is_refused_or_read(
    *, folder: Path, workbook: bytes, part: str, changes: list[tuple[int, bytes]]
) -> None:
    path = folder / "markup.xlsx"
    with zipfile.ZipFile(io.BytesIO(workbook)) as old, zipfile.ZipFile(path, "w") as new:
        for name in old.namelist():
            content = old.read(name)
            for place, piece in changes if name == part else ():
                at = place % len(content)
                content = content[:at] + piece + content[at + len(piece) :]
            new.writestr(name, content)
    account(path, options=Options())
