"""The condition report as PDF: what was found, station by station, and what nobody saw. Plain values in, bytes out."""

import io
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

from reportlab.lib.units import inch
from reportlab.platypus import Flowable, Image, Spacer, Table

from inventory.papers.pages import Cover, on_letter_pages
from inventory.papers.parts import EDGE, SPAN, boxed, facts_table, headed, ruled
from inventory.papers.sections import grid, marked, section, sentences
from inventory.papers.text import paragraph, small

Pairs = Sequence[tuple[str, str]]
BESIDE = 3  # photos in a row
_CHECK, _FOUND = 2.3 * inch, 2.2 * inch
_TALLEST = 2.2 * inch
NO_FLAG = "None is open. Only what was looked at can raise one: it is no pass for what nobody saw."


@dataclass(frozen=True, kw_only=True)
class StationPrinted:
    """One station: who was there and when, and a row for each check: what, found, reading and judgement."""

    title: str
    visited: str
    checks: Sequence[tuple[str, str, str]]


@dataclass(frozen=True, kw_only=True)
class PhotoPrinted:
    """One picture with its size in pixels; without `content` its file was not found."""

    content: bytes
    width: int
    height: int
    caption: str


@dataclass(frozen=True, kw_only=True)
class ConditionReportPaper:
    lot_name: str
    lot_address: str
    demo: str
    stock_number: str
    made: str
    caution: str
    flags: Sequence[str]
    cleared: Sequence[str]
    facts: Pairs
    faults: Sequence[str]
    stations: Sequence[StationPrinted]
    components: Sequence[tuple[str, str, str, str]]  # component, as built, as found and standing, number and date
    component_notes: Sequence[str]
    modifications: Sequence[str]
    photos: Sequence[PhotoPrinted]


def condition_report(paper: ConditionReportPaper) -> bytes:
    name = f"Condition report {paper.stock_number}"
    cover = Cover(title=name, author=paper.lot_name, foot_left=name, foot_middle=paper.made)
    return on_letter_pages(partial(_story, paper), cover=cover)


def _story(paper: ConditionReportPaper) -> list[Flowable]:
    story = headed(
        f"Condition report {paper.stock_number}", lot_name=paper.lot_name, lot_address=paper.lot_address
    )  # fmt: skip
    for text in filter(None, (paper.demo, paper.caution)):
        story += [boxed(text), Spacer(1, 4)]
    story += section("Open safety flags", *_flags(paper))
    story += section("The vehicle", facts_table(paper.facts))
    story += section("Faults found", *marked(paper.faults, otherwise=_no_faults(paper)))
    for station in paper.stations:
        story += section(station.title, *_station(station))
    story += section("Component ledger", *_components(paper))
    story += section("Modifications", *marked(paper.modifications, otherwise="None recorded."))
    return [*story, *section("Photos", *_photos(paper.photos))]


def _no_faults(paper: ConditionReportPaper) -> str:
    return "None recorded." if paper.stations else "Not known: no inspection is finished."


def _flags(paper: ConditionReportPaper) -> list[Flowable]:
    open_flags = [part for text in paper.flags for part in (boxed(text), Spacer(1, 3))]
    return [*(open_flags or sentences([NO_FLAG])), *sentences(paper.cleared)]


def _station(station: StationPrinted) -> list[Flowable]:
    visited = sentences([station.visited])
    if not station.checks:
        return [*visited, *sentences(["No check of this station applies."])]
    widths = [_CHECK, _FOUND, SPAN - _CHECK - _FOUND]
    return [*visited, grid(("Check", "Found", "Reading and note"), rows=station.checks, widths=widths)]


def _components(paper: ConditionReportPaper) -> list[Flowable]:
    if not paper.components:
        return sentences(["No component has a line yet.", *paper.component_notes])
    widths = [1.5 * inch, 1.7 * inch, 2.0 * inch, SPAN - 5.2 * inch]
    heads = ("Component", "As built", "As found", "Number and date")
    return [grid(heads, rows=paper.components, widths=widths), Spacer(1, 4), *sentences(paper.component_notes)]


def _photos(photos: Sequence[PhotoPrinted]) -> list[Flowable]:
    if not photos:
        return sentences(["None that may be shown."])
    width = SPAN / BESIDE
    cells = [_photo(photo, width=width - EDGE) for photo in photos]
    rows = [
        [*cells[at : at + BESIDE], *[""] * (BESIDE - len(cells[at : at + BESIDE]))]
        for at in range(0, len(cells), BESIDE)
    ]
    return [Table(rows, colWidths=[width] * BESIDE, style=ruled())]


def _photo(photo: PhotoPrinted, *, width: float) -> list[Flowable]:
    """As wide as its column, or as high as a row may be."""
    caption = paragraph(photo.caption, width=width, style=small)
    if not photo.content:
        return [paragraph("The picture's file was not found.", width=width), caption]
    scale = min(width / photo.width, _TALLEST / photo.height)
    return [Image(io.BytesIO(photo.content), photo.width * scale, photo.height * scale), Spacer(1, 3), caption]
