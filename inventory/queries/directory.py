"""The directory of people: consignors and contacts in one list, and who of them may be the same person."""

import uuid
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.core.paginator import Page, Paginator
from django.db.models import CharField, Count, Q, QuerySet, Value
from django.db.models.functions import Lower

from inventory.models import Consignment, Consignor, Contact, PersonNote
from inventory.models.phones import bare_phone, phone_tail
from inventory.queries.persons import CONSIGNORS, CONTACTS, KINDS
from inventory.rules.people import MOST_OFFERED, Double, Known, likely_doubles

PER_PAGE = 30
LONGEST_KEY = 18  # digits of a key that the database can hold


@dataclass(frozen=True)
class Wanted:
    """What is looked for: words of a name or e-mail, digits of a phone number; of which kind; doubles alone."""

    text: str = ""
    kind: str = ""
    only_doubles: bool = False


@dataclass(frozen=True)
class Entry:
    """One line of the directory."""

    kind: str
    row: Any
    here: int
    had: int
    notes: int
    doubles: tuple[tuple[uuid.UUID, Double], ...]

    @property
    def what(self) -> str:
        return KINDS[self.kind]


def people_page(wanted: Wanted, *, number: str) -> Page[Any]:
    """One page of the directory, with entries in place of keys; a constant number of queries."""
    only = {kind: set(doubles_of(kind)) for kind in KINDS} if wanted.only_doubles else {}
    parts = [
        _found(_model(kind), wanted=wanted, only=only.get(kind))
        .annotate(kind=Value(kind, output_field=CharField()), sort=Lower("name"))
        .order_by()
        .values("kind", "pk", "sort")
        for kind in KINDS
        if wanted.kind in ("", kind)
    ]
    listed = parts[0] if len(parts) == 1 else parts[0].union(parts[1], all=True)
    page: Page[Any] = Paginator(listed.order_by("sort", "kind", "pk"), PER_PAGE).get_page(number)
    page.object_list = _entries(list(page.object_list))
    return page


Doubles = dict[int, tuple[tuple[uuid.UUID, Double], ...]]


def doubles_of(kind: str, *, of: Sequence[int] | None = None) -> Doubles:
    """By key, who else of a kind may be the same person: of some rows, or of all. Two queries.

    Only rows that share a key with one of these, or with any other, are read.
    """
    rows = _keyed(_live(_model(kind)))
    shared = _shared(rows) if of is None else _shared_with(rows.filter(pk__in=of))
    found = list(rows.filter(shared).values_list("pk", "code", "name", "email", "phone"))
    codes = {pk: code for pk, code, *_ in found}
    alike = likely_doubles(Known(pk, name, email, phone) for pk, _, name, email, phone in found)
    told = alike if of is None else {pk: alike[pk] for pk in of if pk in alike}
    return {pk: tuple((codes[other.pk], other) for other in others) for pk, others in told.items()}


KEYS = ("low_name", "low_email", "phone_tail")


def _shared(rows: QuerySet[Any]) -> Q:
    """Whatever key more than one row has."""
    shared = Q(pk__in=[])
    for key in KEYS:
        twice = rows.exclude(**{key: ""}).order_by().values(key).annotate(rows_with=Count("pk")).filter(rows_with__gt=1)
        shared |= Q(**{f"{key}__in": twice.values(key)})
    return shared


def _shared_with(rows: QuerySet[Any]) -> Q:
    """The keys of these rows, looked up by indexes."""
    shared = Q(pk__in=[])
    for key, values in zip(KEYS, zip(*rows.values_list(*KEYS), strict=True), strict=False):
        shared |= Q(**{f"{key}__in": {value for value in values if value}})
    return shared


def look_up(kind: str, *, text: str, most: int = MOST_OFFERED) -> list[Any]:
    """A few of one kind by words or digits, to choose a double from."""
    return list(_found(_model(kind), wanted=Wanted(text=text), only=None).order_by("name", "pk")[:most]) if text else []


def consignor_choices(*, text: str, chosen: str, most: int = MOST_OFFERED) -> list[tuple[int, str]]:
    """The first consignors that a word fits, and the one chosen already; all of them where they are as few.

    The end of the number tells two of one name apart. Text comes as it was sent.
    """
    sought = text.replace("\x00", "").strip()
    rows = (
        look_up(CONSIGNORS, text=sought, most=most)
        if sought
        else list(_live(Consignor).order_by("name", "pk")[: most + 1])
    )
    found = {row.pk: row for row in rows if sought or len(rows) <= most}
    if chosen.isascii() and chosen.isdigit() and len(chosen) <= LONGEST_KEY and int(chosen) not in found:
        found |= {row.pk: row for row in _live(Consignor).filter(pk=int(chosen))}
    told = ((row, row.phone or row.email) for row in found.values())
    return [(row.pk, f"{row.name} ({reached})" if reached else row.name) for row, reached in told]


def _model(kind: str) -> Any:
    return Consignor if kind == CONSIGNORS else Contact


def _live(model: Any) -> QuerySet[Any]:
    rows: QuerySet[Any] = model.objects.filter(merged_into__isnull=True, erased_at__isnull=True)
    return rows.filter(is_lot=False) if model is Consignor else rows


def _keyed(rows: QuerySet[Any]) -> QuerySet[Any]:
    keyed: QuerySet[Any] = rows.annotate(
        low_name=Lower("name"), low_email=Lower("email"), phone_tail=phone_tail("phone")
    )
    return keyed


def _found(model: Any, *, wanted: Wanted, only: set[int] | None) -> QuerySet[Any]:
    rows = _live(model)
    if only is not None:
        rows = rows.filter(pk__in=only)
    typed = "".join(sign for sign in wanted.text if sign.isascii() and sign.isdigit())
    if typed and not any(sign.isalpha() or sign == "@" for sign in wanted.text):
        return rows.filter(pk__in=rows.annotate(bare=bare_phone("phone")).filter(bare__contains=typed).values("pk"))
    for word in wanted.text.split():
        rows = rows.filter(Q(name__icontains=word) | Q(email__icontains=word))
    return rows


def _entries(keys: list[dict[str, Any]]) -> list[Entry]:
    ids = {kind: [key["pk"] for key in keys if key["kind"] == kind] for kind in KINDS}
    rows: dict[tuple[str, int], Any] = {
        **{(CONSIGNORS, row.pk): row for row in Consignor.objects.filter(pk__in=ids[CONSIGNORS])},
        **{(CONTACTS, row.pk): row for row in Contact.objects.select_related("consignor").filter(pk__in=ids[CONTACTS])},
    }
    doubles = {kind: doubles_of(kind, of=ids[kind]) for kind in KINDS}
    vehicles, notes = _vehicles(ids[CONSIGNORS]), _notes(ids)
    return [
        Entry(
            kind=kind, row=rows[kind, pk], here=vehicles[pk][0] if kind == CONSIGNORS else 0,
            had=vehicles[pk][1] if kind == CONSIGNORS else 0, notes=notes.get((kind, pk), 0),
            doubles=doubles[kind].get(pk, ()),
        )
        for kind, pk in ((key["kind"], key["pk"]) for key in keys)
        if (kind, pk) in rows
    ]  # fmt: skip


def _vehicles(consignor_ids: list[int]) -> defaultdict[int, tuple[int, int]]:
    """How many are here (or booked), how many were."""
    found: defaultdict[int, tuple[int, int]] = defaultdict(lambda: (0, 0))
    counted = Consignment.objects.filter(consignor__in=consignor_ids).order_by().values("consignor")
    for row in counted.annotate(
        here=Count("pk", filter=Q(released_on__isnull=True)), had=Count("pk", filter=Q(released_on__isnull=False))
    ):
        found[row["consignor"]] = (row["here"], row["had"])
    return found


def _notes(ids: dict[str, list[int]]) -> dict[tuple[str, int], int]:
    about = Q(consignor__in=ids[CONSIGNORS]) | Q(contact__in=ids[CONTACTS])
    counted = PersonNote.objects.filter(about).order_by().values("consignor", "contact").annotate(n=Count("pk"))
    return {
        (CONSIGNORS, row["consignor"]) if row["consignor"] else (CONTACTS, row["contact"]): row["n"] for row in counted
    }
