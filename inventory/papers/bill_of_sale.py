"""The bill of sale as PDF: who sold what to whom, at what price, and what was paid. Plain values in, bytes out."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

from reportlab.lib.units import inch
from reportlab.platypus import CondPageBreak, Flowable, KeepTogether, Spacer

from inventory.papers.pages import Cover, on_letter_pages
from inventory.papers.parts import SPAN, amounts, boxed, facts_table, headed, signing_lines
from inventory.papers.text import heading, paragraph


@dataclass(frozen=True, kw_only=True)
class BillOfSalePaper:
    """`money` are the lines down to what the buyer owes, `paid` those down to what is open; sums are named by place."""

    lot_name: str
    lot_address: str
    stock_number: str
    made: str
    caution: str
    parties: Sequence[tuple[str, str]]
    vehicle: Sequence[tuple[str, str]]
    money: Sequence[tuple[str, str]]
    paid: Sequence[tuple[str, str]]
    beside: Sequence[str]
    conditions: Sequence[str]
    sides: Sequence[str]


def bill_of_sale(paper: BillOfSalePaper) -> bytes:
    name = f"Bill of sale {paper.stock_number}"
    cover = Cover(title=name, author=paper.lot_name, foot_left=name, foot_middle=paper.made)
    return on_letter_pages(partial(_story, paper), cover=cover)


def _story(paper: BillOfSalePaper) -> list[Flowable]:
    name = f"Bill of sale {paper.stock_number}"
    story = headed(name, lot_name=paper.lot_name, lot_address=paper.lot_address)
    story += [boxed(paper.caution), *_section("Seller and buyer", facts_table(paper.parties))]
    story += _section("The vehicle", facts_table(paper.vehicle))
    story += _section("Price", amounts(paper.money, strong=[len(paper.money) - 1]))
    story += [part for text in paper.beside for part in (Spacer(1, 3), paragraph(text, width=SPAN))]
    story += _section("Payments", amounts(paper.paid, strong=[len(paper.paid) - 1]))
    conditions = [part for text in paper.conditions for part in (paragraph(text, width=SPAN), Spacer(1, 3))]
    story += _section("Conditions", *conditions)
    signed = [paragraph("Signatures", width=SPAN, style=heading), signing_lines(paper.sides)]
    return [*story, KeepTogether(signed)]


def _section(name: str, *content: Flowable) -> list[Flowable]:
    """A heading that never stands alone at the foot of a page."""
    return [CondPageBreak(1.1 * inch), paragraph(name, width=SPAN, style=heading), *content]
