"""The release receipt as PDF: who took the vehicle away, with what, signed how. Plain values in, bytes out."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

from reportlab.platypus import Flowable, KeepTogether, Spacer

from inventory.papers.pages import Cover, on_letter_pages
from inventory.papers.parts import SPAN, SignaturePrinted, boxed, facts_table, headed, signed_sides
from inventory.papers.text import heading, paragraph


@dataclass(frozen=True, kw_only=True)
class ReleaseReceiptPaper:
    lot_name: str
    lot_address: str
    stock_number: str
    made: str
    facts: Sequence[tuple[str, str]]
    note: str
    caution: str
    signatures: Sequence[SignaturePrinted]


def release_receipt(paper: ReleaseReceiptPaper) -> bytes:
    name = f"Release receipt {paper.stock_number}"
    cover = Cover(title=name, author=paper.lot_name, foot_left=name, foot_middle=paper.made)
    return on_letter_pages(partial(_story, paper), cover=cover)


def _story(paper: ReleaseReceiptPaper) -> list[Flowable]:
    story = headed(f"Release receipt {paper.stock_number}", lot_name=paper.lot_name, lot_address=paper.lot_address)
    story += [boxed(paper.caution), Spacer(1, 6), facts_table(paper.facts)]
    story += [paragraph("Note", width=SPAN, style=heading), paragraph(paper.note.strip() or "none", width=SPAN)]
    signed = [paragraph("Signatures", width=SPAN, style=heading), signed_sides(paper.signatures)]
    return [*story, KeepTogether(signed)]
