"""Two rows that are one person become one. Nothing is lost: what cannot be moved is read through the merged row.

Moved: stays, prospects, notes, mails and contacts of a consignor; prospects, notes and test drives of a contact, and
who it is as a consignor. Not moved, since they are appended rows: inquiries and showings, which `queries.person_rows`
reads by every row of the person. Choices of mail are given anew, so that what was turned off stays off. Statements,
receipts and signed papers keep the name they were made with.
"""

from collections.abc import Iterable, Mapping
from datetime import datetime

from django.db import transaction
from django.db.models import F

from inventory.actions import logbook
from inventory.actions.writing import add, change, locked_lot, refuse_stale
from inventory.errors import NotFound, Refused
from inventory.models import Consignment, Consignor, Contact, MailChoice, OutMessage, PersonNote, Prospect, TestDrive
from inventory.queries.merging import LABELS, facts_of, party_of, said_by
from inventory.queries.messages import turned_off
from inventory.queries.persons import CONSIGNORS, KINDS, Row
from inventory.rules.merging import joined, refuse_merge
from inventory.rules.roles import Act, Actor, require


@transaction.atomic
def merge(
    kind: str, *, double_id: int, into_id: int, take: Iterable[str] = (), versions: Mapping[int, int] | None = None,
    by: Actor, at: datetime,
) -> Row:  # fmt: skip
    """Let `into` go on as both. `take` names the columns that the double's data is kept of, where both differ."""
    require(by, Act.MERGE_PEOPLE)
    locked_lot()  # one merge or erasure at a time
    double, into = _both(kind, double_id=double_id, into_id=into_id)
    refuse_merge(party_of(double), into=party_of(into), is_same=double.pk == into.pk)
    for row in (double, into):
        refuse_stale(row, version=(versions or {}).get(row.pk))
    columns = [name for name in LABELS if hasattr(into, name)]
    chosen = [name for name in take if name in columns]
    said = joined(said_by(into), other=said_by(double), names=columns, take=chosen)
    moved = {label: rows for label, rows in facts_of(double) if rows}
    if isinstance(double, Consignor) and isinstance(into, Consignor):
        _move_consignor(double, into=into, by=by, at=at)
    elif isinstance(double, Contact) and isinstance(into, Contact):
        _move_contact(double, into=into)
    type(double).objects.filter(merged_into=double.pk).update(merged_into=into.pk)  # so that there are no chains
    change(into, **said)
    change(double, merged_into=into)
    told = ", ".join(f"{label}: {rows}" for label, rows in moved.items()) or "nothing to move"
    logbook.record(
        "person.merged", into, by=by, at=at, double=double.name, name=into.name, moved=told, double_id=double.pk
    )
    return into


def _both(kind: str, *, double_id: int, into_id: int) -> tuple[Row, Row]:
    model: type[Consignor] | type[Contact] = Consignor if kind == CONSIGNORS else Contact
    if kind not in KINDS:
        raise NotFound("not_found", "There are no such people.", got=kind)
    rows: dict[int, Row] = {
        row.pk: row
        for row in model.objects.select_for_update(of=("self",)).filter(pk__in=[double_id, into_id]).order_by("pk")
    }
    if not {double_id, into_id} <= set(rows):
        raise NotFound("not_found", "There is no such person.", field="double", got=double_id)
    return rows[double_id], rows[into_id]


def _move_consignor(double: Consignor, *, into: Consignor, by: Actor, at: datetime) -> None:
    stays = Consignment.objects.select_for_update().filter(consignor=double).order_by("pk")
    ids = [stay.pk for stay in stays]
    Consignment.objects.filter(pk__in=ids).update(consignor=into, version=F("version") + 1)
    Prospect.objects.filter(consignor=double).update(consignor=into, version=F("version") + 1)
    Contact.objects.filter(consignor=double).update(consignor=into, version=F("version") + 1)
    PersonNote.objects.filter(consignor=double).update(consignor=into)
    OutMessage.objects.filter(consignor=double).update(consignor=into)
    for choice in sorted(turned_off(double) - turned_off(into)):
        add(MailChoice(consignor=into, kind=choice, wanted=False, by=by.name, at=at))


def _move_contact(double: Contact, *, into: Contact) -> None:
    if double.consignor_id and into.consignor_id and double.consignor_id != into.consignor_id:
        raise Refused(
            "two_consignors", f"{double.name} and {into.name} are two consignors.", field="double",
            mend="Merge the consignors first.",
        )  # fmt: skip
    Prospect.objects.filter(contact=double).update(contact=into, version=F("version") + 1)
    PersonNote.objects.filter(contact=double).update(contact=into)
    TestDrive.objects.filter(contact=double).update(contact=into)
    if into.consignor_id is None and double.consignor_id is not None:
        into.consignor_id = double.consignor_id
        into.save(update_fields=["consignor"])
