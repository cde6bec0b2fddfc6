"""What several papers are made of: facts, boxes, amounts, and signatures drawn, typed or still to be written."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from reportlab.lib.pagesizes import letter
from reportlab.lib.units import inch
from reportlab.platypus import Flowable, HRFlowable, Spacer, Table, TableStyle

from inventory.papers.pages import INK, LINE, MARGIN
from inventory.papers.text import BOLD, PLAIN, body, bold, paragraph, printable, small, title
from inventory.rules.signatures import HEIGHT, WIDTH

SPAN = letter[0] - 2 * MARGIN
LABEL = 1.35 * inch
EDGE = 12.0  # both paddings of a cell
_AMOUNT = 1.5 * inch
_LINE_TO_SIGN_ON = 34.0


@dataclass(frozen=True, kw_only=True)
class SignaturePrinted:
    """One side: who, as what, when, and how it was signed. Without strokes the words say what stands for them."""

    side: str
    name: str
    signs_as: str = ""
    when: str = ""
    strokes: Sequence[Sequence[Sequence[int]]] = ()
    words: str = ""


def headed(name: str, *, lot_name: str, lot_address: str) -> list[Flowable]:
    """The lot, its address, and what the paper is."""
    story: list[Flowable] = [paragraph(lot_name, width=SPAN, style=bold)]
    if lot_address.strip():
        story.append(paragraph(lot_address.strip(), width=SPAN, style=small))
    return [*story, Spacer(1, 10), paragraph(name, width=SPAN, style=title)]


def facts_table(facts: Sequence[tuple[str, str]]) -> Table:
    rows = [
        [paragraph(name, width=LABEL - EDGE, style=small), paragraph(value, width=SPAN - LABEL - EDGE)]
        for name, value in facts
    ]
    return Table(rows, colWidths=[LABEL, SPAN - LABEL], style=ruled())


def ruled(*more: tuple[Any, ...]) -> TableStyle:
    return TableStyle([("VALIGN", (0, 0), (-1, -1), "TOP"), ("LINEBELOW", (0, 0), (-1, -1), 0.4, LINE), *more])


def boxed(text: str) -> Table:
    box = ("BOX", (0, 0), (-1, -1), 0.8, INK)
    return Table([[paragraph(text, width=SPAN - EDGE, style=bold)]], colWidths=[SPAN], style=TableStyle([box]))


def amounts(rows: Sequence[tuple[str, str]], *, strong: Sequence[int] = ()) -> Table:
    """Names with amounts at the right edge; the rows named in `strong` are sums."""
    cells = []
    for place, (name, amount) in enumerate(rows):
        style = bold if place in strong else body
        cells.append(
            [paragraph(name, width=SPAN - _AMOUNT - EDGE, style=style), printable(amount, font=style.fontName)]
        )
    fonts = [("FONT", (1, 0), (1, -1), PLAIN, 9.5), *(("FONT", (1, at), (1, at), BOLD, 9.5) for at in strong)]
    right = [("ALIGN", (1, 0), (1, -1), "RIGHT"), *fonts]
    return Table(cells, colWidths=[SPAN - _AMOUNT, _AMOUNT], style=ruled(*right))


def signing_lines(sides: Sequence[str]) -> Table:
    """A line for each side to sign, print the name and date on, two beside each other."""
    width = SPAN / 2
    cells: list[Any] = [_to_sign(side, width=width - EDGE) for side in sides]
    rows = [[*cells[at : at + 2], *[""] * (2 - len(cells[at : at + 2]))] for at in range(0, len(cells), 2)]
    return Table(rows, colWidths=[width, width], style=TableStyle([("VALIGN", (0, 0), (-1, -1), "TOP")]))


def _to_sign(side: str, *, width: float) -> list[Flowable]:
    line = HRFlowable(width="100%", thickness=0.8, color=INK)
    return [
        paragraph(side, width=width, style=small), Spacer(1, _LINE_TO_SIGN_ON), line,
        paragraph("Signature, printed name, date", width=width, style=small),
    ]  # fmt: skip


def signed_sides(signatures: Sequence[SignaturePrinted]) -> Table:
    """All who signed, beside each other."""
    width = SPAN / len(signatures)
    sides = [_signed_side(side, width=width - EDGE) for side in signatures]
    return Table([sides], colWidths=[width] * len(sides), style=ruled(("BOX", (0, 0), (-1, -1), 0.4, LINE)))


def _signed_side(side: SignaturePrinted, *, width: float) -> list[Flowable]:
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
