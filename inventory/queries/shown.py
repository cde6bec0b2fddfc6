"""Where vehicles are shown, and what must be corrected there."""

import uuid
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import OuterRef, QuerySet, Subquery

from inventory.errors import NotFound
from inventory.models import AskChange, Consignment, Deal, Publication, SaleOutcome, ShownAsk
from inventory.queries.floor_lines import FloorLine
from inventory.rules.roles import Act, Actor, may
from inventory.rules.shown import Facts, Wrong, can_be_set_right, told, warning, wrong_with
from inventory.rules.states import State
from inventory.rules.words import DealEnd, Result


@dataclass(frozen=True, kw_only=True)
class PlaceLine:
    """One place that shows a vehicle: the ask it shows since when, and what is wrong with it."""

    row: Publication
    shown: Decimal | None
    ask: Decimal | None
    checked_on: date
    wrong: Wrong | None

    @property
    def told(self) -> str:
        return told(self.wrong, shown=self.shown, ask=self.ask) if self.wrong else ""

    @property
    def can_be_set_right(self) -> bool:
        return self.wrong is None or can_be_set_right(self.wrong)


@dataclass(frozen=True, kw_only=True)
class ShownPage:
    """What must be corrected first, then the places that are right; of a vehicle also those taken down."""

    wrong: tuple[PlaceLine, ...]
    right: tuple[PlaceLine, ...]
    down: tuple[Publication, ...] = ()


def shown_page(stay: Consignment | None = None) -> ShownPage:
    rows = _live() if stay is None else _live().filter(consignment=stay)
    lines = [_line(row) for row in rows.order_by("consignment__stock_number", "place")]
    taken = Publication.objects.filter(consignment=stay, taken_down_on__isnull=False) if stay else None
    return ShownPage(
        wrong=tuple(line for line in lines if line.wrong is not None),
        right=tuple(line for line in lines if line.wrong is None),
        down=tuple(taken.order_by("-taken_down_on", "-pk")) if taken is not None else (),
    )


def _live() -> QuerySet[Publication]:
    """Each place that shows a vehicle, with all that its rule asks for: one query, however many."""
    of_stay = {"consignment": OuterRef("consignment")}
    last = ShownAsk.objects.filter(publication=OuterRef("pk")).order_by("-pk")
    ask = AskChange.objects.filter(**of_stay).order_by("-pk")
    sold = SaleOutcome.objects.filter(**of_stay, result=Result.SOLD).order_by("-pk")
    ended = Deal.objects.filter(**of_stay, end__in=(DealEnd.FALLEN_THROUGH, DealEnd.UNWOUND)).order_by("-pk")
    rows: QuerySet[Publication] = (
        Publication.objects.filter(taken_down_on__isnull=True)
        .select_related("consignment__vehicle")
        .annotate(
            shown_ask=Subquery(last.values("ask")[:1]), told_at=Subquery(last.values("at")[:1]),
            told_on=Subquery(last.values("on")[:1]), ask=Subquery(ask.values("amount")[:1]),
            sold_at=Subquery(sold.values("at")[:1]), dealt_at=Subquery(ended.values("at")[:1]),
        )
    )  # fmt: skip
    return rows


def _line(row: Publication) -> PlaceLine:
    found = {name: getattr(row, name) for name in ("sold_at", "dealt_at", "ask")}
    known = Facts(
        state=State(row.consignment.state), state_at=row.consignment.state_at,
        shown=row.shown_ask,  # type: ignore[attr-defined]  # annotated
        told_at=row.told_at or row.at,  # type: ignore[attr-defined]
        **found,
    )  # fmt: skip
    return PlaceLine(
        row=row, shown=known.shown, ask=known.ask, wrong=wrong_with(known),
        checked_on=row.told_on or row.since,  # type: ignore[attr-defined]
    )  # fmt: skip


def publication(code: uuid.UUID) -> Publication:
    row = Publication.objects.select_related("consignment").filter(code=code).first()
    if row is None:
        raise NotFound("not_found", "There is no such place.", field="code", got=str(code))
    return row


def places_typed() -> list[str]:
    """Every place that was typed before, to be offered again."""
    return list(Publication.objects.order_by("place").values_list("place", flat=True).distinct())


def warning_of(stay: Consignment) -> str:
    """What places must be corrected now, in a sentence; nothing where all is right."""
    wrong = [(line.wrong, line.row.place) for line in map(_line, _live().filter(consignment=stay)) if line.wrong]
    return warning([why for why, _ in wrong], places=[place for _, place in wrong]) if wrong else ""


def shown_wrong(by: Actor, today: date) -> list[FloorLine]:
    """One line for all places that show what is no longer so."""
    if not may(by, Act.RECORD_SHOWN):
        return []
    count = sum(1 for row in _live() if _line(row).wrong is not None)
    text = f"{count} place{' shows' if count == 1 else 's show'} what is no longer so"
    return [FloorLine(text=text, page="shown", is_urgent=True)] if count else []
