"""Text on paper: a font that holds most scripts, text that is never read as markup, right-to-left in its order."""

import html
import unicodedata
from pathlib import Path

from arabic_reshaper import reshape
from bidi import get_display
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.utils import simpleSplit
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.platypus import Paragraph

_FOLDER = Path(__file__).parent / "fonts"
PLAIN, BOLD = "PaperSans", "PaperSans-Bold"
for _name, _file in ((PLAIN, "DejaVuSans.ttf"), (BOLD, "DejaVuSans-Bold.ttf")):
    pdfmetrics.registerFont(TTFont(_name, str(_FOLDER / _file)))
_GLYPHS = {name: frozenset(pdfmetrics.getFont(name).face.charToGlyph) for name in (PLAIN, BOLD)}
_LAST_COPIED = 0xFFFF
"""Characters beyond the first plane are drawn, but copied out of the file as others: they are named instead."""

_RIGHT_TO_LEFT = frozenset({"R", "AL"})
# Marks that order text without being seen: they could show a name in another order than it was given.
_UNSEEN_ORDER = frozenset({"LRE", "RLE", "LRO", "RLO", "PDF", "LRI", "RLI", "FSI", "PDI"})

body = ParagraphStyle("body", fontName=PLAIN, fontSize=9.5, leading=12.5)
small = ParagraphStyle("small", parent=body, fontSize=8, leading=10.5)
bold = ParagraphStyle("bold", parent=body, fontName=BOLD)
title = ParagraphStyle("title", parent=body, fontName=BOLD, fontSize=16, leading=20, spaceAfter=4)
heading = ParagraphStyle("heading", parent=body, fontName=BOLD, fontSize=11, leading=14, spaceBefore=10, spaceAfter=3)


def printable(text: str, *, font: str = PLAIN) -> str:
    """The text with every character that the font lacks named by its number: nothing is dropped in silence."""
    known = _GLYPHS[font]
    return "".join(
        character if _is_drawn(character, known=known) else f"[U+{ord(character):04X}]" for character in text
    )


def _is_drawn(character: str, *, known: frozenset[int]) -> bool:
    if character == "\n":
        return True
    if unicodedata.category(character) == "Cc" or unicodedata.bidirectional(character) in _UNSEEN_ORDER:
        return False
    return ord(character) in known and ord(character) <= _LAST_COPIED


def paragraph(text: str, *, width: float, style: ParagraphStyle = body) -> Paragraph:
    """One paragraph of text from outside. Right-to-left text is broken into lines first, then put in its order."""
    shown = printable(text.replace("\r\n", "\n").replace("\r", "\n"), font=style.fontName)
    lines = [line for part in shown.split("\n") for line in _in_order(part, width=width, style=style)]
    return Paragraph("<br/>".join(html.escape(line, quote=False) for line in lines), style)


def _in_order(text: str, *, width: float, style: ParagraphStyle) -> list[str]:
    if not any(unicodedata.bidirectional(character) in _RIGHT_TO_LEFT for character in text):
        return [text]
    joined = printable(reshape(text), font=style.fontName)  # Arabic letters take the shape of their place
    return [get_display(line) for line in simpleSplit(joined, style.fontName, style.fontSize, width)]
