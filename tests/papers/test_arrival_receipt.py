"""The arrival receipt read back: every value, the pages, the same bytes, and text that tries to be markup."""

import io
from dataclasses import replace
from typing import Any

import pytest
from pypdf import PdfReader

from inventory.papers.arrival_receipt import ArrivalReceiptPaper, arrival_receipt
from inventory.papers.parts import SignaturePrinted

HAND = [[[100, 100], [200, 300], [300, 90], [500, 310]], [[650, 200]]]
GIVER = SignaturePrinted(
    side="Handed over by", name="Ada Fenwick", signs_as="owner", when="Signed 2026-03-16 10:00 CDT", strokes=HAND
)
TAKER = SignaturePrinted(
    side="Taken in for the lot by", name="Ines Quarles", when="Signed 2026-03-16 10:00 CDT",
    words="Signed by typing the name.",
)  # fmt: skip
PAPER = ArrivalReceiptPaper(
    lot_name="Larkspur Yard", lot_address="12 Larkspur Lane\nInvented Falls", stock_number="26-0009", number=2,
    replaces="Replaces no. 1 of 2026-03-15 09:00 CDT.", made="Made 2026-03-16 10:00 CDT",
    facts=[("VIN or serial", "8A17J104221"), ("Odometer", "Odometer shows 61,240 miles; status not stated")],
    damage=[("left door", "scratch, 4 inches")], items=[("car cover", 2)], note="keys on hook 7",
    caution="Received for inspection and possible sale; not a sale. Check local law.", signatures=[GIVER, TAKER],
)  # fmt: skip


def read(**changes: Any) -> PdfReader:
    return PdfReader(io.BytesIO(arrival_receipt(replace(PAPER, **changes))))


def text(**changes: Any) -> str:
    return " ".join(" ".join(page.extract_text() for page in read(**changes).pages).split())


def drawn(paper: PdfReader) -> bytes:
    return b"".join(page.get_contents().get_data() for page in paper.pages)  # type: ignore[union-attr]


def test_every_value_stands_on_the_paper() -> None:
    said = text()
    for value in (
        "Larkspur Yard", "12 Larkspur Lane", "Invented Falls", "Arrival receipt 26-0009, no. 2",
        "Replaces no. 1 of 2026-03-15 09:00 CDT.", "Made 2026-03-16 10:00 CDT", "8A17J104221",
        "Odometer shows 61,240 miles; status not stated", "left door", "scratch, 4 inches", "car cover",
        "keys on hook 7",
        "Received for inspection and possible sale; not a sale. Check local law.", "Ada Fenwick, owner",
        "Ines Quarles", "Signed 2026-03-16 10:00 CDT", "Signed by typing the name.", "Page 1 of 1",
    ):  # fmt: skip
        assert value in said, value


def test_same_values_give_the_same_bytes_and_others_do_not() -> None:
    assert arrival_receipt(PAPER) == arrival_receipt(replace(PAPER))
    assert arrival_receipt(PAPER) != arrival_receipt(replace(PAPER, number=3))


def test_empty_lists_say_none_noted() -> None:
    said = text(damage=[], items=[], note="", replaces="", lot_address="")
    assert said.count("none noted") == 2
    assert "Note none" in said
    assert "Replaces" not in said


def test_forty_lines_of_damage_run_over_pages_with_their_head_again() -> None:
    damage = [(f"panel {number}", f"mark number {number} of many, " + "long " * 15) for number in range(1, 41)]
    paper = read(damage=damage)
    pages = [" ".join(page.extract_text().split()) for page in paper.pages]
    assert len(pages) == 3
    for number, page in enumerate(pages, start=1):
        assert f"Page {number} of 3" in page
        assert "26-0009, arrival receipt 2" in page
    with_damage = [page for page in pages if "of many" in page]
    assert len(with_damage) == 3
    assert all("No. Where What" in page for page in with_damage)
    for number in range(1, 41):
        assert sum(f"mark number {number} of many" in page for page in pages) == 1


def test_strokes_are_lines_of_the_page_and_no_picture() -> None:
    paper = read()
    assert not [image for page in paper.pages for image in page.images]
    # By hand: the field of 1000 is drawn 240 points wide, so 100 across is 24, and 100 down of 400 is 96 - 24 = 72.
    lines = b" ".join(drawn(paper).split())
    assert b"n 24 72 m 48 24 l 72 74.4 l 120 21.6 l S" in lines
    assert b"n 156 48 m 156 48 l S" in lines
    assert b"n 24 72 m" not in b" ".join(drawn(read(signatures=[replace(GIVER, strokes=()), TAKER])).split())


def test_unsigned_side_says_why() -> None:
    unsigned = SignaturePrinted(
        side="Handed over by", name="Ada Fenwick", signs_as="carrier or driver",
        words="Not signed by the other side, because: dropped off after hours",
    )  # fmt: skip
    assert "Not signed by the other side, because: dropped off after hours" in text(signatures=[unsigned, TAKER])


@pytest.mark.parametrize(
    "ugly",
    [
        "<b>bold", "Smith & Sons <joe@example.org> said", "&amp; &#65;", "<img src='file:///etc/passwd'/>", "</para>",
        "Łódź, Ñandú, Žižka, Ελλάδα, Москва", "“quotes” – dashes … €", "%s {0} \\n",
    ],
)  # fmt: skip
def test_ugly_text_is_printed_as_it_is(ugly: str) -> None:
    said = text(
        lot_name=ugly,
        damage=[(ugly, ugly)],
        items=[(ugly, 1)],
        note=ugly,
        signatures=[replace(GIVER, name=ugly), TAKER],
    )
    assert said.count(" ".join(ugly.split())) == 6


@pytest.mark.parametrize("name", ["W" * 200, "Ada " * 50, "ł" * 200])
def test_name_of_200_characters_is_printed_whole(name: str) -> None:
    said = text(signatures=[replace(GIVER, name=name), TAKER], damage=[(name[:60], name)])
    assert said.replace(" ", "").count(name.replace(" ", "")) == 2
    assert len(read(signatures=[replace(GIVER, name=name), replace(TAKER, name=name)]).pages) == 1


def test_note_with_lines_keeps_them() -> None:
    page = read(note="first\r\nsecond\rthird").pages[0].extract_text()
    assert "first\nsecond\nthird" in page


def test_paper_names_its_language_and_title() -> None:
    paper = read()
    assert paper.metadata is not None
    assert paper.metadata.title == "Arrival receipt 26-0009, no. 2"
    assert paper.trailer["/Root"]["/Lang"] == "en-US"  # type: ignore[index]
    assert [float(side) for side in paper.pages[0].mediabox[2:]] == [612, 792]
