"""The window sheet as PDF: one page in large type behind the windshield. Plain values in, bytes out."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import inch
from reportlab.platypus import Flowable, Spacer, Table, TableStyle

from inventory.papers.pages import Cover, on_one_page
from inventory.papers.parts import EDGE, SPAN, ruled
from inventory.papers.qr import QRCode
from inventory.papers.text import BOLD, PLAIN, paragraph

SCALES = (1.0, 0.9, 0.8, 0.72, 0.65)  # the largest type that fits on one page is used
_CODE = 1.55 * inch
_LABEL = 1.45 * inch


@dataclass(frozen=True, kw_only=True)
class WindowSheetPaper:
    lot_name: str
    lot_address: str
    lot_contact: str
    demo: str
    stock_number: str
    vehicle: str
    ask: str
    made: str
    page_address: str
    facts: Sequence[tuple[str, str]]
    modifications: Sequence[str]
    faults: Sequence[str]
    caution: str


def window_sheet(paper: WindowSheetPaper) -> bytes:
    """One page; what is too much for it in the smallest type runs on, and nothing is left out."""
    cover = Cover(
        title=f"Window sheet {paper.stock_number}", author=paper.lot_name,
        foot_left=f"Window sheet {paper.stock_number}", foot_middle=paper.made,
    )  # fmt: skip
    return on_one_page([partial(_story, paper, scale=scale) for scale in SCALES], cover=cover)


def _story(paper: WindowSheetPaper, *, scale: float) -> list[Flowable]:
    text, label, head = _type(12, scale), _type(10.5, scale), _type(13.5, scale, font=BOLD)
    story = [_head(paper, scale=scale), paragraph(f"On the web: {paper.page_address}", width=SPAN, style=_type(9, 1))]
    if paper.demo:
        story.append(paragraph(paper.demo, width=SPAN, style=head))
    rows = [
        [paragraph(name, width=_LABEL - EDGE, style=label), paragraph(value, width=SPAN - _LABEL - EDGE, style=text)]
        for name, value in paper.facts
    ]
    story += [Spacer(1, 6), Table(rows, colWidths=[_LABEL, SPAN - _LABEL], style=ruled())]
    story += _listed("Modifications", paper.modifications, otherwise="None recorded.", head=head, text=text)
    story += _listed("Known faults", paper.faults, otherwise="None recorded.", head=head, text=text)
    return [*story, Spacer(1, 8 * scale), paragraph(paper.caution, width=SPAN, style=_type(9, scale))]


def _head(paper: WindowSheetPaper, *, scale: float) -> Table:
    """Lot, vehicle and ask to the left; the code of the page to the right."""
    width = SPAN - _CODE
    contact = " · ".join(part for part in (paper.lot_address.replace("\n", ", "), paper.lot_contact) if part.strip())
    left = [
        paragraph(paper.lot_name, width=width, style=_type(13, scale, font=BOLD)),
        paragraph(contact, width=width, style=_type(10, scale)),
        Spacer(1, 8 * scale),
        paragraph(paper.vehicle, width=width, style=_type(25, scale, font=BOLD)),
        paragraph(f"Stock number {paper.stock_number}", width=width, style=_type(13, scale)),
        Spacer(1, 6 * scale),
        paragraph(paper.ask, width=width, style=_type(33, scale, font=BOLD)),
    ]
    flat = [
        ("LEFTPADDING", (0, 0), (0, 0), 6),
        ("RIGHTPADDING", (1, 0), (1, 0), 0),
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
    ]
    return Table([[left, QRCode(paper.page_address, size=_CODE)]], colWidths=[width, _CODE], style=TableStyle(flat))


def _listed(
    name: str, texts: Sequence[str], *, otherwise: str, head: ParagraphStyle, text: ParagraphStyle
) -> list[Flowable]:
    said = [paragraph(f"– {one}", width=SPAN, style=text) for one in texts]
    return [
        Spacer(1, head.fontSize * 0.6), paragraph(name, width=SPAN, style=head),
        *(said or [paragraph(otherwise, width=SPAN, style=text)]),
    ]  # fmt: skip


def _type(size: float, scale: float, *, font: str = PLAIN) -> ParagraphStyle:
    points = max(size * scale, 7.5)
    return ParagraphStyle("sheet", fontName=font, fontSize=points, leading=points * 1.24)
