"""What the merging of two rows would do, before it is done."""

from dataclasses import dataclass

from inventory.models import (
    Consignment,
    Consignor,
    Contact,
    Inquiry,
    OutMessage,
    PersonNote,
    Prospect,
    Showing,
    TestDrive,
)
from inventory.queries.persons import Row
from inventory.rules.merging import Difference, Party, differences, refuse_merge

LABELS = {"name": "Name", "email": "E-mail", "phone": "Phone", "address": "Address"}


@dataclass(frozen=True)
class Preview:
    """What moves, and where the two say different things."""

    double: Row
    into: Row
    moves: tuple[tuple[str, int], ...]
    differences: tuple[Difference, ...]


def preview(double: Row, *, into: Row) -> Preview:
    """Refused where the two may not become one."""
    refuse_merge(party_of(double), into=party_of(into), is_same=double.pk == into.pk)
    labels = {name: label for name, label in LABELS.items() if hasattr(into, name)}
    moves = tuple((label, rows) for label, rows in facts_of(double) if rows)
    return Preview(double, into, moves, differences(said_by(into), other=said_by(double), labels=labels))


def party_of(row: Row) -> Party:
    return Party(
        name=row.name, is_lot=bool(getattr(row, "is_lot", False)), is_erased=row.erased_at is not None,
        goes_on_as=row.merged_into.name if row.merged_into else "",
    )  # fmt: skip


def said_by(row: Row) -> dict[str, str]:
    return {name: str(getattr(row, name)) for name in (*LABELS, "note") if hasattr(row, name)}


def facts_of(row: Row) -> list[tuple[str, int]]:
    """How many rows of each kind name this one."""
    if isinstance(row, Consignor):
        return [
            ("vehicles consigned", Consignment.objects.filter(consignor=row).count()),
            ("vehicles that may come", Prospect.objects.filter(consignor=row).count()),
            ("calls and messages", PersonNote.objects.filter(consignor=row).count()),
            ("mails", OutMessage.objects.filter(consignor=row).count()),
            ("contacts", Contact.objects.filter(consignor=row).count()),
        ]
    return [
        ("vehicles that may come", Prospect.objects.filter(contact=row).count()),
        ("calls and messages", PersonNote.objects.filter(contact=row).count()),
        ("inquiries", Inquiry.objects.filter(contact=row).count()),
        ("showings", Showing.objects.filter(contact=row).count()),
        ("test drives", TestDrive.objects.filter(contact=row).count()),
    ]
