"""What anybody may read: vehicles that are listed or under deposit and whose description was published.

Nothing of a consignor, a price band or a note is here; a vehicle that was sold or withdrawn is gone at once.
"""

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.core.paginator import Page, Paginator
from django.db.models import Case, Exists, F, OuterRef, QuerySet, Subquery, Value, When

from inventory.errors import NotFound
from inventory.models import (
    AskChange,
    ComponentRecord,
    Consignment,
    IntakeInspection,
    Listing,
    Photo,
    Terms,
    TitlePaper,
)
from inventory.queries.facts import the_lot
from inventory.queries.listing import OF_VEHICLE
from inventory.rules.listing_edit import read
from inventory.rules.listing_open_data import Offered
from inventory.rules.listing_record import PaperSaid, PartSaid, Record, Section
from inventory.rules.listing_spec import Spec, reminders, spec_sheet
from inventory.rules.states import State

PER_PAGE = 24


def offered() -> QuerySet[Any]:
    """Stays that buyers may see, with the ask, and with a first photo where the terms allow photos."""
    published = Listing.objects.filter(consignment=OuterRef("pk"), published=True)
    asks = AskChange.objects.filter(consignment=OuterRef("pk")).order_by("-pk").values("amount")[:1]
    terms = Terms.objects.filter(consignment=OuterRef("pk")).order_by("-number").values("photos_allowed")[:1]
    first = Photo.objects.shown().filter(consignment=OuterRef("pk"), public=True).order_by("pk").values("code")[:1]
    return (
        Consignment.objects.filter(state__in=[State.LISTED, State.DEPOSIT])
        .filter(Exists(published))
        .select_related("vehicle")
        .annotate(ask=Subquery(asks), photos_allowed=_allowed(terms), photo=Subquery(first))
        .order_by(F("listed_on").desc(nulls_last=True), "-pk")
    )


def _allowed(by_terms: QuerySet[Any]) -> Case:
    """The lot needs nobody's leave to show its own."""
    return Case(When(consignor__is_lot=True, then=Value(True)), default=Subquery(by_terms))


def for_sale_page(number: str) -> Page[Any]:
    return Paginator(offered(), PER_PAGE).get_page(number)


@dataclass(frozen=True)
class PhotoShown:
    code: uuid.UUID
    caption: str
    width: int | None
    height: int | None


@dataclass(frozen=True, kw_only=True)
class ForSale:
    """One vehicle as a buyer sees it."""

    code: uuid.UUID
    name: str
    stock_number: str
    ask: Decimal | None
    held: bool
    specs: tuple[Spec, ...]
    sections: tuple[Section, ...]
    photos: list[PhotoShown]
    reminders: tuple[str, ...]
    record: Record
    lot: Any

    @property
    def faults(self) -> tuple[str, ...]:
        return _texts(self.sections, code="faults")


def _texts(sections: Sequence[Section], *, code: str) -> tuple[str, ...]:
    return tuple(one.text for section in sections if section.code == code for one in section.sentences)


def stay_for_sale(code: uuid.UUID) -> Any:
    row = offered().filter(code=code).first()
    if row is None:
        raise NotFound("not_found", "This vehicle is not for sale here.", got=str(code))
    return row


def for_sale(code: uuid.UUID, *, today: date) -> ForSale:
    """The published description; the spec sheet as the record stands now."""
    return _shown([stay_for_sale(code)], today=today)[0]


def all_for_sale(*, today: date) -> list[ForSale]:
    """Every vehicle for sale, for the feeds: in as many queries as one takes."""
    return _shown(list(offered()), today=today)


def _shown(stays: Sequence[Any], *, today: date) -> list[ForSale]:
    lot, keys = the_lot(), [stay.pk for stay in stays]
    listings = {row.consignment_id: row for row in _of(Listing, keys).filter(published=True).order_by("number")}
    photos: dict[int, list[PhotoShown]] = {}
    for row in Photo.objects.shown().filter(consignment__in=keys, public=True).order_by("pk"):
        seen = PhotoShown(row.code, row.caption, row.width, row.height)
        photos.setdefault(row.consignment_id, []).append(seen)
    return [
        ForSale(
            code=stay.code, name=record.name, stock_number=stay.stock_number, ask=stay.ask,
            held=stay.state == State.DEPOSIT, specs=spec_sheet(record), sections=read(listings[stay.pk].sections),
            photos=photos.get(stay.pk, []) if stay.photos_allowed else [],
            reminders=tuple(reminders(record, today=today)), record=record, lot=lot,
        )
        for stay, record in zip(stays, _records(stays), strict=True)
    ]  # fmt: skip


def _of(model: Any, keys: Sequence[int]) -> QuerySet[Any]:
    rows: QuerySet[Any] = model.objects.filter(consignment__in=keys)
    return rows


def _records(stays: Sequence[Any]) -> list[Record]:
    """Of each stay what its spec sheet rests on."""
    vehicles = [stay.vehicle_id for stay in stays]
    walks = IntakeInspection.objects.filter(consignment__in=[stay.pk for stay in stays], finished_at__isnull=False)
    inspected = set(walks.values_list("consignment_id", flat=True))
    papers: dict[int, list[PaperSaid]] = {}
    for paper in TitlePaper.objects.filter(vehicle__in=vehicles).order_by("pk"):
        said = PaperSaid(id=paper.pk, kind=paper.kind, standing=paper.standing)
        papers.setdefault(paper.vehicle_id, []).append(said)
    parts: dict[int, dict[str, PartSaid]] = {}
    for line in ComponentRecord.objects.filter(vehicle__in=vehicles, component__in=_IN_SPECS).order_by("pk"):
        part = PartSaid(code=line.component, standing=line.standing, basis=line.basis, as_found=line.as_found)
        parts.setdefault(line.vehicle_id, {})[line.component] = part
    return [
        Record(
            **{name: getattr(stay.vehicle, name) for name in OF_VEHICLE}, mileage=stay.mileage,
            odometer_status=stay.odometer_status, inspected=stay.pk in inspected,
            parts=tuple(parts.get(stay.vehicle_id, {}).values()), papers=tuple(papers.get(stay.vehicle_id, ())),
        )
        for stay in stays
    ]  # fmt: skip


_IN_SPECS = ("engine", "transmission")


def photo_for_sale(code: uuid.UUID, *, photo: uuid.UUID) -> Photo:
    """One photo of a vehicle that is for sale, where its consignor allows photos to be shown."""
    stay = stay_for_sale(code)
    row = Photo.objects.shown().filter(consignment=stay, code=photo, public=True).first()
    if row is None or not stay.photos_allowed:
        raise NotFound("not_found", "There is no such photo.", got=str(photo))
    return row


# open data


def offered_as_data(page: ForSale, *, url: str, images: Sequence[str]) -> Offered:
    return Offered(
        url=url, name=page.name, stock_number=page.stock_number,
        description=" ".join(_texts(page.sections, code="opening")), specs=page.specs,
        serial_kind=page.record.serial_kind, mileage=page.record.mileage,
        odometer_status=page.record.odometer_status, faults=page.faults, images=images, ask=page.ask,
        reserved=page.held, seller=page.lot.name, seller_address=page.lot.address, seller_phone=page.lot.phone,
    )  # fmt: skip
