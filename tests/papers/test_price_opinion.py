"""The price opinion read back: every value, the pages, the same bytes, long names and right-to-left ones."""

import io
from dataclasses import replace
from typing import Any

import pytest
from pypdf import PdfReader

from inventory.papers.price_opinion import PriceOpinionPaper, SalePrinted, price_opinion

# The worked example of the grid: 42,000 and its four lines are 43,860.
SALE = SalePrinted(
    head="1969 Merrow Alder (25-0107)",
    facts=[("Sold on", "2026-01-12"), ("Price", "$42,000.00")],
    lines=[
        ("2026-01-12", "$1,260.00"),
        ("80 of 100", "−$1,500.00"),
        ("60 of 100", "$2,400.00"),
        ("9 miles", "−$300.00"),
    ],
    foot=[("Adjusted price", "$43,860.00"), ("Net adjustment", "4.43 %"), ("Gross adjustment", "13.00 %")],
)
PAPER = PriceOpinionPaper(
    lot_name="Larkspur Yard", lot_address="12 Larkspur Lane\nInvented Falls", demo="", stock_number="26-0009",
    number=31, given="Effective date 2026-03-16. Given 2026-03-16 10:00 CDT, by Odile.",
    caution="An estimate, not an appraisal under any law.",
    subject=[("Vehicle", "1968 Merrow Alder"), ("Mileage", "not known"), ("Condition", "58.6 to 94.1 of 100")],
    band=[("Low", "$36,000.00"), ("Likely", "$44,000.00"), ("High", "$53,000.00")],
    band_said=["Meant to hold 80 of 100 sales like it, on average."],
    parts=[("A typical sale of the lot", "$30,000.00"), ("Make", "$14,000.00"), ("Likely price", "$44,000.00")],
    questions=["Not known: mileage."], grid_said=["Nearest are the sales whose price moves with it."],
    grid_lines=[("The market on the day", "2026-03-16"), ("Condition", "70 of 100"), ("Originality", "75 of 100"),
                ("Mileage", "not known")],
    sales=[SALE], record=["Of the last 60 sales, 48 ended inside the band."], cautions=["No promise."],
)  # fmt: skip


def read(**changes: Any) -> PdfReader:
    return PdfReader(io.BytesIO(price_opinion(replace(PAPER, **changes))))


def text(**changes: Any) -> str:
    return " ".join(" ".join(page.extract_text() for page in read(**changes).pages).split())


def test_every_value_stands_on_the_paper() -> None:
    said = text()
    for value in (
        "Larkspur Yard", "Invented Falls", "Price opinion 26-0009, no. 31", "Effective date 2026-03-16.", "by Odile",
        "An estimate, not an appraisal under any law.", "1968 Merrow Alder", "Mileage not known",
        "58.6 to 94.1 of 100", "Low $36,000.00", "Likely $44,000.00", "High $53,000.00", "Meant to hold 80 of 100",
        "A typical sale of the lot $30,000.00", "Likely price $44,000.00", "Not known: mileage.",
        "1. 1969 Merrow Alder (25-0107)", "80 of 100 −$1,500.00", "Adjusted price $43,860.00", "4.43 %", "13.00 %",
        "Of the last 60 sales, 48 ended inside the band.", "No promise.", "Page 1 of",
    ):  # fmt: skip
        assert value in said, value


def test_same_values_give_the_same_bytes_and_others_do_not() -> None:
    assert price_opinion(PAPER) == price_opinion(replace(PAPER))
    assert price_opinion(PAPER) != price_opinion(replace(PAPER, number=32))


def test_six_sales_stand_in_two_tables_each_with_the_subject_again() -> None:
    sales = [replace(SALE, head=f"sale of {year}") for year in range(1961, 1967)]
    said = text(sales=sales)
    assert "This vehicle 1. sale of 1961 2. sale of 1962 3. sale of 1963" in said
    assert "This vehicle 4. sale of 1964 5. sale of 1965 6. sale of 1966" in said
    assert said.count("$43,860.00") == 6


def test_no_sales_leave_the_reason_alone() -> None:
    said = text(sales=[], grid_lines=[], grid_said=["The fit learned from no other sale."])
    assert "The fit learned from no other sale." in said
    assert "This vehicle" not in said


def test_many_lines_run_over_pages_with_their_head_again() -> None:
    lines = [(f"input {number}", "of the subject") for number in range(60)]
    sale = replace(SALE, lines=[(f"value {number};", "$1.00") for number in range(60)])
    paper = read(grid_lines=lines, sales=[sale])
    pages = [" ".join(page.extract_text().split()) for page in paper.pages]
    for number, page in enumerate(pages, start=1):
        assert f"Page {number} of {len(pages)}" in page
    with_lines = [page for page in pages if "of the subject" in page]
    assert len(with_lines) > 1
    assert all("This vehicle 1. 1969 Merrow Alder" in page for page in with_lines)
    assert all(sum(f"value {number};" in page for page in pages) == 1 for number in range(60))


@pytest.mark.parametrize("name", ["W" * 200, "Merrow " * 28, "ł" * 200])
def test_name_of_200_characters_is_printed_whole(name: str) -> None:
    lines = [(name, "$1.00"), *SALE.lines[1:]]
    said = text(subject=[("Vehicle", name)], sales=[replace(SALE, lines=lines)], record=[name], cautions=[name])
    assert said.replace(" ", "").count(name.replace(" ", "")) == 4


def test_right_to_left_name_is_printed_in_its_order() -> None:
    said = text(subject=[("Vehicle", "שלום")], sales=[replace(SALE, head="שלום")])
    assert said.count("םולש") + said.count("שלום") == 2
    assert "[U+" not in said


@pytest.mark.parametrize("ugly", ["<b>bold", "&amp; &#65;", "</para>", "%s {0} \\n", "Łódź, Ελλάδα, Москва"])
def test_ugly_text_is_printed_as_it_is(ugly: str) -> None:
    said = text(
        lot_name=ugly, subject=[("Vehicle", ugly)], parts=[(ugly, "$1.00"), ("Likely price", "$1.00")],
        sales=[replace(SALE, head=ugly)], cautions=[ugly],
    )  # fmt: skip
    assert said.count(ugly) == 5


def test_demo_is_named_on_the_first_page() -> None:
    assert "all of it is invented" in read(demo="Demo: all of it is invented.").pages[0].extract_text()


def test_paper_names_its_language_and_title() -> None:
    paper = read()
    assert paper.metadata is not None
    assert paper.metadata.title == "Price opinion 26-0009, no. 31"
    assert paper.trailer["/Root"]["/Lang"] == "en-US"  # type: ignore[index]
