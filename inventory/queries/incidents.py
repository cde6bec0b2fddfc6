"""Incidents of one vehicle and of the whole lot, with what is still missing."""

import uuid
from dataclasses import dataclass

from django.core.paginator import Page, Paginator
from django.db.models import F, OuterRef, Prefetch, Q, QuerySet, Subquery

from inventory.errors import NotFound
from inventory.models import Consignment, Incident, IncidentPhoto, IncidentStep, Photo
from inventory.rules import incidents as rules
from inventory.rules.floor_words import IncidentStepKind

PER_PAGE = 30


@dataclass(frozen=True)
class IncidentSeen:
    row: Incident
    steps: list[IncidentStep]
    photos: list[Photo]

    @property
    def is_open(self) -> bool:
        return rules.is_open([step.kind for step in self.steps])

    @property
    def missing(self) -> list[str]:
        """What still has to be told to somebody; nothing is asked for once it is closed."""
        return rules.missing(self.row.kind, steps=[step.kind for step in self.steps]) if self.is_open else []

    @property
    def said(self) -> str:
        """One sentence of what it is and what is missing."""
        missing = f": {', '.join(self.missing)}" if self.missing else ""
        return f"Open incident of {self.row.on}, {self.row.get_kind_display()}{missing}"


def _rows() -> QuerySet[Incident]:
    """With the last turn of each: closed, opened again, or none."""
    turns = IncidentStep.objects.filter(
        incident=OuterRef("pk"), kind__in=[IncidentStepKind.CLOSED, IncidentStepKind.OPENED_AGAIN]
    )
    photos = IncidentPhoto.objects.select_related("photo__hiding").order_by("pk")
    return (
        Incident.objects.select_related("consignment__vehicle")
        .annotate(turn=Subquery(turns.order_by("-pk").values("kind")[:1]))
        .prefetch_related(Prefetch("steps", IncidentStep.objects.order_by("pk")), Prefetch("photos", photos))
    )


def _seen(row: Incident) -> IncidentSeen:
    return IncidentSeen(row, list(row.steps.all()), [one.photo for one in row.photos.all() if not one.photo.is_hidden])


def _open(rows: QuerySet[Incident]) -> QuerySet[Incident]:
    return rows.filter(Q(turn__isnull=True) | Q(turn=IncidentStepKind.OPENED_AGAIN))


def open_incidents() -> list[IncidentSeen]:
    """All that are open, the oldest first."""
    return [_seen(row) for row in _open(_rows()).order_by("on", "pk")]


def closed_page(number: str) -> tuple[Page[Incident], list[IncidentSeen]]:
    rows = _rows().filter(Q(turn=IncidentStepKind.CLOSED)).order_by(F("on").desc(), "-pk")
    page = Paginator(rows, PER_PAGE).get_page(number)
    return page, [_seen(row) for row in page.object_list]


def incidents_of(stay: Consignment) -> list[IncidentSeen]:
    return [_seen(row) for row in _rows().filter(consignment=stay).order_by("-on", "-pk")]


def open_incidents_of(stay: Consignment) -> list[IncidentSeen]:
    return [seen for seen in incidents_of(stay) if seen.is_open]


def incident_by_code(code: uuid.UUID, *, stay: Consignment) -> Incident:
    row = Incident.objects.filter(code=code, consignment=stay).first()
    if row is None:
        raise NotFound("not_found", f"{stay.stock_number} has no such incident.", got=code)
    return row
