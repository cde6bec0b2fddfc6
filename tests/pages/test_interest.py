"""Inquiries to follow up, test drives and places shown, as staff on the floor use them."""

import json
from datetime import datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from inventory.actions import inquiring, inspecting, recording, showing_places
from inventory.actions.inspecting import Finding
from inventory.models import Consignment, FollowUp, LogEntry, Publication, TestDrive
from inventory.queries.drives import drives_out_long
from inventory.rules.roles import Actor
from inventory.rules.states import State
from inventory.rules.words import Basis
from tests import build
from tests.pages.browse import sign_in, text_of, url
from tests.receipts import HAND
from tests.test_uploads import picture

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def media(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def now() -> datetime:
    return timezone.now()


@pytest.fixture
def stay(now: datetime) -> Consignment:
    return build.consignment(State.LISTED, at=now)


def queries_of(client: Client, path: str) -> int:
    with CaptureQueriesContext(connection) as captured:
        assert client.get(path).status_code == 200
    return len(captured)


def call(stay: Consignment, number: int, *, now: datetime) -> Any:
    today = timezone.localdate()
    return inquiring.log_inquiry(
        stay.pk, way="phone", who=f"Caller {number}", phone=f"555 010 01{number:02d}", about="rust",
        follow_up_on=today + timedelta(days=number % 2), by=build.BUILDER, at=now,
    )  # fmt: skip


def test_due_inquiries_come_first_and_a_follow_up_is_logged(
    client: Client, sales: Actor, stay: Consignment, now: datetime
) -> None:
    due, later = call(stay, 0, now=now), call(stay, 1, now=now)
    page = sign_in(client, sales).get(reverse("follow_ups"))
    shown = page.context["shown"]
    assert [[line.row for line in lines] for lines in (shown.due, shown.later)] == [[due], [later]]
    assert 'href="tel:5550100100"' in text_of(page)
    assert "1 inquiry to follow up today" in text_of(client.get(reverse("lot")))
    one = reverse("follow_up", args=[due.pk])
    wrong = client.post(one, {"said": "no answer", "next_on": str(timezone.localdate())})
    assert (wrong.status_code, list(wrong.context["form"].errors)) == (422, ["next_on"])
    assert client.post(one, {"said": "no answer", "next_on": ""}).status_code == 302
    assert FollowUp.objects.get().said == "no answer"
    assert not client.get(reverse("follow_ups")).context["shown"].due
    assert "no answer" in text_of(client.get(one))
    form = client.get(url(stay, "test_drives"), {"asked": due.pk}).context["form"]
    assert [form[name].value() for name in ("inquiry", "driver", "phone")] == [due.pk, "Caller 0", "555 010 0100"]


def test_inquiries_and_places_take_as_many_queries_with_8_as_with_2(
    client: Client, owner: Actor, stay: Consignment, now: datetime
) -> None:
    sign_in(client, owner)
    paths = [reverse("follow_ups"), reverse("shown"), url(stay, "shown_of"), reverse("lot")]

    def more(numbers: range) -> list[int]:
        for number in numbers:
            call(stay, number, now=now)
            showing_places.show_at(stay.pk, place=f"Place {number}", ask=Decimal(1), by=build.BUILDER, at=now)
        return [queries_of(client, path) for path in paths]

    assert more(range(2)) == more(range(2, 8))


def going(page: Any, **changes: Any) -> dict[str, Any]:
    form = page.context["form"]
    return {
        "driver": "Bo Larkin", "phone": "555 010 0188", "licence_from": "Ohio", "odometer_out": "61240",
        "licence_valid_until": str(timezone.localdate() + timedelta(days=9)), "strokes": json.dumps(HAND),
        "text_seen": form["text_seen"].value(), "client_key": form["client_key"].value(), **changes,
    }  # fmt: skip


def test_drive_is_signed_out_and_taken_back_on_its_page(client: Client, sales: Actor, stay: Consignment) -> None:
    page = sign_in(client, sales).get(url(stay, "test_drives"))
    assert "come straight back" in text_of(page)
    wrong = client.post(url(stay, "test_drives"), going(page, strokes=""))
    assert "has not signed" in wrong.context["form"].errors["typed"][0]
    assert wrong.context["form"]["driver"].value() == "Bo Larkin"
    for _ in range(2):
        assert client.post(url(stay, "test_drives"), going(page)).status_code == 302
    out = TestDrive.objects.get()
    assert out.strokes == HAND
    TestDrive.objects.update(out_at=timezone.now() - timedelta(hours=3))
    (line,) = drives_out_long(sales, timezone.now())
    assert (line.stock_number, line.is_urgent) == (stay.stock_number, True)
    assert "more than two hours" in text_of(client.get(url(stay, "test_drives")))
    back = url(stay, "drive_back")
    wrong = client.post(back, {"odometer_back": "61239", "version": "1"})
    assert "61,239" in wrong.context["back"].errors["odometer_back"][0]
    assert client.post(back, {"odometer_back": "61250", "version": "1", "note_back": "hums"}).status_code == 302
    page = text_of(client.get(url(stay, "test_drives")))
    assert "10 driven" in page
    assert "hums" in page
    assert "0 inquiries and 1 showing since it was listed" in text_of(client.get(url(stay, "sale_desk")))


def test_open_flag_takes_the_form_away_and_a_form_opened_before_is_refused(
    client: Client, sales: Actor, stay: Consignment, now: datetime
) -> None:
    before = sign_in(client, sales).get(url(stay, "test_drives"))
    inspecting.begin_inspection(stay.pk, by=build.BUILDER, at=now)
    fault = Finding(check_code="underside.brake_lines", grade=0, basis=Basis.SEEN)
    inspecting.record_check(stay.pk, finding=fault, by=build.BUILDER, at=now)
    page = text_of(client.get(url(stay, "test_drives")))
    assert "Only the owner clears a flag" in page
    assert "49 CFR 570" in page
    assert "Sign and let it out" not in page
    refused = client.post(url(stay, "test_drives"), going(before))
    assert refused.status_code == 422
    assert "Nobody drives it" in refused.context["form"].non_field_errors()[0]
    assert LogEntry.objects.filter(action="test_drive.refused").count() == 1


def test_copy_of_a_licence_is_opened_by_the_owner_alone(
    client: Client, sales: Actor, owner: Actor, stay: Consignment, now: datetime
) -> None:
    sent = SimpleUploadedFile("licence.jpg", picture())
    page = sign_in(client, sales).get(url(stay, "test_drives"))
    assert "licence_copy" not in page.context["form"].fields
    wrong = client.post(url(stay, "test_drives"), {**going(page), "licence_copy": sent})
    assert "keeps no copies" in str(wrong.context["form"].errors)
    recording.change_lot({"keep_licence_copies": True}, by=owner, at=now)
    sent.seek(0)
    assert client.post(url(stay, "test_drives"), {**going(page), "licence_copy": sent}).status_code == 302
    path = url(stay, "licence_copy", code=TestDrive.objects.get().code)
    assert client.get(path).status_code == 403
    copy = sign_in(client, owner).get(path)
    assert (copy.status_code, copy["Cache-Control"]) == (200, "no-store")
    assert b"Phone of somebody" not in b"".join(copy.streaming_content)  # type: ignore[arg-type]


def test_place_is_kept_and_set_right_with_one_tap(
    client: Client, owner: Actor, stay: Consignment, now: datetime
) -> None:
    sign_in(client, owner)
    page = client.get(url(stay, "shown_of"))
    assert page.context["form"]["ask"].value() == "48,500.00"
    bad = client.post(url(stay, "shown_of"), {"place": "Post", "address": "javascript:alert(1)"})
    assert (bad.status_code, list(bad.context["form"].errors)) == (422, ["address"])
    said = {"place": "Post", "address": "motor.example.org/1", "ask": "48,500"}
    assert client.post(url(stay, "shown_of"), said).status_code == 302
    row = Publication.objects.get()
    assert row.address == "https://motor.example.org/1"
    stay.refresh_from_db()
    set_ask = {"ask": "46,000", "version": str(stay.version), "reason": "two months without an offer"}
    told = client.post(url(stay, "set_ask"), set_ask, follow=True)
    assert "Shown at 1 place with the old ask: Post." in text_of(told)
    assert "It shows $48,500.00; the ask is $46,000.00." in text_of(client.get(reverse("shown")))
    assert "1 place shows what is no longer so" in text_of(client.get(reverse("lot")))
    tap = {"do": "right", "version": "1", "seen": "floor"}
    assert "Post: set right." in text_of(client.post(reverse("correct_shown", args=[row.code]), tap, follow=True))
    again = client.post(reverse("correct_shown", args=[row.code]), tap, follow=True)
    assert "changed since you looked" in text_of(again)
    down = {"do": "down", "version": "2", "seen": "vehicle"}
    assert "Taken down" in text_of(client.post(reverse("correct_shown", args=[row.code]), down, follow=True))
