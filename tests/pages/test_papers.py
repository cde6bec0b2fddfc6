"""The printed papers as staff get them, from the record alone."""

import io
from datetime import datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from pypdf import PdfReader

from inventory.actions import agreeing, consenting, inspecting, recording, settling
from inventory.actions.inspecting import Finding
from inventory.models import Consignment, Lot, ModelFit, PriceOpinion, Settlement, Terms
from inventory.queries.agreement_paper import agreement_paper
from inventory.queries.condition_report import condition_report_paper
from inventory.rules.roles import Actor
from inventory.rules.states import State
from inventory.uploads import clean_picture
from tests import build
from tests.pages.browse import sign_in, text_of, url
from tests.test_uploads import picture

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def media(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path
    settings.PUBLIC_URL = "https://lot.example"


@pytest.fixture
def now() -> datetime:
    return timezone.now()


def read(response: Any) -> str:
    assert response["Content-Type"] == "application/pdf", response.status_code
    assert response["Cache-Control"] == "no-store"
    return " ".join(" ".join(page.extract_text() for page in PdfReader(io.BytesIO(response.content)).pages).split())


def test_window_sheet_says_ask_basis_and_address_but_neither_floor_nor_consignor(
    client: Client, intake: Actor, now: datetime
) -> None:
    stay = build.consignment(State.LISTED, at=now)
    build.write_line(stay, at=now, as_found="402 V8", basis="told")
    Lot.objects.update_or_create(pk=1, defaults={"name": "Tarn Lane", "phone": "555 0142"})
    said = read(sign_in(client, intake).get(url(stay, "window_sheet")))
    assert "$48,500.00" in said
    assert "the owner reports: 402 V8, original" in said
    assert "No status is stated for the reading." in said
    assert f"https://lot.example/for-sale/{stay.code}/" in said
    assert "555 0142" in said
    assert "checks of the inspection were not seen" in said
    assert "Fenwick" not in said
    assert "30,000" not in said


def test_window_sheet_without_an_ask_leads_back_with_what_is_missing(
    client: Client, intake: Actor, now: datetime
) -> None:
    stay = build.consignment(State.INSPECTED, at=now)
    page = text_of(sign_in(client, intake).get(url(stay, "window_sheet"), follow=True))
    assert "has no ask yet, and the window sheet shows it. Set the ask on the pricing desk." in page
    assert "not the buyers guide of 16 CFR 455. The reminders below" in page
    assert url(stay, "window_sheet") not in page
    assert url(stay, "condition_report") in page


def test_condition_report_judges_readings_and_puts_flags_first(client: Client, intake: Actor, now: datetime) -> None:
    stay = build.consignment(at=now)
    inspecting.begin_inspection(stay.pk, by=build.BUILDER, at=now)
    for code, reading in (("tyres.tread_left_front", Decimal(1)), ("tyres.tread_right_front", Decimal(8))):
        finding = Finding(check_code=code, grade=2, basis="measured", reading=reading)
        inspecting.record_check(stay.pk, finding=finding, by=build.BUILDER, at=now)
    inspecting.finish_inspection(stay.pk, by=build.BUILDER, at=now)
    for caption, public in (("nose", True), ("invoice", False)):
        made = clean_picture(picture(size=(60, 40 + public)), name="a.jpg")
        recording.add_photo(stay.pk, picture=made, caption=caption, public=public, by=build.BUILDER, at=now)
    said = read(sign_in(client, intake).get(url(stay, "condition_report")))
    assert said.index("570.9") < said.index("Stock number")
    assert said.count("BEYOND THE LIMIT") == 1
    assert said.count("Within the limit.") == 1
    assert "NOT SEEN" in said
    assert "nose" in said
    assert "invoice" not in said


def test_condition_report_takes_as_many_queries_with_more_findings(now: datetime) -> None:
    counts = []
    for seen in (3, 30):
        stay = build.consignment(at=now)
        build.inspect(stay, at=now, seen=seen)
        with CaptureQueriesContext(connection) as ran:
            condition_report_paper(
                Consignment.objects.select_related("vehicle").get(pk=stay.pk), today=timezone.localdate()
            )
        counts.append(len(ran))
    assert counts[0] == counts[1]


def test_agreement_tells_terms_net_and_names_and_links_from_the_terms(
    client: Client, sales: Actor, intake: Actor, now: datetime
) -> None:
    stay = build.consignment(State.INSPECTED, at=now)
    build.make_listable(stay, at=now, ask=Decimal("48500.00"))
    recording.add_title_paper(
        stay.pk, kind="title", standing="read", number="T-1", name_on_paper="Ada Fenwick", more_names="Ole Fenwick",
        names_joined="and", by=build.BUILDER, at=now,
    )  # fmt: skip
    here = url(stay, "agreement", number=1)
    said = read(sign_in(client, sales).get(here))
    assert "version 1" in said
    assert "9 % of the sale price." in said
    assert "At the ask $48,500.00 −$4,365.00" in said
    assert "Named on the title: Ole Fenwick" in said
    assert "Nothing is recorded about who insures the vehicle" in said
    assert "To be reviewed by a lawyer under local law before anybody signs." in said
    assert here in text_of(client.get(url(stay, "terms")))
    assert client.get(url(stay, "agreement", number=7)).status_code == 404
    assert sign_in(Client(), intake).get(here).status_code == 403


def test_agreement_for_a_status_page_leaves_the_band_out(now: datetime) -> None:
    stay = build.consignment(State.INSPECTED, at=now)
    build.make_listable(stay, at=now, ask=Decimal("48500.00"))
    fit = ModelFit.objects.create(
        learned={}, sales_used=12, sales_hash="0" * 64, newest_outcome_id=0, by="tests", at=now
    )
    PriceOpinion.objects.create(
        consignment=stay, fit=fit, inputs={}, low=Decimal(40000), likely=Decimal(45000), high=Decimal(52000),
        coverage_percent=80, by="tests", at=now,
    )  # fmt: skip
    terms, today = Terms.objects.get(consignment=stay), timezone.localdate()
    heads = [[row[0] for row in agreement_paper(terms, today=today, with_band=band).nets] for band in (True, False)]
    assert heads[1] == ["At the ask", "At the floor"]
    assert heads[0] == [*heads[1], "Band: low", "Band: likely", "Band: high"]


def test_agreement_accepted_by_answer_shows_the_exact_text(client: Client, sales: Actor, now: datetime) -> None:
    stay = build.consignment(State.INSPECTED, at=now)
    build.make_listable(stay, at=now, ask=Decimal("48500.00"))
    unsigned = build.terms(now, signed_by="", signed_on=None, rate=Decimal(8))
    agreeing.agree_terms(stay.pk, terms=unsigned, by=build.BUILDER, at=now)
    assert "A proposal: nobody has accepted" in read(sign_in(client, sales).get(url(stay, "agreement", number=2)))
    asked = consenting.ask_consent(stay.pk, question=consenting.Question(kind="terms"), by=build.BUILDER, at=now)
    consenting.record_answer(asked.pk, agreed=True, given_by="Ada Fenwick", how="by phone", by=build.BUILDER, at=now)
    said = read(client.get(url(stay, "agreement", number=2)))
    assert f"Accepted on {timezone.localdate(now)} by Ada Fenwick (by phone)." in said
    assert " ".join(asked.text.split())[:60] in said
    assert "Signature, printed name, date" not in said
    assert "Not in effect any more: version 2" in read(client.get(url(stay, "agreement", number=1)))


def test_statements_of_the_chain_are_printed_each_as_what_it_is(client: Client, sales: Actor, now: datetime) -> None:
    stay = build.consignment(State.SETTLED, at=now)
    first = Settlement.objects.get(consignment=stay)
    settling.record_disbursement(
        first.pk, payee_kind="consignor", payee="Ada Fenwick", amount=Decimal("100.00"), method="wire",
        reference="W-77", by=build.BUILDER, at=now,
    )  # fmt: skip
    back = settling.reverse_settlement(first.pk, reason="wrong rate", by=build.BUILDER, at=now)
    last = settling.approve_settlement(stay.pk, by=build.BUILDER, at=now)
    sign_in(client, sales)
    papers = [read(client.get(url(stay, "statement", statement_id=row.pk))) for row in (first, back, last)]
    assert f"TAKEN BACK by {back.number}" in papers[0]
    assert f"REVERSAL: it takes back {first.number}. Reason: wrong rate" in papers[1]
    assert f"Ada Fenwick, under {first.number} bank transfer W-77 $100.00" in papers[2]
    assert "Due to the consignor $44,135.00" in papers[2]
    assert "Still to be paid: Ada Fenwick $44,035.00." in papers[2]
    assert url(stay, "statement", statement_id=back.pk) in text_of(client.get(url(stay, "settlement")))
    other = build.consignment(at=now - timedelta(days=1))
    assert client.get(url(other, "statement", statement_id=last.pk)).status_code == 404
