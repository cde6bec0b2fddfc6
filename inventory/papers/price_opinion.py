"""The price opinion as PDF: plain values in, bytes out; the same values give the same bytes."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

from reportlab.lib.pagesizes import letter
from reportlab.lib.units import inch
from reportlab.platypus import CondPageBreak, Flowable, KeepTogether, Spacer, Table, TableStyle

from inventory.papers.pages import GROUND, INK, LINE, MARGIN, Cover, on_letter_pages
from inventory.papers.text import BOLD, PLAIN, body, bold, heading, paragraph, printable, small, title

SPAN = letter[0] - 2 * MARGIN
LABEL = 1.7 * inch
BESIDE = 3  # sales side by side: more would leave too little room for their words
_NAME = 1.25 * inch
_EDGE = 12.0  # both paddings of a cell

Pairs = Sequence[tuple[str, str]]


@dataclass(frozen=True, kw_only=True)
class SalePrinted:
    """One column of the grid: its head, line by line, and its foot; `lines` in the order of the subject's."""

    head: str
    facts: Pairs
    lines: Pairs  # what the sale says, and the money
    foot: Pairs


@dataclass(frozen=True, kw_only=True)
class PriceOpinionPaper:
    """Everything the paper shows, as it is shown."""

    lot_name: str
    lot_address: str
    demo: str
    stock_number: str
    number: int
    given: str
    caution: str
    subject: Pairs
    band: Pairs
    band_said: Sequence[str]
    parts: Pairs
    questions: Sequence[str]
    grid_said: Sequence[str]
    grid_lines: Pairs  # the name of each input, and what the subject says
    sales: Sequence[SalePrinted]
    record: Sequence[str]
    cautions: Sequence[str]


def price_opinion(paper: PriceOpinionPaper) -> bytes:
    """The opinion on Letter pages."""
    cover = Cover(
        title=f"Price opinion {paper.stock_number}, no. {paper.number}", author=paper.lot_name,
        foot_left=f"{paper.stock_number}, price opinion {paper.number}", foot_middle="An estimate, not an appraisal",
    )  # fmt: skip
    return on_letter_pages(partial(_story, paper), cover=cover)


def _story(paper: PriceOpinionPaper) -> list[Flowable]:
    return [
        *_headed(paper),
        *_section("The vehicle", [_pairs(paper.subject)]),
        *_section("Price band", [_pairs(paper.band), *_said(paper.band_said)]),
        *_section("What widens the band", _said(paper.questions)),
        *_section("The parts of the likely price", [_amounts(paper.parts)]),
        *_section("The nearest past sales", _said(paper.grid_said)),
        *_grid(paper),
        *_section("How the band has done", _said(paper.record)),
        *_section("Cautions", _said(paper.cautions)),
    ]


def _headed(paper: PriceOpinionPaper) -> list[Flowable]:
    story: list[Flowable] = [paragraph(paper.lot_name, width=SPAN, style=bold)]
    if paper.lot_address.strip():
        story.append(paragraph(paper.lot_address.strip(), width=SPAN, style=small))
    name = f"Price opinion {paper.stock_number}, no. {paper.number}"
    story += [Spacer(1, 10), paragraph(name, width=SPAN, style=title), paragraph(paper.given, width=SPAN)]
    boxed = [text for text in (paper.demo, paper.caution) if text]
    return [*story, Spacer(1, 4), *(_boxed(text) for text in boxed)]


def _section(name: str, content: Sequence[Flowable]) -> list[Flowable]:
    """A heading that never stands alone at the foot of a page."""
    head = paragraph(name, width=SPAN, style=heading)
    if not content:
        return [head]
    return [CondPageBreak(1.2 * inch), head, *content]


def _said(sentences: Sequence[str]) -> list[Flowable]:
    return [part for text in sentences for part in (Spacer(1, 3), paragraph(text, width=SPAN))]


def _pairs(pairs: Pairs) -> Table:
    rows = [
        [paragraph(name, width=LABEL - _EDGE, style=small), paragraph(value, width=SPAN - LABEL - _EDGE)]
        for name, value in pairs
    ]
    return Table(rows, colWidths=[LABEL, SPAN - LABEL], style=_ruled())


def _amounts(pairs: Pairs) -> Table:
    """Names with amounts; the last is what the others add up to."""
    widths = [SPAN - 1.6 * inch, 1.6 * inch]
    rows = []
    for place, (name, amount) in enumerate(pairs):
        style = bold if place == len(pairs) - 1 else body
        rows.append([paragraph(name, width=widths[0] - _EDGE, style=style), _amount(amount, strong=style is bold)])
    return Table(rows, colWidths=widths, style=_ruled(("ALIGN", (1, 0), (1, -1), "RIGHT")))


def _amount(text: str, *, strong: bool) -> Table:
    """An amount at the right edge of its column."""
    font = BOLD if strong else PLAIN
    shown = [[printable(text, font=font)]]
    style = [("FONT", (0, 0), (-1, -1), font, 9.5), ("ALIGN", (0, 0), (-1, -1), "RIGHT"), *_TIGHT]
    return Table(shown, colWidths=[1.6 * inch - _EDGE], style=TableStyle(style))


_TIGHT: list[tuple[Any, ...]] = [(f"{side}PADDING", (0, 0), (-1, -1), 0) for side in ("LEFT", "RIGHT", "TOP", "BOTTOM")]


def _grid(paper: PriceOpinionPaper) -> list[Flowable]:
    """A few sales side by side, as many tables as it takes, each with the inputs and the subject again."""
    story: list[Flowable] = []
    for start in range(0, len(paper.sales), BESIDE):
        story += [Spacer(1, 6), CondPageBreak(2.5 * inch), _side_by_side(paper, start=start)]
    return story


def _side_by_side(paper: PriceOpinionPaper, *, start: int) -> Table:
    sales = paper.sales[start : start + BESIDE]
    width = (SPAN - _NAME) / (BESIDE + 1)
    facts = [_row(name, "", [sale.facts[at][1] for sale in sales]) for at, (name, _) in enumerate(sales[0].facts)]
    lines = [
        _row(name, ours, [_line(*sale.lines[at]) for sale in sales]) for at, (name, ours) in enumerate(paper.grid_lines)
    ]
    foot = [_row(name, "", [sale.foot[at][1] for sale in sales]) for at, (name, _) in enumerate(sales[0].foot)]
    head = _row("Input", "This vehicle", [f"{start + at}. {sale.head}" for at, sale in enumerate(sales, start=1)])
    cells = [
        [paragraph(text, width=_NAME - _EDGE if at == 0 else width - _EDGE, style=small) for at, text in enumerate(row)]
        for row in (head, *facts, *lines, *foot)
    ]
    last = len(facts) + len(lines)
    style = _ruled(
        ("BACKGROUND", (0, 0), (-1, 0), GROUND), ("LINEBELOW", (0, len(facts)), (-1, len(facts)), 1, INK),
        ("LINEBELOW", (0, last), (-1, last), 1, INK),
    )  # fmt: skip
    return Table(cells, colWidths=[_NAME, *[width] * (len(sales) + 1)], repeatRows=1, style=style, hAlign="LEFT")


def _row(name: str, ours: str, theirs: Sequence[str]) -> list[str]:
    return [name, ours, *theirs]


def _line(told: str, amount: str) -> str:
    return f"{told}\n{amount}" if told else amount


def _ruled(*more: tuple[Any, ...]) -> TableStyle:
    return TableStyle([("VALIGN", (0, 0), (-1, -1), "TOP"), ("LINEBELOW", (0, 0), (-1, -1), 0.4, LINE), *more])


def _boxed(text: str) -> Flowable:
    box = ("BOX", (0, 0), (-1, -1), 0.8, INK)
    table = Table([[paragraph(text, width=SPAN - _EDGE, style=bold)]], colWidths=[SPAN], style=TableStyle([box]))
    return KeepTogether([table, Spacer(1, 4)])
