"""The settlement statement as PDF: what the consignor is paid, line by line. Plain values in, bytes out."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

from reportlab.lib.units import inch
from reportlab.platypus import Flowable, Spacer

from inventory.papers.pages import Cover, on_letter_pages
from inventory.papers.parts import SPAN, amounts, boxed, facts_table, headed
from inventory.papers.sections import grid, section, sentences

Pairs = Sequence[tuple[str, str]]


@dataclass(frozen=True, kw_only=True)
class StatementPaper:
    """`marks` say what became of it: taken back, replaced, a reversal itself. `lines` end with the sum."""

    lot_name: str
    lot_address: str
    demo: str
    number: str
    made: str
    marks: Sequence[str]
    facts: Pairs
    lines: Pairs
    payees: Pairs
    payments: Sequence[tuple[str, str, str, str]]  # day and whom, how, reference, amount
    left: str
    notes: Sequence[str]


def statement(paper: StatementPaper) -> bytes:
    name = f"Settlement statement {paper.number}"
    cover = Cover(title=name, author=paper.lot_name, foot_left=name, foot_middle=paper.made)
    return on_letter_pages(partial(_story, paper), cover=cover)


def _story(paper: StatementPaper) -> list[Flowable]:
    name = f"Settlement statement {paper.number}"
    story = headed(name, lot_name=paper.lot_name, lot_address=paper.lot_address)
    for mark in [*([paper.demo] if paper.demo else []), *paper.marks]:
        story += [boxed(mark), Spacer(1, 4)]
    story += [facts_table(paper.facts), *section("The statement", amounts(paper.lines, strong=[len(paper.lines) - 1]))]
    story += section("Who is paid", *_payees(paper.payees))
    story += section("Payments made", *_payments(paper))
    return [*story, *section("Notes", *sentences(paper.notes))]


def _payees(payees: Pairs) -> list[Flowable]:
    return [amounts(payees)] if payees else sentences([], otherwise="Nobody is paid by this statement.")


def _payments(paper: StatementPaper) -> list[Flowable]:
    widths = [2.6 * inch, 1.5 * inch, SPAN - 5.4 * inch, 1.3 * inch]
    made = (
        [grid(("Paid", "How", "Reference", "Amount"), rows=paper.payments, widths=widths, right=1)]
        if paper.payments
        else sentences([], otherwise="None yet.")
    )
    return [*made, Spacer(1, 3), *sentences([paper.left] if paper.left else [])]
