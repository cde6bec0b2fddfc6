"""A person is erased where the law asks for it: data emptied, money records kept. The list is `rules/erasing`."""

import json
from collections.abc import Iterator
from datetime import datetime
from functools import partial, reduce
from operator import or_
from typing import Any

from django.apps import apps
from django.core.files.storage import Storage
from django.db import models, transaction
from django.db.models import JSONField, Q, TextField
from django.db.models.functions import Cast

from inventory.actions import linking, logbook
from inventory.actions.writing import locked_lot
from inventory.models import Consignor, Contact
from inventory.models.base import AppendedQuerySet
from inventory.queries import person_rows
from inventory.queries.erasing import counts, mails_unsent, offers_without_deal, why_not
from inventory.queries.persons import Person, Row, person_of
from inventory.rules.erasing import GONE, NAMED_WITHIN, data_without, label_of
from inventory.rules.roles import Act, Actor, require
from inventory.rules.words import MessageStatus

NOWHERE = "erased@invalid.invalid"  # of mail that was sent: RFC 2606 keeps this ending free


@transaction.atomic
def erase(row: Row, *, by: Actor, at: datetime) -> Row:
    """Empty what is held on a person, under whatever rows; told again it changes nothing. The log keeps no name."""
    require(by, Act.MERGE_PEOPLE)
    locked_lot()  # one merge or erasure at a time, and one number for each
    row.refresh_from_db()
    if row.erased_at is not None:
        return row
    person = person_of(row)
    refusal = why_not(person)
    if refusal is not None:
        raise refusal
    label, marks = label_of(_next_number()), person.marks
    told = {name: found for name, found in counts(person).items() if found}
    _empty_rows(person, label=label, by=by, at=at)
    _empty_people(person, label=label, at=at)
    for name in NAMED_WITHIN:
        _take_out(name, marks=marks, label=label)
    row.refresh_from_db()
    said = ", ".join(f"{name.replace('_', ' ')} {found}" for name, found in told.items())
    logbook.record("person.erased", row, by=by, at=at, label=label, emptied=said)
    return row


def _next_number() -> int:
    gone = {"erased_at__isnull": False}
    return Consignor.objects.filter(**gone).count() + Contact.objects.filter(**gone).count() + 1


def _empty_people(person: Person, *, label: str, at: datetime) -> None:
    plain = {"name": label, "email": "", "phone": "", "note": "", "erased_at": at, "version": models.F("version") + 1}
    consignors = Consignor.objects.filter(pk__in=[row.pk for row in person.consignors])
    consignors.update(**plain, address="")
    Contact.objects.filter(pk__in=[row.pk for row in person.contacts]).update(**plain)


def _empty_rows(person: Person, *, label: str, by: Actor, at: datetime) -> None:
    """Each kind of row, while their names are still there to find it by; those found by others come first."""
    for stay in person_rows.stays(person).filter(links__revoked_at__isnull=True, links__isnull=False).distinct():
        linking.revoke_link(stay.pk, by=by, at=at)
    person_rows.notes(person).update(text=GONE, erased_at=at)
    person_rows.prospects(person).update(
        story="", serial="", declined_because=models.Case(
            models.When(declined_because="", then=models.Value("")), default=models.Value(GONE)
        ), follow_up_on=None, version=models.F("version") + 1,
    )  # fmt: skip
    _empty_mails(person)
    _empty_drives(person, label=label, at=at)
    _erase(person_rows.follow_ups(person), said=GONE)
    _erase(person_rows.showings(person), who=label, note="")
    _erase(offers_without_deal(person), bidder=label, contact="", note="", conditions="")
    _erase(person_rows.inquiries(person), who=label, about="")


def _erase(rows: models.QuerySet[Any], **values: str) -> None:
    """By key: rows are found through columns that are emptied here."""
    found: AppendedQuerySet[Any] = rows.model._default_manager.filter(pk__in=list(rows.values_list("pk", flat=True)))
    found.erase(**values)


def _empty_mails(person: Person) -> None:
    mails_unsent(person).update(status=MessageStatus.NOT_WANTED, next_try_at=None, claimed_at=None)
    mails = person_rows.mails(person)
    mails.exclude(to="").update(to=NOWHERE)
    mails.update(subject=GONE, text=GONE, last_error="")


def _empty_drives(person: Person, *, label: str, at: datetime) -> None:
    drives = list(person_rows.drives(person))
    for drive in drives:
        if drive.licence_copy:
            _delete_after_commit(drive.licence_copy.storage, name=str(drive.licence_copy.name))
            drive.licence_copy, drive.copy_deleted_at = "", at
        drive.driver, drive.licence_from, drive.licence_valid_until = label, "", None
        drive.strokes, drive.note_back, drive.version = [], "", drive.version + 1
        drive.save()


def _delete_after_commit(storage: Storage, *, name: str) -> None:
    transaction.on_commit(partial(storage.delete, name))


def _take_out(name: str, *, marks: list[str], label: str) -> None:
    """Wherever one column still says a name, e-mail or phone of the person, put the label there."""
    model_name, column = name.split(".")
    model = apps.get_model("inventory", model_name)
    for row in list(_saying(model, column=column, marks=marks)):
        was = getattr(row, column)
        now = data_without(was, marks=marks, label=label)
        if now == was:
            continue
        now = _fitting(now, field=model._meta.get_field(column))
        one = model._default_manager.filter(pk=row.pk)
        if isinstance(one, AppendedQuerySet):
            one.erase(**{column: now})
        else:
            one.update(**{column: now})


def _fitting(value: Any, *, field: Any) -> Any:
    """The label may be longer than the name was: what does not fit is cut at the end."""
    longest = getattr(field, "max_length", None)
    return value[:longest] if longest and isinstance(value, str) else value


def _saying(model: type[models.Model], *, column: str, marks: list[str]) -> Iterator[Any]:
    """Rows in question by the database's own search, over the text as it is stored; JSON may hold it escaped."""
    rows = model._default_manager.all()
    is_json = isinstance(model._meta.get_field(column), JSONField)
    searched = "as_text" if is_json else column
    if is_json:
        rows = rows.annotate(as_text=Cast(column, TextField()))
    words = {part for mark in marks for part in ((mark, json.dumps(mark)[1:-1]) if is_json else (mark,)) if part}
    # Several blanks may stand where the name has one: the first word finds the row, the rule decides.
    found = [Q(**{f"{searched}__icontains": word.split()[0]}) for word in words]
    if model._meta.model_name == "offer":
        rows = rows.filter(deals__isnull=True)
    yield from rows.filter(reduce(or_, found, Q(pk__in=[]))).iterator()
