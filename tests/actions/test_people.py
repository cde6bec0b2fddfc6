"""Notes, merging, export and erasure of people."""

import io
import json
import zipfile
from datetime import datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from django.apps import apps
from django.core.files.base import ContentFile
from django.db import models
from pytest_django import DjangoCaptureOnCommitCallbacks, Settings

from inventory.actions import erasing, inquiring, linking, mailing, merging, offering, people, settling
from inventory.actions.contacting import contact_for
from inventory.errors import NotAllowed, Refused
from inventory.models import (
    Consignment,
    Consignor,
    Contact,
    Inquiry,
    LogEntry,
    OutMessage,
    PersonNote,
    StatusLink,
    TestDrive,
)
from inventory.queries import person_file, person_rows, persons
from inventory.queries.messages import turned_off
from inventory.queries.statement_paper import statement_paper
from inventory.rules.erasing import KEPT
from inventory.rules.messages import LINK_MARK
from inventory.rules.roles import Actor
from inventory.rules.states import State
from inventory.rules.words import MessageKind
from tests import build

pytestmark = pytest.mark.django_db
NAME = "Zoë Tarrant-Vale"


def contact(by: Actor, at: datetime, **said: str) -> Contact:
    row = contact_for(**{"name": NAME, "phone": "555 014 2233", "email": "zoe@example.org", **said}, by=by, at=at)
    assert row is not None
    return row


def consignor(at: datetime, **said: Any) -> Consignor:
    given = {"name": NAME, "phone": "555 014 2233", "email": "zoe@example.org", **said}
    return Consignor.objects.create(**given, created_at=at)


def asked(stay: Consignment, who: Contact, *, by: Actor, at: datetime) -> Inquiry:
    return Inquiry.objects.create(
        consignment=stay, contact=who, way="phone", who=who.name, about=f"rust, says {who.name}", on=at.date(),
        by=by.name, at=at,
    )  # fmt: skip


def test_note_is_kept_once_on_the_row_that_goes_on(sales: Actor, intake: Actor, at: datetime) -> None:
    first, second = consignor(at), consignor(at, name="Zoe T.")
    Consignor.objects.filter(pk=second.pk).update(merged_into=first)
    key = "0d4a4c2e-58a5-4c3f-8ac2-74fd8d2a6fb0"
    said: dict[str, Any] = {"way": "phone", "direction": "from_them", "text": "wants 48,000", "client_key": key}
    note = people.log_note("consignors", person_id=second.pk, **said, by=sales, at=at)
    assert people.log_note("consignors", person_id=second.pk, **said, by=sales, at=at) == note
    assert (note.consignor, PersonNote.objects.count()) == (first, 1)
    with pytest.raises(NotAllowed):
        people.log_note("consignors", person_id=first.pk, **said, by=intake, at=at)
    said = {**said, "client_key": None, "on": at.date() + timedelta(days=1)}
    with pytest.raises(Refused) as refusal:
        people.log_note("consignors", person_id=first.pk, **said, by=sales, at=at)
    assert refusal.value.field == "on"


def test_merged_consignor_moves_everything_and_links_go_on(owner: Actor, at: datetime) -> None:
    stay = build.consignment(State.ON_LOT, at=at)
    double, into = stay.consignor, consignor(at, phone="")
    people.log_note("consignors", person_id=double.pk, way="phone", direction="to_them", text="x", by=owner, at=at)
    mailing.choose(double.pk, kind=MessageKind.LISTED, wanted=False, by=owner, at=at)
    _, token = linking.make_link(stay.pk, by=owner, at=at)
    first = consignor(at, name="Ada F.")
    Consignor.objects.filter(pk=first.pk).update(merged_into=double)
    row = merging.merge("consignors", double_id=double.pk, into_id=into.pk, take=["email"], by=owner, at=at)
    stay.refresh_from_db()
    assert (stay.consignor, row.name, row.email) == (into, NAME, "ada@example.org")
    assert PersonNote.objects.get().consignor == into
    assert MessageKind.LISTED in turned_off(into)
    assert linking.use_link(token, at=at).consignment == stay
    assert set(Consignor.objects.filter(merged_into=into)) == {double, first}, "no chains"
    said = LogEntry.objects.get(action="person.merged").data
    assert "vehicles consigned: 1" in said["moved"]
    for other, to in ((into, double), (double, into), (into, into)):
        with pytest.raises(Refused):
            merging.merge("consignors", double_id=other.pk, into_id=to.pk, by=owner, at=at)


def test_statement_keeps_the_name_it_was_made_with(owner: Actor, at: datetime) -> None:
    stay = build.consignment(State.SETTLED, at=at)
    into = consignor(at)
    merging.merge("consignors", double_id=stay.consignor_id, into_id=into.pk, by=owner, at=at)
    paper = statement_paper(stay.settlements.get())
    assert "Ada Fenwick" in str(paper)
    assert NAME not in str(paper)


def test_merged_contact_is_read_through_the_one_that_goes_on(owner: Actor, at: datetime) -> None:
    stay = build.consignment(State.LISTED, at=at)
    double, into = contact(owner, at), contact(owner, at, phone="", email="vale@example.org")
    inquiry = asked(stay, double, by=owner, at=at)
    merging.merge("contacts", double_id=double.pk, into_id=into.pk, by=owner, at=at)
    person = persons.person("contacts", code=into.code)
    assert list(person_rows.inquiries(person)) == [inquiry]
    assert person.merged == (double,) or person.merged[0].pk == double.pk


def test_export_holds_what_names_them_and_no_secrets(owner: Actor, at: datetime) -> None:
    stay = build.consignment(State.LISTED, at=at)
    linking.make_link(stay.pk, by=owner, at=at)
    offering.log_offer(stay.pk, amount=Decimal(40000), bidder="Bo Larkin", by=owner, at=at)
    person = persons.person_of(stay.consignor)
    file = zipfile.ZipFile(io.BytesIO(person_file.person_zip(person, lot="The lot", at=at)))
    holds = json.loads(file.read("data.json"))["holds"]
    assert holds["as consignor"][0]["email"] == "ada@example.org"
    assert holds["vehicles consigned"][0]["stock_number"] == stay.stock_number
    assert any("signed by Ada Fenwick" in line["did"] for line in holds["log"])
    text = file.read("data.txt").decode()
    assert "Signed by" in text or "signed by: Ada Fenwick" in text
    link = StatusLink.objects.get()
    for secret in (link.seed, link.digest, "Bo Larkin"):
        assert secret not in text + file.read("data.json").decode()


def text_columns() -> list[tuple[type[models.Model], str]]:
    kinds = (models.CharField, models.TextField, models.JSONField, models.FileField)
    return [
        (model, field.name)
        for model in apps.get_app_config("inventory").get_models()
        for field in model._meta.concrete_fields
        if isinstance(field, kinds)
    ]


def where_said(name: str) -> set[str]:
    """Every text column of the database that still says it."""
    return {
        f"{model._meta.model_name}.{column}"
        for model, column in text_columns()
        for value in model._default_manager.values_list(column, flat=True)
        if name.casefold() in str(value).casefold()
    }


def test_erased_contact_is_named_nowhere(
    owner: Actor, at: datetime, settings: Settings, tmp_path: Path,
    django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks,
) -> None:  # fmt: skip
    settings.MEDIA_ROOT = tmp_path
    stay = build.consignment(State.LISTED, at=at)
    who = contact(owner, at)
    asked(stay, who, by=owner, at=at)
    inquiring.log_showing(stay.pk, who=NAME, note=f"{NAME} walked round it", by=owner, at=at)
    offering.log_offer(stay.pk, amount=Decimal(40000), bidder=NAME, contact=who.email, by=owner, at=at)
    people.log_note(
        "contacts", person_id=who.pk, way="phone", direction="from_them", text=f"{NAME} called", by=owner, at=at
    )
    Consignment.objects.filter(pk=stay.pk).update(note=f"{NAME} has the spare key")
    drive = TestDrive(
        consignment=stay, contact=who, driver=NAME, waiver="x", signed="drawn", strokes=[[[1, 1], [2, 2]]],
        out_at=at, odometer_out=1, back_at=at, odometer_back=2, copy_kept_until=at.date(), by=owner.name,
    )  # fmt: skip
    drive.licence_copy.save("copy.jpg", ContentFile(b"x"), save=False)
    drive.save()
    assert len(where_said(NAME)) > 8
    with django_capture_on_commit_callbacks(execute=True):
        erasing.erase(who, by=owner, at=at)
    assert where_said(NAME) == set()
    assert where_said("zoe@example.org") | where_said("555 014 2233") == set()
    drive.refresh_from_db()
    assert (drive.strokes, bool(drive.licence_copy), list(tmp_path.rglob("copy*.jpg"))) == ([], False, [])
    entries = LogEntry.objects.count()
    erasing.erase(who, by=owner, at=at)
    assert LogEntry.objects.count() == entries, "told again it changes nothing"
    assert who.name == "Erased person 1"


def test_erased_consignor_is_named_only_where_it_is_kept(owner: Actor, at: datetime) -> None:
    stay = build.consignment(State.SETTLED, at=at, consignor_name=NAME, consignor_email="zoe@example.org")
    linking.make_link(stay.pk, by=owner, at=at)
    with pytest.raises(Refused) as refusal:
        erasing.erase(stay.consignor, by=owner, at=at)
    assert refusal.value.code == "vehicle_here"
    Consignment.objects.filter(pk=stay.pk).update(released_on=at.date(), signed_for_by=NAME)
    with pytest.raises(Refused) as refusal:
        erasing.erase(stay.consignor, by=owner, at=at)
    assert refusal.value.code == "money_open"
    settlement = stay.settlements.get()
    settling.record_disbursement(
        settlement.pk, payee_kind="consignor", payee=NAME, amount=settlement.due, method="wire", by=owner, at=at
    )
    assert OutMessage.objects.filter(text__contains=NAME).exists()
    erasing.erase(stay.consignor, by=owner, at=at)
    assert where_said(NAME) >= {"settlementpayee.name", "disbursement.payee"}
    assert where_said(NAME) <= set(KEPT)
    assert where_said("zoe@example.org") == set()
    assert not StatusLink.objects.filter(revoked_at__isnull=True).exists()
    assert LINK_MARK not in OutMessage.objects.get(kind=MessageKind.LISTED).text


def test_buyer_is_erased_once_the_deal_is_through(owner: Actor, at: datetime) -> None:
    stay = build.consignment(State.SETTLED, at=at)
    who = contact(owner, at, name="Bo Larkin")
    with pytest.raises(Refused) as refusal:
        erasing.erase(who, by=owner, at=at)
    assert refusal.value.code == "deal_open"
    Consignment.objects.filter(pk=stay.pk).update(released_on=at.date(), signed_for_by="Bo Larkin")
    erasing.erase(who, by=owner, at=at)
    assert "deal.buyer" in where_said("Bo Larkin")
    assert where_said("Bo Larkin") <= set(KEPT)


def test_erasing_is_the_owners_alone(sales: Actor, at: datetime) -> None:
    with pytest.raises(NotAllowed):
        erasing.erase(contact(sales, at), by=sales, at=at)
