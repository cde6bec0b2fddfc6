"""The directory, a person's page, merging, handing out, erasing, shares and the pay report on the screen."""

import io
import zipfile
from datetime import datetime
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory.actions import people
from inventory.models import Consignor, Contact, Inquiry, LogEntry, PersonNote
from inventory.rules.roles import Actor
from inventory.rules.states import State
from tests import build
from tests.pages.browse import sign_in, text_of, url

pytestmark = pytest.mark.django_db


def consignor(at: datetime, name: str = "Ada Fenwick", **said: str) -> Consignor:
    return Consignor.objects.create(name=name, created_at=at, **said)


def at_person(row: Any, name: str = "person") -> str:
    kind = "consignors" if isinstance(row, Consignor) else "contacts"
    return reverse(name, kwargs={"kind": kind, "code": row.code})


def test_people_are_found_by_name_mail_and_digits(client: Client, sales: Actor, at: datetime) -> None:
    consignor(at, phone="(555) 014-2233")
    Contact.objects.create(name="Cy Dunn", email="cy@example.org", phone="555 999 0000", created_at=at)
    sign_in(client, sales)
    for query, yes, no in (
        ("fenw", "Ada Fenwick", "Cy Dunn"), ("CY@example", "Cy Dunn", "Ada Fenwick"),
        ("0142233", "Ada Fenwick", "Cy Dunn"), ("555-999", "Cy Dunn", "Ada Fenwick"),
    ):  # fmt: skip
        said = text_of(client.get("/people/", {"q": query}))
        assert yes in said, query
        assert no not in said, query
    said = text_of(client.get("/people/", {"kind": "contacts"}))
    assert "Cy Dunn" in said
    assert "Ada Fenwick" not in said
    for odd in ({"q": "\0"}, {"page": "9" * 5000}, {"kind": "nobody"}):
        assert client.get("/people/", odd).status_code == 200


def test_doubles_are_marked_and_alone_on_wish(client: Client, owner: Actor, at: datetime) -> None:
    consignor(at, phone="555 014 2233")
    consignor(at, name="A. Fenwick", phone="+1 (555) 014-2233")
    consignor(at, name="Bo Larkin")
    said = text_of(sign_in(client, owner).get("/people/", {"doubles": "on"}))
    assert said.count("likely a double") == 2
    assert "same phone" in said
    assert "Bo Larkin" not in said


def test_directory_asks_as_much_for_30_as_for_3(client: Client, sales: Actor, at: datetime) -> None:
    sign_in(client, sales)
    counted = []
    for many in (3, 27):
        for number in range(many):
            consignor(at, name=f"Person {number}", email=f"p{number}@example.org")
            Contact.objects.create(name=f"Person {number} who called", phone=f"555 014 2{number:03}", created_at=at)
        with CaptureQueriesContext(connection) as captured:
            assert client.get("/people/").status_code == 200
        counted.append(len(captured))
    assert counted[0] == counted[1]


def test_note_is_typed_and_read_in_one_list(client: Client, sales: Actor, at: datetime) -> None:
    stay = build.consignment(State.LISTED, at=at)
    row = stay.consignor
    said = {"way": "phone", "direction": "from_them", "text": "Asks <b>about</b> the title", "consignment_id": stay.pk}
    sign_in(client, sales)
    assert client.post(at_person(row, "note_person"), {**said, "text": ""}).status_code == 422
    with CaptureQueriesContext(connection) as once:
        page = text_of(client.post(at_person(row, "note_person"), said, follow=True))
    assert "Asks &lt;b&gt;about&lt;/b&gt; the title" in page
    assert stay.stock_number in page
    assert "Mail: " in page
    assert "Their data" not in page, "the owner's alone"
    people.log_note("consignors", person_id=row.pk, way="email", direction="to_them", text="x", by=sales, at=at)
    with CaptureQueriesContext(connection) as again:
        client.post(at_person(row, "note_person"), {**said, "text": "once more"}, follow=True)
    assert len(again) == len(once)
    assert PersonNote.objects.count() == 3


def test_person_is_corrected_on_the_version_that_was_seen(client: Client, sales: Actor, at: datetime) -> None:
    row = Contact.objects.create(name="Cy Dunn", created_at=at)
    sign_in(client, sales)
    given = {"name": "Cyrus Dunn", "email": "cy@example.org", "phone": "", "note": "", "version": 1}
    assert client.post(at_person(row, "correct_person"), given).status_code == 302
    assert client.post(at_person(row, "correct_person"), {**given, "name": "C"}).status_code == 422
    row.refresh_from_db()
    assert (row.name, row.email, row.version) == ("Cyrus Dunn", "cy@example.org", 2)


def test_merge_is_previewed_then_done(client: Client, owner: Actor, at: datetime) -> None:
    into, double = consignor(at, email="ada@example.org"), consignor(at, name="A. Fenwick", phone="555 014 2233")
    page = at_person(into, "merge_person")
    said = text_of(sign_in(client, owner).get(page, {"double": double.code}))
    assert "Merge A. Fenwick into Ada Fenwick" in said
    assert Consignor.objects.filter(merged_into__isnull=False).count() == 0
    given = {"double": double.code, "version": 1, "double_version": 1, "keep_name": "other"}
    assert client.post(page, {**given, "version": 0}).status_code == 422
    assert client.post(page, given).status_code == 302
    into.refresh_from_db()
    assert (into.name, into.email, into.phone) == ("A. Fenwick", "ada@example.org", "555 014 2233")
    assert client.get(at_person(double)).headers["Location"] == at_person(into)
    assert "is no double of themselves" in text_of(client.get(page, {"double": into.code}))
    assert client.get(page, {"double": "nonsense", "q": "fenw"}).status_code == 200


def test_data_is_handed_out_and_that_is_logged(client: Client, owner: Actor, at: datetime) -> None:
    row = consignor(at)
    answer = sign_in(client, owner).post(at_person(row, "export_person"))
    assert answer.headers["Cache-Control"] == "no-store"
    assert zipfile.ZipFile(io.BytesIO(answer.content)).namelist() == ["data.json", "data.txt"]
    assert LogEntry.objects.filter(action="person.exported", subject_id=row.pk).count() == 1


def test_erasing_asks_first_and_says_what_is_kept(client: Client, owner: Actor, at: datetime) -> None:
    stay = build.consignment(State.LISTED, at=at)
    who = Contact.objects.create(name="Cy Dunn", created_at=at)
    Inquiry.objects.create(
        consignment=stay, contact=who, way="phone", who="Cy Dunn", on=at.date(), by="x", at=at
    )  # fmt: skip
    sign_in(client, owner)
    said = text_of(client.get(at_person(stay.consignor, "erase_person")))
    assert "Not now. Their vehicle" in said
    assert "Erase the data</button>" not in said
    page = at_person(who, "erase_person")
    said = text_of(client.get(page))
    assert "who asked, and what about" in said.lower()
    assert "kept as law asks for money records; check local law" in said.lower()
    assert client.post(page).status_code == 422
    assert "Erased person 1" in text_of(client.post(page, {"sure": "on"}, follow=True))


def test_shares_and_pay_report_are_the_owners(client: Client, owner: Actor, sales: Actor, at: datetime) -> None:
    stay = build.consignment(State.ON_LOT, at=at)
    sign_in(client, owner)
    given = {"user_id": sales.id, "part": "brought_in", "percent": "12.5"}
    assert "12.50 %" in text_of(client.post(url(stay, "shares"), given, follow=True))
    assert client.post(url(stay, "shares"), {**given, "part": "sold", "percent": "90"}).status_code == 422
    said = text_of(client.get("/pay/", {"month": "2026-03"}))
    assert "Pay report March 2026" in said
    assert "check the agreement with your staff and local law" in said
    assert client.get("/pay/", {"month": "2026-13"}).status_code == 422
    assert client.get("/pay/", {"month": "2999-12"}).status_code == 200
    assert client.get("/pay/report.csv", {"month": "2026-03"}).content.startswith(b"who,part,percent,stock_number")
