"""What was said to people and by them, and who they are: noted, corrected, handed out."""

import uuid
from datetime import date, datetime

from django.db import transaction

from inventory.actions import logbook
from inventory.actions.writing import add, again, change, refuse_stale, trade_day
from inventory.errors import NotFound, Refused
from inventory.models import Consignment, Consignor, Contact, PersonNote
from inventory.queries.persons import CONSIGNORS, KINDS, Row
from inventory.rules.plausibility import check_not_future
from inventory.rules.roles import Act, Actor, require

COLUMNS = {
    CONSIGNORS: ("name", "email", "phone", "address", "note"),
    "contacts": ("name", "email", "phone", "note"),
}  # fmt: skip


@transaction.atomic
def log_note(
    kind: str, *, person_id: int, way: str, direction: str, text: str, consignment_id: int | None = None,
    on: date | None = None, client_key: uuid.UUID | None = None, by: Actor, at: datetime,
) -> PersonNote:  # fmt: skip
    """Keep a call or message. It stands on the row that goes on, whichever double it was typed at."""
    require(by, Act.SEE_PEOPLE)
    row = locked_person(kind, person_id=person_id)
    if (known := again(PersonNote, client_key=client_key)) is not None:
        return known
    if consignment_id is not None and not Consignment.objects.filter(pk=consignment_id).exists():
        raise NotFound("not_found", "There is no such vehicle.", field="consignment_id", got=consignment_id)
    today = trade_day(at)
    note = add(
        PersonNote(
            **{KINDS[kind]: row}, consignment_id=consignment_id, way=way, direction=direction, text=text.strip(),
            on=check_not_future(on or today, today=today, field="on"), client_key=client_key, by=by.name, at=at,
        )
    )  # fmt: skip
    logbook.record("person.noted", row, by=by, at=at, way=note.get_way_display(), on=note.on)
    return note


@transaction.atomic
def correct_person(
    kind: str, *, person_id: int, values: dict[str, str], version: int | None = None, by: Actor, at: datetime
) -> Row:
    require(by, Act.SEE_PEOPLE)
    row = locked_person(kind, person_id=person_id)
    refuse_stale(row, version=version)
    unknown = sorted(set(values) - set(COLUMNS[kind]))
    if unknown:
        raise Refused(
            "not_corrected_here", f"{', '.join(unknown)} is not corrected here.", field=unknown[0],
            mend=f"Give one of {', '.join(COLUMNS[kind])}.",
        )  # fmt: skip
    tidy = {name: value.strip() for name, value in values.items()}
    changed = {name: value for name, value in tidy.items() if getattr(row, name) != value}
    if changed:
        change(row, **changed)
        action = f"{KINDS[kind]}.corrected"
        logbook.record(action, row, by=by, at=at, fields=", ".join(sorted(changed)), name=row.name)
    return row


@transaction.atomic
def note_export(kind: str, *, person_id: int, by: Actor, at: datetime) -> None:
    """Somebody takes a copy of all data on a person: that is known afterwards."""
    require(by, Act.MERGE_PEOPLE)
    row = _row(kind, person_id=person_id)
    logbook.record("person.exported", row, by=by, at=at)


def locked_person(kind: str, *, person_id: int) -> Row:
    """The row that goes on, locked; refused where the person was erased."""
    row = _row(kind, person_id=person_id)
    row = _row(kind, person_id=row.merged_into_id or row.pk)
    if row.erased_at is not None:
        raise Refused("erased", f"{row.name} holds no data any more.", mend="Log the person anew, if they come again.")
    return row


def _row(kind: str, *, person_id: int) -> Row:
    model: type[Consignor] | type[Contact] = Consignor if kind == CONSIGNORS else Contact
    row: Row | None = model.objects.select_for_update().filter(pk=person_id).first()
    if row is None or getattr(row, "is_lot", False):
        raise NotFound("not_found", "There is no such person.", got=person_id)
    return row
