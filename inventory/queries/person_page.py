"""The page of one person: what they have here and had, and everything said and done in one dated list."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from django.utils import timezone

from inventory.models import Consignment, Deal, Prospect
from inventory.queries import person_rows
from inventory.queries.persons import Person
from inventory.rules import money
from inventory.rules.floor_words import Direction


@dataclass(frozen=True)
class Event:
    """One line of the dated list."""

    on: date
    what: str
    text: str = ""
    stock_number: str = ""
    by: str = ""


@dataclass(frozen=True)
class PersonPage:
    person: Person
    here: tuple[Consignment, ...]
    had: tuple[Consignment, ...]
    prospects: tuple[Prospect, ...]
    bought: tuple[Deal, ...]
    events: tuple[Event, ...]


def page_of(person: Person) -> PersonPage:
    """A constant number of queries, however much there is."""
    stays = list(person_rows.stays(person).select_related("vehicle").order_by("-pk"))
    return PersonPage(
        person=person,
        here=tuple(stay for stay in stays if stay.is_open),
        had=tuple(stay for stay in stays if not stay.is_open),
        prospects=tuple(person_rows.prospects(person).order_by("-pk")),
        bought=tuple(person_rows.deals(person).select_related("consignment__vehicle").order_by("-pk")),
        events=tuple(sorted(_events(person), key=lambda event: event.on, reverse=True)),
    )


def stay_choices(person: Person) -> list[tuple[int, str]]:
    """The vehicles a call may be about: their own first, then those they asked about or came to see."""
    own = {stay.pk: stay for stay in person_rows.stays(person).select_related("vehicle").order_by("-pk")}
    rows = (person_rows.inquiries(person), person_rows.showings(person), person_rows.drives(person))
    asked = Consignment.objects.filter(
        pk__in=[pk for found in rows for pk in found.order_by().values_list("consignment", flat=True)]
    ).select_related("vehicle")
    every = {**own, **{stay.pk: stay for stay in asked.order_by("-pk") if stay.pk not in own}}
    return [(pk, f"{stay.stock_number}, {stay.vehicle}") for pk, stay in every.items()]


def _events(person: Person) -> Iterator[Event]:
    for source in (_notes, _mails, _inquiries, _follow_ups, _showings, _drives, _offers):
        yield from source(person)


def _notes(person: Person) -> Iterator[Event]:
    for row in person_rows.notes(person).select_related("consignment").order_by("-pk"):
        towards = Direction(row.direction).label
        number = row.consignment.stock_number if row.consignment else ""
        yield Event(row.on, f"{row.get_way_display()}, {towards}", row.text, number, row.by)


def _mails(person: Person) -> Iterator[Event]:
    for row in person_rows.mails(person).select_related("consignment").order_by("-pk"):
        number = row.consignment.stock_number if row.consignment else ""
        said = f"{row.subject} ({row.get_status_display()})"
        yield Event(timezone.localdate(row.made_at), f"mail: {row.get_kind_display()}", said, number)


def _inquiries(person: Person) -> Iterator[Event]:
    for row in person_rows.inquiries(person).select_related("consignment").order_by("-pk"):
        what = f"inquiry, {row.get_way_display()}: {row.get_aim_display()}"
        yield Event(row.on, what, row.about, row.consignment.stock_number, row.by)


def _follow_ups(person: Person) -> Iterator[Event]:
    for row in person_rows.follow_ups(person).select_related("inquiry__consignment").order_by("-pk"):
        yield Event(row.on, "followed up", row.said, row.inquiry.consignment.stock_number, row.by)


def _showings(person: Person) -> Iterator[Event]:
    for row in person_rows.showings(person).select_related("consignment").order_by("-pk"):
        yield Event(row.on, "came to see it", row.note, row.consignment.stock_number, row.by)


def _drives(person: Person) -> Iterator[Event]:
    for row in person_rows.drives(person).select_related("consignment").order_by("-pk"):
        back = "" if row.back_at else "still out"
        yield Event(timezone.localdate(row.out_at), "test drive", back, row.consignment.stock_number, row.by)


def _offers(person: Person) -> Iterator[Event]:
    for row in person_rows.offers(person).select_related("consignment").order_by("-pk"):
        said = " ".join(filter(None, (money.show(row.amount), row.conditions)))
        yield Event(row.on, "offer", said, row.consignment.stock_number, row.by)
