"""One person: the row that goes on, what was merged into it, and the same person as consignor and as contact."""

import uuid
from dataclasses import dataclass

from django.db.models import Q

from inventory.errors import NotFound
from inventory.models import Consignor, Contact

CONSIGNORS, CONTACTS = "consignors", "contacts"
KINDS = {CONSIGNORS: "consignor", CONTACTS: "contact"}

Row = Consignor | Contact


@dataclass(frozen=True)
class Person:
    """All rows of one person. `row` is the one asked for."""

    kind: str
    row: Row
    consignors: tuple[Consignor, ...]
    contacts: tuple[Contact, ...]

    @property
    def rows(self) -> tuple[Row, ...]:
        return (*self.consignors, *self.contacts)

    @property
    def goes_on(self) -> Row:
        return self.row.merged_into or self.row

    @property
    def merged(self) -> tuple[Row, ...]:
        """What became part of the row that goes on."""
        same = self.consignors if self.kind == CONSIGNORS else self.contacts
        return tuple(row for row in same if row.merged_into_id == self.goes_on.pk)

    @property
    def others(self) -> tuple[tuple[str, Row], ...]:
        """The same person under the other heading."""
        if self.kind == CONSIGNORS:
            return tuple((CONTACTS, row) for row in self.contacts if row.merged_into_id is None)
        return tuple((CONSIGNORS, row) for row in self.consignors if row.merged_into_id is None)

    @property
    def address(self) -> str:
        return str(getattr(self.row, "address", ""))

    @property
    def names(self) -> list[str]:
        return self._said("name")

    @property
    def emails(self) -> list[str]:
        return self._said("email")

    @property
    def phones(self) -> list[str]:
        return self._said("phone")

    @property
    def marks(self) -> list[str]:
        """Everything they are known by."""
        return [*self.names, *self.emails, *self.phones]

    def _said(self, column: str) -> list[str]:
        live = (row for row in self.rows if row.erased_at is None)
        return sorted({value for row in live if (value := str(getattr(row, column)).strip())})


def person(kind: str, *, code: uuid.UUID) -> Person:
    """Three queries, four for a contact who is a consignor too."""
    if kind == CONSIGNORS:
        row: Row | None = Consignor.objects.select_related("merged_into").filter(code=code, is_lot=False).first()
    elif kind == CONTACTS:
        row = Contact.objects.select_related("merged_into", "consignor").filter(code=code).first()
    else:
        row = None
    if row is None:
        raise NotFound("not_found", "There is no such person.", got=str(code))
    return person_of(row)


def person_of(row: Row) -> Person:
    """The person of a row. Doubles name the one that goes on directly: there are no chains."""
    if isinstance(row, Consignor):
        return _with_consignor(row, kind=CONSIGNORS, root_id=row.merged_into_id or row.pk)
    goes_on = row.merged_into or row
    if goes_on.consignor_id is not None:
        known = Consignor.objects.get(pk=goes_on.consignor_id)
        return _with_consignor(row, kind=CONTACTS, root_id=known.merged_into_id or known.pk)
    same = Contact.objects.filter(Q(pk=goes_on.pk) | Q(merged_into=goes_on.pk)).order_by("pk")
    return Person(CONTACTS, row, (), tuple(same))


def _with_consignor(row: Row, *, kind: str, root_id: int) -> Person:
    consignors = tuple(Consignor.objects.filter(Q(pk=root_id) | Q(merged_into=root_id)).order_by("pk"))
    ids = [one.pk for one in consignors]
    contacts = Contact.objects.filter(Q(consignor__in=ids) | Q(merged_into__consignor__in=ids)).order_by("pk")
    return Person(kind, row, consignors, tuple(contacts.distinct()))
