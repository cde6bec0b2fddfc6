"""The page on which an arrival receipt is signed, and the paper as staff and the consignor get it."""

import hashlib
import json
import uuid
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from inventory.models import ArrivalReceipt, Consignment
from inventory.rules.roles import Actor
from inventory.rules.signatures import Signature
from inventory.rules.states import State
from tests import build
from tests.pages.browse import sign_in, text_of, url
from tests.pages.test_status import follow, make_link, status_url
from tests.receipts import HAND, signed

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


def body_of(answer: Any) -> bytes:
    return b"".join(answer.streaming_content)


def shown(client: Client, stay: Consignment) -> dict[str, str]:
    """What the page itself would send if nobody touched it."""
    context = client.get(url(stay, "sign_receipt")).context
    sent = {}
    for form in (
        context["form"], context["damage"].management_form, context["items"].management_form,
        *context["damage"], *context["items"],
    ):  # fmt: skip
        for name in form.fields:
            value = form[name].value()
            sent[form.add_prefix(name)] = "" if value is None or value is False else str(value)
    return sent


def sent(client: Client, stay: Consignment, **changes: str) -> dict[str, str]:
    """A page filled in by both sides."""
    given = {
        **shown(client, stay), "fuel": "half", "keys_count": "2", "signs_as": "agent",
        "giver_strokes": json.dumps(HAND), "taker_typed": "on",
        "damage-0-where": "left door", "damage-0-what": "scratch", "damage-3-where": "roof", "damage-3-what": "dent",
        "items-1-what": "car cover", "items-1-count": "2",
    }  # fmt: skip
    return {**given, **changes}


def test_page_shows_what_the_file_says(client: Client, intake: Actor, stay: Consignment) -> None:
    given = shown(sign_in(client, intake), stay)
    assert (given["mileage"], given["odometer_status"], given["replaces"]) == ("61240", "not_stated", "0")
    assert (given["handed_over_by"], given["taken_in_by"]) == ("Ada Fenwick", "Sam Intake")
    page = client.get(url(stay, "sign_receipt")).content.decode()
    assert page.count('name="damage-') == 4 + 2 * 5 + 2  # management, five empty lines, the one that is copied
    assert "By keyboard, sign by typing the name" in page


def test_page_signs_a_receipt_and_skips_empty_lines(client: Client, intake: Actor, stay: Consignment) -> None:
    sign_in(client, intake)
    response = client.post(url(stay, "sign_receipt"), sent(client, stay), follow=True)
    row = ArrivalReceipt.objects.get()
    assert (row.signs_as, row.giver_strokes, row.taker_signed) == ("agent", HAND, "typed")
    assert list(row.damage.values_list("where", "what")) == [("left door", "scratch"), ("roof", "dent")]
    assert list(row.items.values_list("what", "count")) == [("car cover", 2)]
    page = text_of(response)
    assert "Arrival receipt 1 is signed and kept." in page
    assert reverse("receipt", args=[row.code]) in page
    assert "Sam Intake made arrival receipt 1, handed over by Ada Fenwick, taken in by Sam Intake" in page


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"taker_typed": ""}, "Sam Intake has not signed."),
        ({"giver_strokes": ""}, "Ada Fenwick has not signed."),
        ({"giver_strokes": "[[[1,1]]]"}, "The drawing is too small for a signature."),
        ({"giver_strokes": "<svg/>"}, "The drawing did not arrive whole."),
        ({"giver_strokes": "[[[5000,1]]]"}, "outside 1000 by 400"),
        ({"giver_typed": "on"}, "both drew a signature and signed by typing"),
        ({"unsigned_reason": "after hours"}, "also says why it did not"),
        ({"damage-0-where": ""}, "Say where."),
        ({"damage-0-what": ""}, "Say what."),
        ({"items-1-count": ""}, "Say how many."),
        ({"items-1-what": ""}, "Say what."),
        ({"items-1-count": "0"}, "greater than or equal to 1"),
        ({"keys_count": ""}, "This field is required."),
        ({"fuel": "some"}, "Select a valid choice."),
        ({"mileage": ""}, "The receipt has no odometer reading."),
        ({"no_reading_reason": "dark"}, "also says why there is none"),
        ({"mileage": "61300"}, "The file says 61,240 miles, status not stated; here it is 61,300 miles"),
        ({"damage-TOTAL_FORMS": "101"}, "at most 100"),
        ({"replaces": "1"}, "was signed since you looked"),
        ({"replaces": ""}, "This field is required."),
        ({"giver_strokes": "1" * 100_001}, "The drawing is too large."),
    ],
    ids=str,
)  # fmt: skip
def test_what_is_wrong_is_told_and_nothing_typed_or_drawn_is_lost(
    client: Client, intake: Actor, stay: Consignment, changes: dict[str, str], told: str
) -> None:
    sign_in(client, intake)
    response = client.post(url(stay, "sign_receipt"), {**sent(client, stay, note="odd noise", **changes)})
    assert response.status_code == 422
    page = text_of(response)
    assert told in page
    assert not ArrivalReceipt.objects.exists()
    assert "odd noise" in page
    assert 'value="roof"' in page
    assert response.context["form"]["giver_strokes"].value() == changes.get("giver_strokes", json.dumps(HAND))


@pytest.mark.parametrize(("answer", "mileage"), [("update", 61300), ("keep", 61240)])
def test_question_about_the_file_is_answered_beside_the_field(
    client: Client, intake: Actor, stay: Consignment, answer: str, mileage: int
) -> None:
    sign_in(client, intake)
    assert "Update the file" not in text_of(client.get(url(stay, "sign_receipt")))
    given = sent(client, stay, mileage="61300")
    assert "Update the file to this reading" in text_of(client.post(url(stay, "sign_receipt"), given))
    response = client.post(url(stay, "sign_receipt"), {**given, "file_answer": answer})
    assert response["Location"] == url(stay, "vehicle_file")
    stay.refresh_from_db()
    assert stay.mileage == mileage


def test_form_sent_twice_is_one_receipt(client: Client, intake: Actor, stay: Consignment) -> None:
    sign_in(client, intake)
    given = sent(client, stay)
    for _ in range(2):
        assert client.post(url(stay, "sign_receipt"), given).status_code == 302
    assert ArrivalReceipt.objects.count() == 1
    changed = client.post(url(stay, "sign_receipt"), {**given, "keys_count": "3"})
    assert "was signed since you looked" in text_of(changed)


def test_correction_starts_from_the_receipt_and_marks_it_replaced(
    client: Client, intake: Actor, stay: Consignment, now: datetime
) -> None:
    first = signed(stay, at=now)
    sign_in(client, intake)
    given = shown(client, stay)
    assert (given["damage-0-what"], given["items-0-count"], given["keys_count"]) == ("scratch, 4 inches", "2", "2")
    assert (given["giver_strokes"], given["taker_typed"], given["replaces"]) == ("", "", "1")
    given |= {"keys_count": "3", "giver_typed": "on", "taker_typed": "on"}
    assert client.post(url(stay, "sign_receipt"), given).status_code == 302
    page = text_of(client.get(url(stay, "vehicle_file")))
    second = ArrivalReceipt.objects.get(number=2)
    assert (second.follows, second.keys_count, second.damage.count()) == (first, 3, 1)
    assert page.index(str(second.code)) < page.index(str(first.code))
    assert page.count('<span class="badge">replaced</span>') == 1
    assert body_of(client.get(reverse("receipt", args=[first.code])))[:5] == b"%PDF-"


def test_paper_is_shown_private_with_the_bytes_that_were_signed(
    client: Client, sales: Actor, stay: Consignment, now: datetime
) -> None:
    row = signed(stay, at=now)
    answer = sign_in(client, sales).get(reverse("receipt", args=[row.code]))
    assert hashlib.sha256(body_of(answer)).hexdigest() == row.sha256
    assert answer["Content-Type"] == "application/pdf"
    assert answer["Content-Disposition"] == 'inline; filename="arrival-receipt-26-0001-1.pdf"'
    assert (answer["Cache-Control"], answer["X-Content-Type-Options"]) == ("no-store", "nosniff")
    client.logout()
    assert client.get(reverse("receipt", args=[row.code]))["Location"].startswith(reverse("sign_in"))


def test_unknown_receipt_and_lost_paper_are_nothing_here(
    client: Client, owner: Actor, stay: Consignment, now: datetime
) -> None:
    row = signed(stay, at=now)
    Path(row.file.path).unlink()
    sign_in(client, owner)
    for code in (uuid.uuid4(), row.code):
        assert client.get(reverse("receipt", args=[code])).status_code == 404


def test_sales_staff_read_the_receipt_and_do_not_make_it(client: Client, sales: Actor, stay: Consignment) -> None:
    page = text_of(sign_in(client, sales).get(url(stay, "vehicle_file")))
    assert "No arrival receipt has been signed." in page
    assert url(stay, "sign_receipt") not in page
    assert client.post(url(stay, "sign_receipt"), {"fuel": "half"}).status_code == 403


def test_booked_vehicle_gets_no_receipt(client: Client, intake: Actor, now: datetime) -> None:
    booked = build.consignment(State.BOOKED, at=now)
    sign_in(client, intake)
    assert url(booked, "sign_receipt") not in text_of(client.get(url(booked, "vehicle_file")))
    assert "has not arrived" in text_of(client.post(url(booked, "sign_receipt"), sent(client, booked)))


def test_text_from_outside_is_escaped(client: Client, intake: Actor, stay: Consignment) -> None:
    sign_in(client, intake)
    given = sent(client, stay, note="<script>alert(1)</script>", giver_strokes='"><script>alert(2)</script>')
    page = client.post(url(stay, "sign_receipt"), given).content.decode()
    assert "<script>alert" not in page


# the consignor


def test_consignor_reads_their_receipts_and_nobody_elses(client: Client, stay: Consignment, now: datetime) -> None:
    mine = [signed(stay, at=now), signed(stay, at=now, giver=Signature(), unsigned_reason="after hours")]
    other = signed(build.consignment(at=now), at=now)
    page = text_of(follow(client, make_link(stay)))
    assert "Your papers" in page
    assert page.count("replaced") == 1
    assert "not signed by the other side" in page
    for row in mine:
        answer = client.get(reverse("status_receipt", args=[stay.code, row.code]))
        assert hashlib.sha256(body_of(answer)).hexdigest() == row.sha256
        assert answer["Cache-Control"] == "no-store"
        assert answer["Content-Disposition"].startswith("inline; filename=")
        assert answer["Referrer-Policy"] == "same-origin"
    assert client.get(reverse("status_receipt", args=[stay.code, other.code])).status_code == 404
    assert client.get(reverse("status_receipt", args=[other.consignment.code, other.code])).status_code == 404
    assert Client().get(reverse("status_receipt", args=[stay.code, mine[0].code])).status_code == 404


def test_status_page_takes_as_many_queries_with_one_receipt_as_with_six(
    client: Client, stay: Consignment, now: datetime
) -> None:
    signed(stay, at=now)
    follow(client, make_link(stay))
    with CaptureQueriesContext(connection) as few:
        client.get(status_url(stay))
    for _ in range(5):
        signed(stay, at=now)
    with CaptureQueriesContext(connection) as many:
        client.get(status_url(stay))
    assert len(few) == len(many)
