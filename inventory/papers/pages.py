"""Letter pages with a foot: what every paper is laid out on."""

import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

from reportlab.lib.colors import HexColor
from reportlab.lib.pagesizes import letter
from reportlab.lib.units import inch
from reportlab.platypus import Flowable, SimpleDocTemplate

from inventory.papers.text import BOLD, PLAIN, printable

MARGIN = 0.75 * inch
INK, LINE, GROUND = HexColor("#1f2421"), HexColor("#9a9a92"), HexColor("#efeee8")


@dataclass(frozen=True, kw_only=True)
class Cover:
    """What stands on every page and in the file's own data."""

    title: str
    author: str
    foot_left: str
    foot_middle: str
    head: str = ""  # a caution that stands at the head of every page


def on_letter_pages(story: Callable[[], list[Flowable]], *, cover: Cover) -> bytes:
    """The paper as PDF, the same bytes for the same story. It is laid out twice: the first time only to count its
    pages."""
    _, pages = _laid_out(story(), cover=cover, pages=0)
    content, _ = _laid_out(story(), cover=cover, pages=pages)
    return content


def on_one_page(stories: Sequence[Callable[[], list[Flowable]]], *, cover: Cover) -> bytes:
    """The first of the stories that fits on one page; the last runs over pages if even that does not fit."""
    for story in stories[:-1]:
        content, pages = _laid_out(story(), cover=cover, pages=1)
        if pages == 1:
            return content
    return on_letter_pages(stories[-1], cover=cover)


def _laid_out(story: list[Flowable], *, cover: Cover, pages: int) -> tuple[bytes, int]:
    kept = io.BytesIO()
    document = SimpleDocTemplate(
        kept, pagesize=letter, leftMargin=MARGIN, rightMargin=MARGIN, topMargin=MARGIN, bottomMargin=0.9 * inch,
        title=cover.title, author=cover.author, lang="en-US", invariant=1,
    )  # fmt: skip
    foot = partial(_foot, cover=cover, pages=pages)
    document.build(story, onFirstPage=foot, onLaterPages=foot)
    return kept.getvalue(), document.page


def _foot(canvas: Any, document: SimpleDocTemplate, *, cover: Cover, pages: int) -> None:
    canvas.saveState()
    canvas.setFillColor(INK)
    canvas.setFont(BOLD, 8)
    if cover.head:
        canvas.drawCentredString(letter[0] / 2, letter[1] - 0.5 * inch, printable(cover.head, font=BOLD))
    canvas.drawString(MARGIN, 0.6 * inch, printable(cover.foot_left, font=BOLD))
    canvas.setFont(PLAIN, 8)
    canvas.drawCentredString(letter[0] / 2, 0.6 * inch, printable(cover.foot_middle))
    canvas.drawRightString(letter[0] - MARGIN, 0.6 * inch, f"Page {document.page} of {pages}")
    canvas.restoreState()
