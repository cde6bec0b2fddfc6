"""Window sheet, condition report, agreement and statement: escaped, repeatable, numbered, and their code is read."""

import io
import shutil
import subprocess
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from pypdf import PdfReader

from inventory.papers.agreement import AgreementPaper, agreement
from inventory.papers.condition_report import ConditionReportPaper, PhotoPrinted, StationPrinted, condition_report
from inventory.papers.statement import StatementPaper, statement
from inventory.papers.window_sheet import WindowSheetPaper, window_sheet

UGLY = "Bo <b>Larkin</b> & Søn\u202e"
LOT: dict[str, Any] = {"lot_name": UGLY, "lot_address": "", "demo": "", "made": "Made 2026-03-16"}
ADDRESS = "https://lot.example/for-sale/6f1f3a52-0f0e-4a57-9d5c-2f5f7a1c9b11/"
SHEET = WindowSheetPaper(
    **LOT, lot_contact="555 0142", stock_number="26-0009", vehicle="1968 Merrow Alder", ask="$48,500.00",
    page_address=ADDRESS, facts=[("Odometer", UGLY)], modifications=[], faults=[], caution="See it.",
)  # fmt: skip
REPORT = ConditionReportPaper(
    **LOT, stock_number="26-0009", caution="A mechanic decides.", flags=[], cleared=[], facts=[("Vehicle", UGLY)],
    faults=[], stations=[], components=[], component_notes=[], modifications=[], photos=[],
)  # fmt: skip
AGREEMENT = AgreementPaper(
    **LOT, stock_number="26-0009", version=2, standing="", caution="To be reviewed by a lawyer.",
    parties=[("The consignor", UGLY)], vehicle=[("Vehicle", "1968 Merrow Alder")], title=[("Lien", "none")],
    points=[("Commission", "9 %")], net_head="What a sale would leave", net_note="No promise.", nets=[],
    net_questions=[], signed="", accepted="", accepted_text="", sides=["For the lot", f"Consignor: {UGLY}"],
)  # fmt: skip
STATEMENT = StatementPaper(
    **LOT, number="S-00001", marks=[], facts=[("Consignor", UGLY)], lines=[("Due to the consignor", "$1.00")],
    payees=[], payments=[], left="", notes=["No taxes."],
)  # fmt: skip
MAKERS: list[tuple[Callable[[Any], bytes], Any]] = [
    (window_sheet, SHEET), (condition_report, REPORT), (agreement, AGREEMENT), (statement, STATEMENT),
]  # fmt: skip


def pages(content: bytes) -> list[str]:
    return [" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(content)).pages]


@pytest.mark.parametrize(("make", "paper"), MAKERS, ids=lambda one: getattr(one, "__name__", ""))
def test_text_is_printed_as_it_was_given_with_the_same_bytes_each_time(
    make: Callable[[Any], bytes], paper: Any
) -> None:
    content = make(paper)
    said = " ".join(pages(content))
    assert said.count("Bo <b>Larkin</b> & Søn[U+202E]") >= 2
    assert "Page 1 of 1" in said
    assert content == make(replace(paper))


def test_code_of_the_window_sheet_is_read_off_the_print(tmp_path: Path) -> None:
    zxingcpp = pytest.importorskip("zxingcpp")
    if shutil.which("pdftoppm") is None:
        pytest.skip("pdftoppm is not installed")
    (tmp_path / "sheet.pdf").write_bytes(window_sheet(SHEET))
    subprocess.run(["pdftoppm", "-r", "150", "-gray", "-png", "sheet.pdf", "sheet"], cwd=tmp_path, check=True)
    with Image.open(tmp_path / "sheet-1.png") as printed:
        assert [code.text for code in zxingcpp.read_barcodes(printed)] == [ADDRESS]
    assert ADDRESS in pages(window_sheet(SHEET))[0]


def test_full_window_sheet_stays_on_one_page_and_one_too_full_drops_nothing() -> None:
    facts = [(f"Fact {number}", "seen and measured") for number in range(14)]
    faults = [f"Fault {number}: needs repair" for number in range(1, 17)]
    full = pages(window_sheet(replace(SHEET, facts=facts, faults=faults)))
    assert len(full) == 1
    many = pages(window_sheet(replace(SHEET, faults=[f"Fault {number}." for number in range(1, 121)])))
    assert len(many) > 1
    assert "Fault 120." in many[-1]


def test_report_tells_stations_flags_and_what_has_no_picture() -> None:
    picture = io.BytesIO()
    Image.new("RGB", (90, 60)).save(picture, "JPEG")
    shown = PhotoPrinted(content=picture.getvalue(), width=90, height=60, caption="nose")
    station = StationPrinted(
        title="Front", visited="Nobody was here.", checks=[(f"Check {n}", "NOT SEEN", "") for n in range(60)]
    )
    full = replace(
        REPORT, flags=["Tread: too low"], stations=[station],
        photos=[shown, replace(shown, content=b"", caption="tail"), shown, shown],
    )  # fmt: skip
    found = pages(condition_report(full))
    said = " ".join(found)
    assert said.index("Tread: too low") < said.index("The vehicle")
    assert said.count("NOT SEEN") == 60
    assert "The picture's file was not found. tail" in said
    assert f"Page {len(found)} of {len(found)}" in found[-1]
    assert sum("Check Found" in page for page in found) > 1


def test_report_of_nothing_says_so() -> None:
    said = " ".join(pages(condition_report(REPORT)))
    assert "None is open. Only what was looked at" in said
    assert "Not known: no inspection is finished." in said
    assert "None that may be shown." in said


def test_agreement_carries_its_caution_on_every_page_and_signs_or_tells_who_accepted() -> None:
    long = replace(AGREEMENT, points=[(f"Point {number}", "Said. " * 40) for number in range(30)])
    found = pages(agreement(long))
    assert len(found) > 2
    assert all("To be reviewed by a lawyer." in page for page in found)
    assert "Signature, printed name, date" in found[-1]
    accepted = replace(AGREEMENT, accepted="Accepted on 2026-03-16 by Ada", accepted_text="The exact text. " * 120)
    said = " ".join(pages(agreement(accepted)))
    assert "Signature, printed name, date" not in said
    assert said.count("The exact text.") == 120


def test_statement_of_sixty_lines_ends_with_its_sum() -> None:
    lines = [(f"Charge {number}", "−$1.00") for number in range(60)]
    marked = replace(STATEMENT, lines=[*lines, ("Due from the consignor", "$60.00")], marks=["REVERSAL: S-1"])
    found = pages(statement(marked))
    assert len(found) > 1
    assert "REVERSAL: S-1" in found[0]
    assert "Due from the consignor $60.00" in " ".join(found)
