"""Sections of a paper: headings that never stand alone, sentences, and tables that run over pages."""

from collections.abc import Sequence

from reportlab.lib.units import inch
from reportlab.platypus import CondPageBreak, Flowable, Spacer, Table

from inventory.papers.pages import GROUND
from inventory.papers.parts import EDGE, SPAN, ruled
from inventory.papers.text import BOLD, heading, paragraph, small

_HEAD = small.clone("grid head", fontName=BOLD)


def section(name: str, *content: Flowable) -> list[Flowable]:
    """A heading that never stands alone at the foot of a page."""
    return [CondPageBreak(1.1 * inch), paragraph(name, width=SPAN, style=heading), *content]


def sentences(texts: Sequence[str], *, otherwise: str = "") -> list[Flowable]:
    """Each text as a paragraph of its own; without any, what is said instead."""
    shown = texts or ([otherwise] if otherwise else [])
    return [part for text in shown for part in (paragraph(text, width=SPAN), Spacer(1, 3))]


def marked(texts: Sequence[str], *, otherwise: str) -> list[Flowable]:
    """A list with a dash before each; without any, what is said instead."""
    return sentences([f"– {text}" for text in texts], otherwise=otherwise)


def grid(heads: Sequence[str], *, rows: Sequence[Sequence[str]], widths: Sequence[float], right: int = 0) -> Table:
    """Rows of text under heads that come again on each page; the last `right` columns hold amounts."""
    cells = [[paragraph(text, width=width - EDGE, style=_HEAD) for text, width in zip(heads, widths, strict=True)]]
    for row in rows:
        cells.append(
            [paragraph(text, width=width - EDGE, style=small) for text, width in zip(row, widths, strict=True)]
        )
    for row_cells in cells if right else []:
        for cell in row_cells[-right:]:
            cell.style = cell.style.clone("right", alignment=2)
    shaded = ("BACKGROUND", (0, 0), (-1, 0), GROUND)
    narrow = [("LEFTPADDING", (-right, 0), (-1, -1), 3)] if right else []  # room for a million in one line
    return Table(cells, colWidths=list(widths), repeatRows=1, style=ruled(shaded, *narrow))
