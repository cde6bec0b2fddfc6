"""Release receipt, bill of sale and deposit receipt: text from outside is never markup, pages are counted."""

import io
from dataclasses import replace
from typing import Any

from pypdf import PdfReader

from inventory.papers.bill_of_sale import BillOfSalePaper, bill_of_sale
from inventory.papers.deposit_receipt import DepositReceiptPaper, deposit_receipt
from inventory.papers.parts import SignaturePrinted
from inventory.papers.release_receipt import ReleaseReceiptPaper, release_receipt

LOT: dict[str, Any] = {
    "lot_name": "Larkspur <i>Yard</i>", "lot_address": "", "stock_number": "26-0009", "made": "Made 2026-03-16",
}  # fmt: skip
UGLY = "Bo <b>Larkin</b> & Søn\u202e"
BILL = BillOfSalePaper(
    **LOT, caution="To be reviewed.", parties=[("Buyer", UGLY)], vehicle=[("Vehicle", "1968 Merrow Alder")],
    money=[("Price", "$48,500.00"), ("To be paid", "$48,500.00")], paid=[("Balance", "$48,500.00")], beside=[],
    conditions=["As written."], sides=[f"Buyer: {UGLY}", "For the lot", "Third side"],
)  # fmt: skip
DEPOSIT = DepositReceiptPaper(
    **LOT, caution="To be reviewed.", facts=[("Buyer", UGLY)], conditions=["Held."], sides=["Buyer"]
)
RELEASE = ReleaseReceiptPaper(
    **LOT, facts=[("Collected by", UGLY)], note=UGLY, caution="Check who collects it.",
    signatures=[SignaturePrinted(side="Received by", name=UGLY, words="Signed by typing the name.")],
)  # fmt: skip


def pages(content: bytes) -> list[str]:
    return [" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(content)).pages]


def test_text_from_outside_is_printed_as_it_was_given() -> None:
    for content in (bill_of_sale(BILL), deposit_receipt(DEPOSIT), release_receipt(RELEASE)):
        said = " ".join(pages(content))
        assert "Bo <b>Larkin</b> & Søn[U+202E]" in said
        assert "Larkspur <i>Yard</i>" in said
        assert "Made 2026-03-16" in said
        assert "Page 1 of 1" in said


def test_same_values_give_the_same_bytes() -> None:
    assert bill_of_sale(BILL) == bill_of_sale(replace(BILL))
    assert release_receipt(RELEASE) != release_receipt(replace(RELEASE, note="other"))


def test_many_payments_run_over_pages_with_their_sum_at_the_end() -> None:
    paid = [(f"Payment {number}", "$1.00") for number in range(1, 81)]
    found = pages(bill_of_sale(replace(BILL, paid=[*paid, ("Balance", "$48,420.00")])))
    assert len(found) == 3
    assert "Page 3 of 3" in found[2]
    assert "Balance $48,420.00" in " ".join(found)
