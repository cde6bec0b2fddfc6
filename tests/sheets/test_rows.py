"""Rows as a whole: choices by wording, facts against each other, repeats, warnings, hashes."""

from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from inventory.rules import words
from inventory.sheets import Options, Reject, Repeat, Row, read_sales
from inventory.sheets.words import CHOICES
from tests.sheets.build import TODAY, bad, good, open_sales, outcome_of, outcomes, write_text, write_workbook

HEADER = "stock,year,make,model,ended_on,price"


@pytest.mark.parametrize(
    ("column", "text", "value"),
    [
        *(("build_class", "Frame-off restoration", "restored"), ("build_class", "Resto-Mod", "modified")),
        *(("build_class", "Replica or re-bodied", "replica"), ("title_brand", "Clear", "clean")),
        *(("title_brand", "unknown", None), ("channel", "Walk-in", "lot"), ("channel", "WEBSITE", "online")),
        *(("odometer_status", "Exceeds mechanical limits", "over_limit"), ("build_class", "", None)),
    ],
)
def test_choice_is_read_by_its_usual_wording(tmp_path: Path, *, column: str, text: str, value: str | None) -> None:
    assert getattr(good(outcome_of(tmp_path, cells={column: text})).sale, column) == value


@pytest.mark.parametrize(
    ("column", "enumeration"),
    [
        *(("build_class", words.BuildClass), ("odometer_status", words.OdometerStatus)),
        *(("title_brand", words.TitleBrand), ("reason", words.WithdrawalReason), ("channel", words.SaleChannel)),
    ],
)
def test_every_value_of_the_house_can_be_imported(*, column: str, enumeration: type[words.BuildClass]) -> None:
    assert set(CHOICES[column]) == set(enumeration.values)
    for value, label in enumeration.choices:
        wordings = CHOICES[column][value].split("|")
        assert value.replace("_", " ") in wordings
        assert label.replace("-", " ") in wordings


@pytest.mark.parametrize("column", ["build_class", "title_brand", "channel", "result"])
def test_unknown_word_is_rejected_with_those_allowed(tmp_path: Path, *, column: str) -> None:
    found = bad(outcome_of(tmp_path, cells={column: "marzipan"}))
    assert found.column == column
    assert "Use one of" in found.reason


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        *(("disc brakes; headers, long", ("disc brakes", "headers, long")), ("carb, cam", ("carb", "cam"))),
        *(("new hood,\nnew top", ("new hood,", "new top")), ("none", ()), ("Stock", ()), ("?", None), ("", None)),
    ],
)
def test_modifications_are_parted(tmp_path: Path, *, text: str, parts: tuple[str, ...] | None) -> None:
    assert good(outcome_of(tmp_path, cells={"modifications": text})).sale.modifications == parts


@pytest.mark.parametrize(
    ("cells", "column"),
    [
        ({"price": ""}, "price"),
        ({"result": "withdrawn"}, "price"),
        ({"ended_on": "2026-06-02"}, "ended_on"),
        ({"arrived_on": "2020-06-16"}, "ended_on"),
        ({"listed_on": "2020-06-16"}, "ended_on"),
        ({"arrived_on": "2020-06-10", "listed_on": "2020-06-09"}, "listed_on"),
        ({"ended_on": "1885-01-01"}, "ended_on"),
        ({"year": "2023"}, "year"),
        ({"first_ask": "0"}, "first_ask"),
        ({"model": "unknown"}, "model"),
        ({"make": "x" * 201}, "make"),
        ({"modifications": "x" * 201}, "modifications"),
        ({"stock_number": "x" * 41}, "stock_number"),
        ({"vin": "x" * 31}, "vin"),
        ({"vin": "1M8GDM9AXKP04278É"}, "vin"),
        ({"vin": "1.23457E+16"}, "vin"),
        ({"result": "withdrawn", "price": "", "reason": "weather"}, "reason"),
    ],
)
def test_fact_that_cannot_stand_is_rejected(tmp_path: Path, *, cells: dict[str, str], column: str) -> None:
    assert bad(outcome_of(tmp_path, cells=cells)).column == column


@pytest.mark.parametrize(
    "cells",
    [
        {"ended_on": "2026-06-01"},
        {"year": "2022"},
        {"arrived_on": "2020-06-15", "listed_on": "2020-06-15"},
        {"result": "withdrawn", "price": "n/a", "reason": "Owner changed mind"},
        {"vin": "1M8GDM9AXKP042788", "year": "1989"},
        {"vin": "62-MM 01044"},
    ],
)
def test_fact_at_the_edge_is_good_without_a_warning(tmp_path: Path, *, cells: dict[str, str]) -> None:
    assert good(outcome_of(tmp_path, cells=cells)).warnings == ()


@pytest.mark.parametrize(
    ("cells", "column"),
    [
        ({"vin": "1G4AH59H45G113841", "year": "2005"}, "vin"),
        ({"vin": "12345", "year": "2005"}, "vin"),
        ({"first_ask": "215000"}, "price"),
        ({"first_ask": "20000", "last_ask": "21000"}, "last_ask"),
        ({"reason": "price"}, "reason"),
        ({"mileage": "45210.4"}, "mileage"),
    ],
)
def test_odd_row_is_imported_with_a_warning(tmp_path: Path, *, cells: dict[str, str], column: str) -> None:
    assert [warned.column for warned in good(outcome_of(tmp_path, cells=cells)).warnings] == [column]


def test_stockless_rows_that_say_the_same_are_one_sale(tmp_path: Path) -> None:
    text = f"{HEADER}\n,1962,Corvane,M,2020-06-15,1\n,1962,CORVANE,m,June 15 2020,$1.00\n,1962,Corvane,M,2020-06-15,2\n"
    first, second, third = outcomes(write_text(tmp_path, text=text))
    assert isinstance(second, Repeat)
    assert (good(first).row, second.of, good(third).row) == (2, 2, 4)
    assert "row 2" in second.warning.message


def test_stock_number_with_other_facts_is_rejected_and_with_the_same_is_a_repeat(tmp_path: Path) -> None:
    text = f"{HEADER}\nA1,1962,C,M,2020-06-15,1\na1,1962,C,M,2020-06-15,2\nA1,1962,C,M,2020-06-15,1.00\n"
    first, second, third = outcomes(write_text(tmp_path, text=text))
    assert good(first).row == 2
    assert (bad(second).column, bad(second).value) == ("stock_number", "a1")
    assert isinstance(third, Repeat)


def test_same_facts_hash_the_same_from_text_and_workbook(tmp_path: Path) -> None:
    text = 'stock,year,make,model,ended_on,price,mileage\n17,1962,C,M,6/15/2020,"$21,500",45k\n'
    row = [17, 1962.0, "c", "M ", date(2020, 6, 15), 21500, 45000]
    path = write_workbook(tmp_path, rows=[text.splitlines()[0].split(","), row])
    (written,), (typed,) = outcomes(write_text(tmp_path, text=text)), outcomes(path)
    assert good(written).content_hash == good(typed).content_hash


@pytest.mark.parametrize("column", ["price", "model", "mileage", "trim", "title_brand", "modifications", "first_ask"])
def test_other_facts_hash_otherwise(tmp_path: Path, *, column: str) -> None:
    base = {"trim": "Deluxe", "mileage": "4", "title_brand": "clean", "modifications": "a", "first_ask": "30000"}
    other = {**base, column: {"title_brand": "flood", "modifications": "none"}.get(column, "29999")}
    hashes = {good(outcome_of(tmp_path, cells=cells)).content_hash for cells in (base, other)}
    assert len(hashes) == 2


def test_unknown_columns_and_low_scales_are_reported(tmp_path: Path) -> None:
    rows = "".join(f"1962,C,M{number},2020-06-15,1,{number},x\n" for number in range(1, 7))
    found = open_sales(write_text(tmp_path, text=f"year,make,model,ended_on,price,condition,mood\n{rows}"))
    assert any("“mood”" in warning for warning in found.warnings)
    assert any("nothing above 10" in warning for warning in found.warnings)


def test_progress_ends_at_the_total_and_never_falls(tmp_path: Path) -> None:
    rows = "".join(f"1962,C,M{number},2020-06-15,1\n\n" for number in range(1234))
    path = write_text(tmp_path, text=f"year,make,model,ended_on,price\n{rows}")
    seen: list[tuple[int, int]] = []

    def note(done: int, total: int) -> None:
        seen.append((done, total))

    found = read_sales(path, name=path.name, options=Options(), today=TODAY, progress=note)
    assert found.total == len(list(found)) == 1234
    assert seen == [(500, 1234), (1000, 1234), (1234, 1234)]


def test_file_can_be_run_through_twice(tmp_path: Path) -> None:
    found = open_sales(write_text(tmp_path, text=f"{HEADER}\n,1962,C,M,2020-06-15,1\nA,19,C,M,2020-06-15,1\n"))
    assert list(found) == list(found)
    assert [type(outcome) for outcome in found] == [Row, Reject]


def test_values_are_exact(tmp_path: Path) -> None:
    sale = good(outcome_of(tmp_path, cells={"price": "$21,500.10"})).sale
    assert sale.price == Decimal("21500.10")
    assert sale.result == "sold"
