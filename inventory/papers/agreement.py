"""The consignment agreement as PDF: one version of the terms in words, with what they would leave. Plain values in."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

from reportlab.lib.units import inch
from reportlab.platypus import Flowable, KeepTogether, Spacer

from inventory.papers.pages import Cover, on_letter_pages
from inventory.papers.parts import SPAN, boxed, facts_table, headed, signing_lines
from inventory.papers.sections import grid, section, sentences
from inventory.papers.text import heading, paragraph

NET_HEADS = ("If it sells", "Price", "Commission", "Lot adds", "Charges", "Lien", "Left for you")
Pairs = Sequence[tuple[str, str]]


@dataclass(frozen=True, kw_only=True)
class AgreementPaper:
    """`accepted` and `accepted_text` are of an answer given on the status page or otherwise; then nobody signs."""

    lot_name: str
    lot_address: str
    demo: str
    stock_number: str
    version: int
    standing: str
    made: str
    caution: str
    parties: Pairs
    vehicle: Pairs
    title: Pairs
    points: Pairs
    net_head: str
    net_note: str
    nets: Sequence[Sequence[str]]
    net_questions: Sequence[str]
    signed: str
    accepted: str
    accepted_text: str
    sides: Sequence[str]


def agreement(paper: AgreementPaper) -> bytes:
    name = f"Consignment agreement {paper.stock_number}, version {paper.version}"
    cover = Cover(
        title=name, author=paper.lot_name, foot_left=f"{paper.stock_number}, version {paper.version}",
        foot_middle=paper.made, head=paper.caution,
    )  # fmt: skip
    return on_letter_pages(partial(_story, paper), cover=cover)


def _story(paper: AgreementPaper) -> list[Flowable]:
    name = f"Consignment agreement {paper.stock_number}, version {paper.version}"
    story = headed(name, lot_name=paper.lot_name, lot_address=paper.lot_address)
    for text in filter(None, (paper.demo, paper.standing)):
        story += [boxed(text), Spacer(1, 4)]
    story += section("Who agrees", facts_table(paper.parties))
    story += section("The vehicle", facts_table(paper.vehicle))
    story += section("Title and lien", facts_table(paper.title))
    story += section("The terms", facts_table(paper.points))
    return [*story, *section(paper.net_head, *_nets(paper)), *_acceptance(paper)]


def _nets(paper: AgreementPaper) -> list[Flowable]:
    widths = [1.18 * inch, *[0.97 * inch] * 6]
    table: list[Flowable] = [grid(NET_HEADS, rows=paper.nets, widths=widths, right=6)] if paper.nets else []
    nothing = sentences([], otherwise="There is neither an ask nor a band nor a floor yet to work it out at.")
    shown = table or ([] if paper.net_questions else nothing)
    return [*shown, Spacer(1, 4), *sentences([*paper.net_questions, paper.net_note])]


def _acceptance(paper: AgreementPaper) -> list[Flowable]:
    if paper.accepted:
        return section("Accepted", *sentences([paper.accepted, paper.accepted_text]))
    head = paragraph("Signatures", width=SPAN, style=heading)
    return [KeepTogether([head, *sentences([paper.signed] if paper.signed else []), signing_lines(paper.sides)])]
