"""The sheet by place as PDF: to walk the lot with, ticking what stands where it should. Plain values in, bytes out."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

from reportlab.lib.units import inch
from reportlab.platypus import Flowable, Spacer

from inventory.papers.pages import Cover, on_letter_pages
from inventory.papers.parts import SPAN, headed
from inventory.papers.sections import grid
from inventory.papers.text import paragraph, small

HEADS = ("Place", "Stock number", "Vehicle", "Key tag", "Keys", "Last care", "Seen")
_WIDTHS = (0.95 * inch, 0.8 * inch, 1.65 * inch, 0.6 * inch, 1.15 * inch, 1.2 * inch)
_TICK = "[    ]"


@dataclass(frozen=True, kw_only=True)
class PlaceSheetPaper:
    lot_name: str
    lot_address: str
    demo: str
    name: str
    made: str
    rows: Sequence[tuple[str, str, str, str, str, str]]
    otherwise: str


def place_sheet(paper: PlaceSheetPaper) -> bytes:
    """The sheet on Letter pages; its head comes again on each."""
    cover = Cover(title=paper.name, author=paper.lot_name, foot_left=paper.name, foot_middle=paper.made)
    return on_letter_pages(partial(_story, paper), cover=cover)


def _story(paper: PlaceSheetPaper) -> list[Flowable]:
    story = headed(paper.name, lot_name=paper.lot_name, lot_address=paper.lot_address)
    if paper.demo:
        story.append(paragraph(paper.demo, width=SPAN, style=small))
    if not paper.rows:
        return [*story, paragraph(paper.otherwise, width=SPAN)]
    widths = (*_WIDTHS, SPAN - sum(_WIDTHS))
    return [*story, Spacer(1, 6), grid(HEADS, rows=[(*row, _TICK) for row in paper.rows], widths=widths)]
