"""What of a text the font can print, and what is named instead."""

import pytest

from inventory.papers.text import BOLD, PLAIN, paragraph, printable


@pytest.mark.parametrize("font", [PLAIN, BOLD])
@pytest.mark.parametrize("text", ["Ada Fenwick", "Łódź Ελλάδα Москва", "a\nb", "“–…” × ½ €"])
def test_most_scripts_are_printed(font: str, text: str) -> None:
    assert printable(text, font=font) == text


@pytest.mark.parametrize(
    ("text", "named"),
    [("中", "[U+4E2D]"), ("😀!", "[U+1F600]!"), ("a\x07b", "a[U+0007]b"), ("evil\u202egpj", "evil[U+202E]gpj")],
)
def test_what_cannot_be_printed_is_named(text: str, named: str) -> None:
    assert printable(text) == named


def test_right_to_left_text_is_drawn_in_its_own_order() -> None:
    # Drawn from the left the Hebrew word ends with its first letter; figures keep their order.
    assert paragraph("שלום 123", width=400).getPlainText() == "123 םולש"
    # Arabic letters take the shape of their place: the first of beh-beh is initial (FE91), the last final (FE90).
    assert paragraph("بب", width=400).getPlainText() == "\ufe90\ufe91"


def test_right_to_left_text_is_broken_before_it_is_turned() -> None:
    first, second = "אבגדה", "וזחטי"
    shown = paragraph(f"{first} {second}", width=40)
    assert shown.text.split("<br/>") == [first[::-1], second[::-1]]
