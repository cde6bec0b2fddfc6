"""The three kinds of sheet are read by one machinery: names mean one thing, and no row gets lost."""

import csv
from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.errors import Refused
from inventory.rules.floor_words import Premium
from inventory.sheets import ELSEWHERE, PAST_SALES, STOCK, Kind, Options, Outcome, Reject, Repeat, Row, read_sheet
from inventory.sheets.columns import columns_named, match_columns
from inventory.sheets.readers import read_mail, read_rate
from inventory.sheets.words import CHOICES
from tests.sheets.build import TODAY, write_text
from tests.sheets.test_fuzz import CELL, FUZZ, require_one_line

GOOD = {
    ELSEWHERE: {"source": "county meet", "ended_on": "2026-03-04", "price": "21500", "year": "1968", "make": "Merrow",
                "model": "Alder"},
    STOCK: {"year": "1968", "make": "Merrow", "model": "Alder", "consignor_name": "Ada Fenwick"},
}  # fmt: skip


def read(folder: Path, *, kind: Kind[Any], rows: list[Mapping[str, str]]) -> list[Outcome[Any]]:
    path = folder / "sheet.csv"
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, list(dict.fromkeys(name for row in rows for name in row)), restval="")
        writer.writeheader()
        writer.writerows(rows)
    return list(read_sheet(path, kind=kind, name=path.name, options=Options(), today=TODAY))


@pytest.mark.parametrize("kind", [PAST_SALES, ELSEWHERE, STOCK], ids=lambda kind: kind.layout.holds)
def test_every_usual_name_means_one_column(kind: Kind[Any]) -> None:
    names = [name for wordings in kind.layout.names.values() for name in wordings.split("|")]
    twice = {name for name in names if names.count(name) > 1} | set(names) & {
        name for wordings in kind.layout.two_ways for name in wordings.split("|")
    }
    assert not twice


def test_headings_of_the_stock_sheet_are_each_understood() -> None:
    headings = [column.replace("_", " ") for column in STOCK.layout.columns]
    found = match_columns(headings, chosen={}, layout=STOCK.layout)
    assert tuple(found.columns) == STOCK.layout.columns
    assert not found.unclear


@pytest.mark.parametrize(
    ("kind", "header", "columns"),
    [
        (PAST_SALES, "venue", ("channel",)),
        (ELSEWHERE, "Venue", ("source",)),
        (ELSEWHERE, "Buyer's premium", ("premium",)),
        (ELSEWHERE, "Sold", ("sold", "ended_on", "price")),
        (STOCK, "Commission %", ("commission_rate",)),
        (STOCK, "Minimum", ("commission_minimum", "floor")),
    ],
)
def test_one_word_means_what_its_kind_of_sheet_means(kind: Kind[Any], header: str, columns: tuple[str, ...]) -> None:
    assert columns_named(header, layout=kind.layout) == columns


@pytest.mark.parametrize(("cell", "sold"), [("sold", True), ("", True), ("RNM", False), ("Bid to", False)])
def test_high_bid_is_no_sale(tmp_path: Path, *, cell: str, sold: bool) -> None:
    (row,) = read(tmp_path, kind=ELSEWHERE, rows=[{**GOOD[ELSEWHERE], "sold or not": cell, "fees": "on top"}])
    assert isinstance(row, Row)
    assert (row.record.sold, row.record.premium) == (sold, "added")
    assert set(CHOICES["premium"]) == set(Premium)


def test_terms_are_whole_or_not_there(tmp_path: Path) -> None:
    terms = {"commission": "9", "agreement starts": "2026-01-02", "agreement ends": "2026-07-02"}
    (whole,) = read(tmp_path, kind=STOCK, rows=[{**GOOD[STOCK], **terms}])
    (part,) = read(tmp_path, kind=STOCK, rows=[{**GOOD[STOCK], "commission": "9", "floor": "9000"}])
    assert isinstance(whole, Row)
    assert isinstance(part, Row)
    assert (whole.record.commission_rate, whole.record.agreement_ends_on) == (Decimal(9), date(2026, 7, 2))
    assert (whole.record.has_terms(), part.record.has_terms()) == (True, False)
    assert "What the row says of commission rate, floor was not kept" in part.warnings[0].message


@pytest.mark.parametrize("text", ["0.1", "101", "nine", "9,5", "-3", "٣"])
def test_rate_that_could_be_two_things_is_refused(text: str) -> None:
    with pytest.raises(Refused, match="not a rate in percent"):
        read_rate(text, field="commission_rate")
    assert read_rate(9.5, field="commission_rate") == Decimal("9.5")


@pytest.mark.parametrize("text", ["ada", "ada@home", "a@example.org, b@example.org", "Ada <a@example.org>"])
def test_one_address_is_asked_for(text: str) -> None:
    with pytest.raises(Refused, match="not one e-mail address"):
        read_mail(text, field="consignor_email")


@pytest.mark.parametrize("kind", [ELSEWHERE, STOCK], ids=lambda kind: kind.layout.holds)
@settings(FUZZ, max_examples=50)
@given(data=st.data())
def test_every_row_is_accounted_for_whatever_is_in_it(
    tmp_path_factory: pytest.TempPathFactory, kind: Kind[Any], data: st.DataObject
) -> None:
    changes = data.draw(st.lists(st.dictionaries(st.sampled_from(kind.layout.columns), CELL), min_size=1, max_size=4))
    rows = [{column.replace("_", " "): cell for column, cell in {**GOOD[kind], **change}.items()} for change in changes]
    try:
        found = read(tmp_path_factory.getbasetemp(), kind=kind, rows=rows)
    except Refused as refusal:
        require_one_line(refusal)
        return
    assert all(isinstance(outcome, Row | Repeat | Reject) for outcome in found)
    assert len({outcome.row for outcome in found}) == len(found)
    assert all(outcome.reason for outcome in found if isinstance(outcome, Reject))


def test_template_of_a_wrong_kind_names_what_is_missing(tmp_path: Path) -> None:
    path = write_text(tmp_path, text="year,make,model,ended_on,price\n1968,Merrow,Alder,2026-01-02,9000\n")
    with pytest.raises(Refused, match="No column for consignor_name"):
        read_sheet(path, kind=STOCK, name=path.name, options=Options(), today=TODAY)
