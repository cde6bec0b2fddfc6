"""The arrival receipt as PDF: plain values in, bytes out; the same values give the same bytes."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

from reportlab.lib.pagesizes import letter
from reportlab.lib.units import inch
from reportlab.platypus import CondPageBreak, Flowable, KeepTogether, Spacer, Table, TableStyle

from inventory.papers.pages import GROUND, INK, LINE, MARGIN, Cover, on_letter_pages
from inventory.papers.text import bold, heading, paragraph, small, title
from inventory.rules.signatures import HEIGHT, WIDTH

SPAN = letter[0] - 2 * MARGIN
LABEL = 1.35 * inch
_NUMBER = 0.6 * inch
_EDGE = 12.0  # both paddings of a cell


@dataclass(frozen=True, kw_only=True)
class SignaturePrinted:
    """One side: who, as what, when, and how it was signed. Without strokes the words say what stands for them."""

    side: str
    name: str
    signs_as: str = ""
    when: str = ""
    strokes: Sequence[Sequence[Sequence[int]]] = ()
    words: str = ""


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
    story: list[Flowable] = [said(paper.lot_name, width=SPAN, style=bold)]
    if paper.lot_address.strip():
        story.append(said(paper.lot_address.strip(), width=SPAN, style=small))
    story += [Spacer(1, 10), said(f"Arrival receipt {paper.stock_number}, no. {paper.number}", width=SPAN, style=title)]
    if paper.replaces:
        story.append(said(paper.replaces, width=SPAN))
    story += [_boxed(paper.caution), Spacer(1, 6), _facts(paper.facts)]
    story += _listed("Damage noted", ("Where", "What"), paper.damage, widths=(1.9 * inch, SPAN - 2.5 * inch))
    counted = [(what, str(count)) for what, count in paper.items]
    story += _listed("Left in the vehicle", ("What", "Count"), counted, widths=(SPAN - 1.5 * inch, 0.9 * inch))
    story.append(said("Note", width=SPAN, style=heading))
    story.append(said(paper.note.strip() or "none", width=SPAN))
    story.append(KeepTogether([said("Signatures", width=SPAN, style=heading), _signed(paper)]))
    return story


def _facts(facts: Sequence[tuple[str, str]]) -> Table:
    rows = [
        [paragraph(name, width=LABEL - _EDGE, style=small), paragraph(value, width=SPAN - LABEL - _EDGE)]
        for name, value in facts
    ]
    return Table(rows, colWidths=[LABEL, SPAN - LABEL], style=_ruled())


def _listed(
    name: str, heads: tuple[str, str], rows: Sequence[tuple[str, str]], *, widths: tuple[float, float]
) -> list[Flowable]:
    """A numbered list whose head comes again on each page; an empty one says so."""
    head = paragraph(name, width=SPAN, style=heading)
    if not rows:
        return [KeepTogether([head, paragraph("none noted", width=SPAN)])]
    cells = [[paragraph(text, width=SPAN, style=bold) for text in ("No.", *heads)]]
    for place, row in enumerate(rows, start=1):
        texts = [paragraph(text, width=width - _EDGE) for text, width in zip(row, widths, strict=True)]
        cells.append([paragraph(str(place), width=_NUMBER), *texts])
    shaded = _ruled(("BACKGROUND", (0, 0), (-1, 0), GROUND))
    return [CondPageBreak(1.5 * inch), head, Table(cells, colWidths=[_NUMBER, *widths], repeatRows=1, style=shaded)]


def _ruled(*more: tuple[Any, ...]) -> TableStyle:
    return TableStyle([("VALIGN", (0, 0), (-1, -1), "TOP"), ("LINEBELOW", (0, 0), (-1, -1), 0.4, LINE), *more])


def _boxed(text: str) -> Table:
    box = ("BOX", (0, 0), (-1, -1), 0.8, INK)
    return Table([[paragraph(text, width=SPAN - _EDGE, style=bold)]], colWidths=[SPAN], style=TableStyle([box]))


def _signed(paper: ArrivalReceiptPaper) -> Table:
    half = SPAN / 2
    sides = [_side(side, width=half - _EDGE) for side in paper.signatures]
    return Table([sides], colWidths=[half] * len(sides), style=_ruled(("BOX", (0, 0), (-1, -1), 0.4, LINE)))


def _side(side: SignaturePrinted, *, width: float) -> list[Flowable]:
    mark: Flowable = SignatureMark(side.strokes, width=width) if side.strokes else paragraph(side.words, width=width)
    below = f"{side.name}, {side.signs_as}" if side.signs_as else side.name
    parts = [paragraph(side.side, width=width, style=small), mark, paragraph(below, width=width, style=bold)]
    return [*parts, paragraph(side.when, width=width, style=small)] if side.when else parts


class SignatureMark(Flowable):  # type: ignore[misc]
    """The strokes as lines of the page itself, never as a picture."""

    def __init__(self, strokes: Sequence[Sequence[Sequence[int]]], *, width: float) -> None:
        super().__init__()
        self.strokes, self.width, self.height = strokes, width, width * HEIGHT / WIDTH

    def wrap(self, *_: float) -> tuple[float, float]:
        return self.width, self.height

    def draw(self) -> None:
        """The field's y runs down, the page's up; a stroke of one point is a dot."""
        scale = self.width / WIDTH
        self.canv.setStrokeColor(INK)
        self.canv.setLineWidth(1.3)
        self.canv.setLineCap(1)
        self.canv.setLineJoin(1)
        for stroke in self.strokes:
            points = [(x * scale, self.height - y * scale) for x, y in stroke]
            path = self.canv.beginPath()
            path.moveTo(*points[0])
            for point in points[1:] or points:
                path.lineTo(*point)
            self.canv.drawPath(path)
