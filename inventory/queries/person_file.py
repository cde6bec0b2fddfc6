"""Everything the house holds on one person, as one ZIP: data for programs, and the same as text to read."""

import io
import json
import zipfile
from collections.abc import Callable, Iterator
from datetime import datetime
from typing import Any

from django.core.serializers.json import DjangoJSONEncoder
from django.db.models import Q, QuerySet, TextField
from django.db.models.functions import Cast
from django.utils import timezone

from inventory.models import (
    ArrivalReceipt,
    BuyerPayment,
    Charge,
    Consent,
    ConsentAnswer,
    ConsentRequest,
    Consignor,
    ConsignorPayment,
    ConsignorQuestion,
    Contact,
    Disbursement,
    LogEntry,
    Release,
    Settlement,
    SettlementLine,
    SettlementPayee,
    Terms,
    TitlePaper,
)
from inventory.queries import person_rows as rows_of
from inventory.queries.persons import Person
from inventory.rules import erasing
from inventory.rules.wording import log_sentence

# What is not data on a person: keys of our own, and secrets of which only a digest is kept.
_NEVER = frozenset(
    {"client_key", "digest", "seed", "content_hash", "message_id", "event_key", "sha256", "proof_sha256"}
)
_CALLED = ("consignment", "vehicle", "settlement")  # rows named elsewhere that are said by their name
Finder = Callable[[Person], QuerySet[Any]]


def _of_stays(model: Any, *, by: str = "consignment") -> Finder:
    return lambda person: model.objects.filter(**{f"{by}__in": rows_of.stays(person)})


SECTIONS: tuple[tuple[str, Finder], ...] = (
    ("as consignor", lambda person: Consignor.objects.filter(pk__in=[row.pk for row in person.consignors])),
    ("as contact", lambda person: Contact.objects.filter(pk__in=[row.pk for row in person.contacts])),
    ("calls and messages", rows_of.notes),
    ("mails", rows_of.mails),
    ("choices of mail", rows_of.mail_choices),
    ("vehicles that may come", rows_of.prospects),
    ("vehicles consigned", rows_of.stays),
    ("terms", _of_stays(Terms)),
    ("asked to agree", _of_stays(ConsentRequest)),
    ("answers", _of_stays(ConsentAnswer, by="request__consignment")),
    ("consents", _of_stays(Consent)),
    ("questions asked", _of_stays(ConsignorQuestion)),
    ("charges", _of_stays(Charge)),
    ("paid to the lot", _of_stays(ConsignorPayment)),
    ("settlements", _of_stays(Settlement)),
    ("lines of settlements", _of_stays(SettlementLine, by="settlement__consignment")),
    ("payees of settlements", _of_stays(SettlementPayee, by="settlement__consignment")),
    ("paid out", _of_stays(Disbursement, by="settlement__consignment")),
    ("receipts of arrival", _of_stays(ArrivalReceipt)),
    ("receipts of release", _of_stays(Release)),
    ("title papers", _of_stays(TitlePaper, by="vehicle__consignments")),
    ("private links", rows_of.links),
    ("inquiries", rows_of.inquiries),
    ("followed up", rows_of.follow_ups),
    ("showings", rows_of.showings),
    ("test drives", rows_of.drives),
    ("offers made", rows_of.offers),
    ("deals as buyer", rows_of.deals),
    ("payments as buyer", lambda person: BuyerPayment.objects.filter(deal__in=rows_of.deals(person))),
)


def person_zip(person: Person, *, lot: str, at: datetime) -> bytes:
    """The file. Whoever else has a part in their rows (bidders, other owners of a deal) is left out of it."""
    data = person_data(person)
    about = {"lot": lot, "made_at": timezone.localtime(at).isoformat(timespec="seconds"), "holds": data}
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as file:
        for name, text in (
            ("data.json", json.dumps(about, cls=DjangoJSONEncoder, ensure_ascii=False, indent=1)),
            ("data.txt", "\n".join(_text(data, lot=lot, at=at))),
        ):
            stamp = zipfile.ZipInfo(name, timezone.localtime(at).timetuple()[:6])
            stamp.compress_type = zipfile.ZIP_DEFLATED
            file.writestr(stamp, text)
    return out.getvalue()


def person_data(person: Person) -> dict[str, list[dict[str, Any]]]:
    """By heading, the rows that hold something; the log as sentences."""
    found = {heading: [_plain(row) for row in _with_names(find(person))] for heading, find in SECTIONS}
    found["log"] = list(_log(person))
    return {heading: rows for heading, rows in found.items() if rows}


def _with_names(rows: QuerySet[Any]) -> QuerySet[Any]:
    columns = {field.name for field in rows.model._meta.concrete_fields if field.is_relation}
    return rows.select_related(*(name for name in _CALLED if name in columns)).order_by("pk").distinct()


def _plain(row: Any) -> dict[str, Any]:
    """The columns that are filled; of rows that are named elsewhere how they are called."""
    said: dict[str, Any] = {}
    for field in row._meta.concrete_fields:
        if field.name in _NEVER or field.primary_key:
            continue
        value = getattr(row, field.attname)
        if field.is_relation:
            continue
        if value not in (None, "", [], {}):
            said[field.name] = str(value) if field.get_internal_type() == "FileField" else value
    for name in _CALLED:
        if getattr(row, f"{name}_id", None) is not None:
            said[name] = str(getattr(row, name))
    return said


def _log(person: Person) -> Iterator[dict[str, Any]]:
    """What was logged of their own rows, and every line that names them."""
    subjects = Q(subject_kind="consignor", subject_id__in=[row.pk for row in person.consignors])
    subjects |= Q(subject_kind="contact", subject_id__in=[row.pk for row in person.contacts])
    marks = person.marks
    named = Q(pk__in=[])
    for mark in marks:
        for text in {mark.split()[0], json.dumps(mark.split()[0])[1:-1]}:
            named |= Q(as_text__icontains=text)
    rows = LogEntry.objects.annotate(as_text=Cast("data", TextField())).filter(subjects | named)
    for row in rows.select_related("consignment").order_by("pk"):
        own = row.subject_kind in ("consignor", "contact")
        if own or erasing.names(row.data, marks=marks):
            number = row.consignment.stock_number if row.consignment else ""
            told = log_sentence(row.action, data=row.data)
            yield {"at": row.at, "who": row.actor_name, "did": told, "consignment": number, "data": row.data}


def _text(data: dict[str, list[dict[str, Any]]], *, lot: str, at: datetime) -> Iterator[str]:
    yield f"What {lot} holds on one person, {timezone.localtime(at):%Y-%m-%d %H:%M}."
    for heading, rows in data.items():
        yield ""
        yield f"{heading.capitalize()} ({len(rows)})"
        for row in rows:
            yield ""
            for name, value in row.items():
                yield f"  {name.replace('_', ' ')}: {value}"
