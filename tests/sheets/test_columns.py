"""Which header is which column; what could be two things is asked."""

import pytest

from inventory.errors import Refused
from inventory.sheets.columns import CANONICAL, columns_named, match_columns, require_clear

PLAIN = ["year", "make", "model", "ended_on", "price"]


@pytest.mark.parametrize(
    ("header", "column"),
    [
        *(("Sale Date", "ended_on"), ("sold price", "price"), ("Yr", "year"), ("odometer", "mileage")),
        *(("Colour", "color"), ("STOCK #", "stock_number"), ("Stock No.", "stock_number"), ("V.I.N.", "vin")),
        *(("  Sale   Price (USD) ", "price"), ("saleDate", "ended_on"), ("sale_date", "ended_on")),
        *(("Sale-Price $", "price"), ("Mileage (km)", "mileage"), ("Odometer [mi]", "mileage")),
        *(("Mods.", "modifications"), ("Title Status", "title_brand"), ("Asking price (first)", "")),
        *(("Couleur", ""), ("", ""), ("Prix de vente", ""), ("Modèle", ""), ("Módel", "model")),
    ],
)
def test_usual_wordings_name_their_column(*, header: str, column: str) -> None:
    expected = () if not column else (column,)
    # "Asking price (first)" without its brackets could be the first or the last ask.
    assert columns_named(header) == (("first_ask", "last_ask") if header.startswith("Asking") else expected)


@pytest.mark.parametrize("column", CANONICAL)
def test_every_canonical_name_names_itself(column: str) -> None:
    for header in (column, column.upper(), column.replace("_", " ").title(), column.replace("_", "")):
        assert columns_named(header) == (column,)


def test_headers_are_matched_and_the_rest_is_reported() -> None:
    found = match_columns(["Price", "Yr", "Shoe size", "Make", "Model", "", "Sale date"], chosen={})
    assert found.columns == {"price": 0, "year": 1, "make": 3, "model": 4, "ended_on": 6}
    assert found.ignored == ("Shoe size", "column 6")
    assert (found.unclear, found.missing) == ((), ())


@pytest.mark.parametrize(
    ("headers", "unclear"),
    [
        ([*PLAIN, "Sold price"], (("price", "Sold price"), ("price",))),
        ([*PLAIN, "price"], (("price (column 5)", "price (column 6)"), ("price",))),
        ([*PLAIN, "Asking price"], (("Asking price",), ("first_ask", "last_ask"))),
        ([*PLAIN, "Date"], (("Date",), ("arrived_on", "listed_on"))),
        (["year", "make", "model", "Date", "price"], (("Date",), ("arrived_on", "listed_on", "ended_on"))),
    ],
)
def test_what_could_be_two_things_is_unclear(
    *, headers: list[str], unclear: tuple[tuple[str, ...], tuple[str, ...]]
) -> None:
    (found,) = match_columns(headers, chosen={}).unclear
    assert (found.headers, found.columns) == unclear
    with pytest.raises(Refused, match="could be"):
        require_clear(match_columns(headers, chosen={}))


def test_choice_settles_what_is_unclear_and_the_other_header_is_reported() -> None:
    found = match_columns([*PLAIN, "Sold for"], chosen={"price": "sold FOR"})
    assert found.columns["price"] == 5
    assert found.ignored == ("price",)
    require_clear(found)


def test_ignored_header_no_longer_asks() -> None:
    found = match_columns([*PLAIN, "Date"], chosen={}, ignore=["date"])
    assert (found.unclear, found.ignored) == ((), ("Date",))


def test_repeated_header_can_be_chosen_by_its_place() -> None:
    found = match_columns([*PLAIN, "price"], chosen={"price": "price (column 6)"})
    assert found.columns["price"] == 5


@pytest.mark.parametrize(
    ("chosen", "words"),
    [
        ({"prise": "price"}, "Did you mean price"),
        ({"xyzzy": "price"}, "The columns are"),
        ({"price": "Sold for"}, "no header"),
        ({"price": "make", "trim": "make"}, "two columns"),
    ],
)
def test_choice_of_what_is_not_there_is_refused(*, chosen: dict[str, str], words: str) -> None:
    with pytest.raises(Refused, match=words):
        match_columns(PLAIN, chosen=chosen)


@pytest.mark.parametrize("gone", PLAIN)
def test_missing_required_column_is_named(gone: str) -> None:
    with pytest.raises(Refused, match=f"No column for {gone}"):
        require_clear(match_columns([header for header in PLAIN if header != gone] + ["other"], chosen={}))


def test_price_column_may_be_absent_where_results_are_given() -> None:
    require_clear(match_columns([*PLAIN[:4], "result"], chosen={}))


def test_reason_of_a_rejects_file_is_passed_over_in_silence() -> None:
    found = match_columns([*PLAIN, "reject_reason", "reason"], chosen={})
    assert found.ignored == ()
    assert found.columns["reason"] == 6


@pytest.mark.parametrize(("header", "km"), [("Mileage (km)", True), ("Kilometres", True), ("Odometer", False)])
def test_header_may_say_kilometres(*, header: str, km: bool) -> None:
    assert match_columns([*PLAIN, header], chosen={}).mileage_in_km() is km
