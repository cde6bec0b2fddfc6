"""The page on which a release is signed, papers that are sent, and the papers of a deal as staff get them."""

import io
import json
from datetime import datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from inventory.actions import dealing, paying
from inventory.actions.paying import Payment
from inventory.models import Concession, DealExtra, Release, TitlePaper, TitleSending
from inventory.rules.roles import Actor
from inventory.rules.states import State
from tests import build
from tests.pages.browse import sign_in, text_of, url
from tests.receipts import HAND

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def media(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def now() -> datetime:
    return timezone.now()


def read(content: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in PdfReader(io.BytesIO(content)).pages).split())


def test_release_is_signed_on_its_page_and_read_as_a_paper(client: Client, sales: Actor, now: datetime) -> None:
    stay = build.consignment(State.SETTLED, at=now)
    page = sign_in(client, sales).get(url(stay, "sign_release"))
    assert "Check the identity of whoever collects it" in text_of(page)
    form = page.context["form"]
    assert form["signed_for_by"].value() == "Bo Larkin"
    sent = {
        "signed_for_by": "Bo Larkin", "handed_over_by": "Sam Sales", "version": stay.version, "collector": "agent",
        "strokes": json.dumps(HAND), "mileage": "61251", "keys_count": "2", "client_key": form["client_key"].value(),
    }  # fmt: skip
    wrong = client.post(url(stay, "sign_release"), sent)
    assert wrong.status_code == 422
    assert "on whose word" in wrong.context["form"].errors["note"][0]
    assert wrong.context["form"]["mileage"].value() == "61251"
    for _ in range(2):
        answer = client.post(url(stay, "sign_release"), {**sent, "note": "letter of Bo Larkin seen"})
        assert answer.status_code == 302
    kept = Release.objects.get()
    paper = client.get(reverse("release", args=[kept.code]))
    assert paper["Cache-Control"] == "no-store"
    assert "letter of Bo Larkin seen" in read(b"".join(paper.streaming_content))  # type: ignore[arg-type]
    assert "Release receipt (PDF)" in text_of(client.get(url(stay, "vehicle_file")))


def test_unsigned_release_is_told_beside_the_pad(client: Client, sales: Actor, now: datetime) -> None:
    stay = build.consignment(State.WITHDRAWN, at=now)
    sent = {"signed_for_by": "Ada Fenwick", "handed_over_by": "Sam", "version": stay.version, "collector": "consignor"}
    answer = sign_in(client, sales).post(url(stay, "sign_release"), sent)
    assert "has not signed" in answer.context["form"].errors["typed"][0]
    assert url(stay, "sign_release") in text_of(client.get(url(stay, "settlement")))


def test_nothing_is_released_of_a_vehicle_that_is_listed(client: Client, sales: Actor, now: datetime) -> None:
    stay = build.consignment(State.LISTED, at=now)
    answer = sign_in(client, sales).get(url(stay, "sign_release"), follow=True)
    assert "Only a sold or withdrawn vehicle is released." in text_of(answer)
    assert client.get(url(stay, "bill_of_sale")).status_code == 404
    assert client.get(url(stay, "deposit_receipt")).status_code == 404
    assert client.get(url(stay, "correct_buyer")).status_code == 404


def test_paper_is_sent_and_shown_in_the_file(client: Client, sales: Actor, now: datetime) -> None:
    stay = build.consignment(State.LISTED, at=now)
    sign_in(client, sales)
    assert "not recorded" in text_of(client.get(url(stay, "vehicle_file")))
    assert "to_whom" in client.post(url(stay, "send_paper"), {"to_whom": ""}).context["form"].errors
    sent = {"paper": TitlePaper.objects.get().pk, "to_whom": "Alder Bank", "way": "by courier"}
    assert client.post(url(stay, "send_paper"), sent).status_code == 302
    assert TitleSending.objects.get().to_whom == "Alder Bank"
    assert "title T-1 to Alder Bank, by courier" in text_of(client.get(url(stay, "vehicle_file")))


def test_bill_of_sale_waits_for_the_address_and_the_way_leads_there(
    client: Client, sales: Actor, now: datetime
) -> None:
    stay = build.consignment(State.SOLD, at=now)
    answer = sign_in(client, sales).get(url(stay, "bill_of_sale"), follow=True)
    assert answer.redirect_chain == [(url(stay, "correct_buyer"), 302)]
    assert "The buyer&#x27;s address is missing." in text_of(answer)
    assert "waits: The buyer&#x27;s address is missing." in text_of(client.get(url(stay, "sale_desk")))
    stale = {"buyer": "Bo A. Larkin", "address": "4 Elm Row", "version": stay.version + 1}
    assert client.post(url(stay, "correct_buyer"), stale).status_code == 422
    assert client.post(url(stay, "correct_buyer"), {**stale, "version": stay.version}).status_code == 302
    assert client.get(url(stay, "bill_of_sale"))["Content-Type"] == "application/pdf"


def test_bill_of_sale_says_what_the_record_says_and_not_what_the_trade_is_worth(
    client: Client, sales: Actor, now: datetime
) -> None:
    """48,500.00 - 150.00 - 6,000.00 + 2,550.37 = 44,900.37; of which 10,000.00 cleared: 34,900.37 open, by hand."""
    stay = build.consignment(State.SOLD, at=now)
    deal = stay.deals.get()
    row = {"deal": deal, "on": now.date(), "by": "tests", "at": now}
    Concession.objects.create(amount=Decimal("150.00"), borne_by="lot", reason="cracked lens", **row)
    tax = DealExtra.objects.create(kind="sales_tax", amount=Decimal("9999.00"), **row)
    DealExtra.objects.create(kind="sales_tax", amount=Decimal("9999.00"), sets_aside=tax, **row)
    DealExtra.objects.create(kind="sales_tax", label="county", amount=Decimal("2550.37"), **row)
    type(deal).objects.filter(pk=deal.pk).update(
        trade_allowance=Decimal("6000.00"), trade_value=Decimal("4321.00"), trade_note="1972 Plover <b>",
        concessions=Decimal("250.00"),
    )  # fmt: skip
    money = paying.record_payment(stay.pk, payment=Payment(amount=Decimal(10000)), by=sales, at=now)
    paying.settle_payment(money.pk, event="cleared", by=build.BUILDER, at=now)
    dealing.correct_buyer(stay.pk, buyer="Bo Larkin", address="4 Elm Row\nInvented Falls", by=sales, at=now)
    said = read(sign_in(client, sales).get(url(stay, "bill_of_sale")).content)
    for value in (
        "selling for Ada Fenwick under the consignment agreement", "4 Elm Row", "Invented Falls", stay.vehicle.serial,
        "61,240 miles. No status is stated for the reading.", "$48,500.00", "−$150.00", "1972 Plover <b>",
        "−$6,000.00", "Sales tax: county", "To be paid $44,900.37", "Balance, not cleared yet $34,900.37", "$250.00",
        "To be reviewed by a lawyer under local law", "as written in the buyers-guide notice displayed",
        "Signature, printed name, date",
    ):  # fmt: skip
        assert value in said, value
    assert "4,321" not in said
    assert "9,999" not in said


def test_deposit_receipt_says_until_when_and_whether_it_goes_back(client: Client, sales: Actor, now: datetime) -> None:
    stay = build.consignment(State.DEPOSIT, at=now)
    desk = text_of(sign_in(client, sales).get(url(stay, "sale_desk")))
    assert url(stay, "deposit_receipt") in desk
    assert "16 CFR 455" in desk
    answer = client.get(url(stay, "deposit_receipt"))
    assert answer["Cache-Control"] == "no-store"
    said = read(answer.content)
    for value in ("$1,000.00, bank transfer", "Bo Larkin", "goes back to the buyer", "Back-up offers may be taken"):
        assert value in said, value


def test_large_cash_is_reminded_of_on_the_desk(client: Client, sales: Actor, now: datetime) -> None:
    stay = build.consignment(State.SOLD, at=now)
    sign_in(client, sales)
    for amount in (Decimal(10000), Decimal("0.01")):
        assert "Form 8300" not in text_of(client.get(url(stay, "sale_desk")))
        paying.record_payment(stay.pk, payment=Payment(amount=amount, method="cash"), by=sales, at=now)
    assert "Form 8300" in text_of(client.get(url(stay, "sale_desk")))


def test_names_on_a_paper_are_recorded_and_errors_told_on_their_fields(
    client: Client, intake: Actor, now: datetime
) -> None:
    stay = build.consignment(State.LISTED, at=now)
    paper = {
        "kind": "title",
        "standing": "read",
        "number": "T-1",
        "name_on_paper": "Ada Fenwick",
        "names_joined": "and",
    }
    answer = sign_in(client, intake).post(url(stay, "add_title_paper"), paper)
    assert "more_names" in answer.context["forms"]["paper"].errors
    client.post(url(stay, "add_title_paper"), {**paper, "more_names": "Bo Larkin", "in_hand_since": "2026-01-05"})
    page = text_of(client.get(url(stay, "vehicle_file")))
    assert "Ada Fenwick; Bo Larkin" in page
    assert "The title names Bo Larkin, who neither consigned it" in page
    assert "2026-01-05" in page
