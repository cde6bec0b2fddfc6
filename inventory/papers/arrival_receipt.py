"""The arrival receipt as PDF: plain values in, bytes out; the same values give the same bytes."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

from reportlab.lib.units import inch
from reportlab.platypus import CondPageBreak, Flowable, KeepTogether, Spacer, Table

from inventory.papers.pages import GROUND, Cover, on_letter_pages
from inventory.papers.parts import EDGE, SPAN, SignaturePrinted, boxed, facts_table, headed, ruled, signed_sides
from inventory.papers.text import bold, heading, paragraph

_NUMBER = 0.6 * inch


@dataclass(frozen=True, kw_only=True)
class ArrivalReceiptPaper:
    """Everything the paper shows, as it is shown."""

    lot_name: str
    lot_address: str
    stock_number: str
    number: int
    replaces: str
    made: str
    facts: Sequence[tuple[str, str]]
    damage: Sequence[tuple[str, str]]
    items: Sequence[tuple[str, int]]
    note: str
    caution: str
    signatures: Sequence[SignaturePrinted]


def arrival_receipt(paper: ArrivalReceiptPaper) -> bytes:
    """The receipt on Letter pages."""
    cover = Cover(
        title=f"Arrival receipt {paper.stock_number}, no. {paper.number}", author=paper.lot_name,
        foot_left=f"{paper.stock_number}, arrival receipt {paper.number}", foot_middle=paper.made,
    )  # fmt: skip
    return on_letter_pages(partial(_story, paper), cover=cover)


def _story(paper: ArrivalReceiptPaper) -> list[Flowable]:
    said = paragraph
    name = f"Arrival receipt {paper.stock_number}, no. {paper.number}"
    story = headed(name, lot_name=paper.lot_name, lot_address=paper.lot_address)
    if paper.replaces:
        story.append(said(paper.replaces, width=SPAN))
    story += [boxed(paper.caution), Spacer(1, 6), facts_table(paper.facts)]
    story += _listed("Damage noted", ("Where", "What"), paper.damage, widths=(1.9 * inch, SPAN - 2.5 * inch))
    counted = [(what, str(count)) for what, count in paper.items]
    story += _listed("Left in the vehicle", ("What", "Count"), counted, widths=(SPAN - 1.5 * inch, 0.9 * inch))
    story.append(said("Note", width=SPAN, style=heading))
    story.append(said(paper.note.strip() or "none", width=SPAN))
    story.append(KeepTogether([said("Signatures", width=SPAN, style=heading), signed_sides(paper.signatures)]))
    return story


def _listed(
    name: str, heads: tuple[str, str], rows: Sequence[tuple[str, str]], *, widths: tuple[float, float]
) -> list[Flowable]:
    """A numbered list whose head comes again on each page; an empty one says so."""
    head = paragraph(name, width=SPAN, style=heading)
    if not rows:
        return [KeepTogether([head, paragraph("none noted", width=SPAN)])]
    cells = [[paragraph(text, width=SPAN, style=bold) for text in ("No.", *heads)]]
    for place, row in enumerate(rows, start=1):
        texts = [paragraph(text, width=width - EDGE) for text, width in zip(row, widths, strict=True)]
        cells.append([paragraph(str(place), width=_NUMBER), *texts])
    shaded = ruled(("BACKGROUND", (0, 0), (-1, 0), GROUND))
    return [CondPageBreak(1.5 * inch), head, Table(cells, colWidths=[_NUMBER, *widths], repeatRows=1, style=shaded)]
