"""The deposit receipt as PDF: how much was taken, until when it holds, whether it goes back. Plain values in."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

from reportlab.platypus import Flowable, KeepTogether, Spacer

from inventory.papers.pages import Cover, on_letter_pages
from inventory.papers.parts import SPAN, boxed, facts_table, headed, signing_lines
from inventory.papers.text import heading, paragraph


@dataclass(frozen=True, kw_only=True)
class DepositReceiptPaper:
    lot_name: str
    lot_address: str
    stock_number: str
    made: str
    caution: str
    facts: Sequence[tuple[str, str]]
    conditions: Sequence[str]
    sides: Sequence[str]


def deposit_receipt(paper: DepositReceiptPaper) -> bytes:
    name = f"Deposit receipt {paper.stock_number}"
    cover = Cover(title=name, author=paper.lot_name, foot_left=name, foot_middle=paper.made)
    return on_letter_pages(partial(_story, paper), cover=cover)


def _story(paper: DepositReceiptPaper) -> list[Flowable]:
    story = headed(f"Deposit receipt {paper.stock_number}", lot_name=paper.lot_name, lot_address=paper.lot_address)
    story += [boxed(paper.caution), Spacer(1, 6), facts_table(paper.facts)]
    story.append(paragraph("What was agreed", width=SPAN, style=heading))
    story += [part for text in paper.conditions for part in (paragraph(text, width=SPAN), Spacer(1, 3))]
    signed = [paragraph("Signatures", width=SPAN, style=heading), signing_lines(paper.sides)]
    return [*story, KeepTogether(signed)]
