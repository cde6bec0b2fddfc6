"""The pages of vehicles that may come: everything is told and says so, until it is booked or declined."""

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

from inventory.actions import prospecting
from inventory.actions.prospecting import Person, ToldOf
from inventory.models import Consignment, Consignor, ModelFit, PriceOpinion, Prospect
from inventory.rules.roles import Actor
from tests import build
from tests.pages.browse import sign_in, text_of, url
from tests.test_uploads import picture

pytestmark = pytest.mark.django_db
TOLD = ToldOf(year=1968, make="Merrow", model="Alder", condition_low=Decimal(80), hoped_for=Decimal("52000.00"))
GIVEN = {
    "name": "Ada Fenwick", "phone": "555-0110", "year": "1968", "make": "Merrow", "model": "Alder",
    "odometer_status": "not_stated", "condition_low": "70", "condition_high": "85", "kinds": ["brakes", "engine"],
    "cut": ["engine"], "hoped_for": "52,000", "way": "phone", "story": "Bought <b>from</b> an uncle.",
}  # fmt: skip


@pytest.fixture
def now() -> datetime:
    return timezone.now()


def logged(*, by: Actor, at: datetime, name: str = "Ada Fenwick", **more: Any) -> Prospect:
    told = ToldOf(**{**TOLD.__dict__, **more})
    return prospecting.log_prospect(told, person=Person(name=name), by=by, at=at)


def deed(row: Prospect, name: str) -> str:
    return reverse("prospect_deed", args=[row.code, name])


def test_logged_by_the_form_and_every_fact_is_shown_as_told(client: Client, sales: Actor) -> None:
    response = sign_in(client, sales).post(reverse("new_prospect"), GIVEN, follow=True)
    said = text_of(response)
    assert "70 to 85 of 100, as told" in said
    assert "brakes, bolt-on; engine, induction and exhaust, cut or welded" in said
    assert "Nobody of the lot has seen the vehicle." in said
    assert "Bought &lt;b&gt;from&lt;/b&gt; an uncle." in said
    assert "No number is told." in said
    assert Prospect.objects.get().brought_in_by is None


def test_owner_who_is_a_consignor_is_found_by_a_word(client: Client, sales: Actor, now: datetime) -> None:
    known = Consignor.objects.create(name="Bo Larkin", created_at=now)
    given = {**GIVEN, "name": "", "phone": "", "known": "larkin"}
    said = text_of(sign_in(client, sales).post(reverse("new_prospect"), given))
    assert "“larkin” fits 1 here. Choose who it is." in said
    client.post(reverse("new_prospect"), {**given, "consignor_id": known.pk})
    assert Prospect.objects.get().consignor == known


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"name": ""}, "give the owner&#x27;s name"), ({"condition_high": "20"}, "It runs from 70 down to 20."),
        ({"unchanged": "on"}, "told both as unchanged and as changed"), ({"year": "1700"}, "1700"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_told_on_the_form(client: Client, sales: Actor, changes: Any, said: str) -> None:
    response = sign_in(client, sales).post(reverse("new_prospect"), {**GIVEN, **changes})
    assert response.status_code == 422
    assert said in text_of(response)
    assert not Prospect.objects.exists()


def test_changed_form_begins_with_what_is_told(client: Client, sales: Actor, now: datetime) -> None:
    row = logged(by=sales, at=now, kinds=("brakes",), cut=("brakes",))
    address = reverse("change_prospect", args=[row.code])
    page = sign_in(client, sales).get(address)
    form = page.context["form"]
    assert (form["condition_low"].value(), form["kinds"].value(), form["cut"].value()) == ("80", ["brakes"], ["brakes"])
    assert not form["unchanged"].value()
    response = client.post(address, {**GIVEN, "version": row.version}, follow=True)
    assert "changed" in text_of(response)
    row.refresh_from_db()
    assert row.condition_high == 85


def test_photo_is_kept_without_its_metadata_and_a_bad_one_is_told(
    client: Client, sales: Actor, now: datetime, settings: Any, tmp_path: Path
) -> None:
    settings.MEDIA_ROOT = tmp_path
    row = logged(by=sales, at=now)
    files = [SimpleUploadedFile("a.jpg", picture()), SimpleUploadedFile("b.jpg", b"no picture")]
    response = sign_in(client, sales).post(reverse("add_prospect_photos", args=[row.code]), {"file": files})
    assert response.status_code == 422
    assert "b.jpg" in text_of(response)
    kept = row.photos.get()
    for name in ("prospect_photo", "prospect_small_photo"):
        answer: Any = client.get(reverse(name, args=[kept.code]))
        assert b"Phone of somebody" not in b"".join(answer.streaming_content)


def test_too_little_evidence_is_a_sentence(client: Client, sales: Actor, now: datetime) -> None:
    row = logged(by=sales, at=now)
    response = sign_in(client, sales).post(reverse("price_prospect", args=[row.code]), follow=True)
    assert "There are 0 sold outcomes; a band needs at least 12." in text_of(response)


def opinion(row: Prospect, *, at: datetime) -> PriceOpinion:
    fit = ModelFit.objects.create(
        learned={}, sales_used=12, sales_hash="0" * 64, newest_outcome_id=0, by="tests", at=at
    )
    return PriceOpinion.objects.create(
        prospect=row, fit=fit, inputs={"condition_low": "50.0", "condition_high": "80.0"}, low=Decimal("30000.00"),
        likely=Decimal("40000.00"), high=Decimal("50000.00"), coverage_percent=80, evidence={"sales_of_make": 3},
        by="tests", at=at,
    )  # fmt: skip


def test_band_is_drawn_with_what_is_hoped_for_and_why_it_is_wide(client: Client, owner: Actor, now: datetime) -> None:
    row = logged(by=owner, at=now)
    opinion(row, at=now)
    said = text_of(sign_in(client, owner).get(reverse("prospect", args=[row.code])))
    assert "hoped for $52,000" in said
    assert "Condition is told only, as 80: owners over-value, so it is taken as anything from 50 to 80" in said
    assert "What to check first when it comes" in said
    assert "not an appraisal under any law" in said


def terms_given(row: Prospect, **changes: str) -> dict[str, str]:
    day = timezone.localdate()
    return {
        "plan_kind": "percent", "rate": "10", "floor": "31,000", "floor_kind": "price", "title_protection": "none",
        "commission_base": "price", "exclusivity": "exclusive", "photos_allowed": "on", "test_drives_allowed": "on",
        "starts_on": f"{day}", "ends_on": f"{day + timedelta(days=90)}", "version": str(row.version), **changes,
    }  # fmt: skip


def test_proposed_terms_give_a_net_sheet_and_a_page_to_print(client: Client, owner: Actor, now: datetime) -> None:
    row = logged(by=owner, at=now)
    opinion(row, at=now)
    address = reverse("propose_terms", args=[row.code])
    refused = sign_in(client, owner).post(address, terms_given(row, rate=""))
    assert refused.status_code == 422
    said = text_of(client.post(address, terms_given(row), follow=True))
    assert "terms proposed" in said
    assert "10 % of the sale price." in said
    for due in ("$27,000.00", "$36,000.00", "$45,000.00", "$46,800.00"):  # 90 % of low, likely, high, hoped for
        assert due in said
    printed = text_of(client.get(reverse("prospect_proposal", args=[row.code])))
    assert "nothing is agreed until both sides have signed" in printed
    assert "$46,800.00" in printed
    assert "<form" not in printed.split("<main")[1]


def test_booked_by_sales_with_the_owners_terms_and_shown_in_the_file(
    client: Client, owner: Actor, sales: Actor, now: datetime
) -> None:
    row = logged(by=owner, at=now, story="Bought from an uncle.")
    opinion(row, at=now)
    sign_in(client, owner).post(reverse("propose_terms", args=[row.code]), terms_given(row))
    said = text_of(sign_in(client, sales).post(deed(row, "book"), {"version": row.version + 1}, follow=True))
    stay = Consignment.objects.get()
    assert f"Booked as {stay.stock_number}, for Ada Fenwick, a new consignor." in said
    assert "Before arrival: told" in said
    assert "80 of 100, as told" in said
    assert "$30,000 to $50,000, likely $40,000" in said
    assert "Not in effect" not in text_of(client.get(url(stay, "terms")))
    assert "Nobody has signed these terms yet." in text_of(client.get(url(stay, "terms")))


def test_number_that_is_here_stops_booking_with_the_way_out(client: Client, sales: Actor, now: datetime) -> None:
    stay = build.consignment(at=now, vin="8A17J104221")
    row = logged(by=sales, at=now, serial="8A17J104221")
    response = sign_in(client, sales).post(deed(row, "book"), {"version": row.version})
    assert response.status_code == 422
    assert f"Open {stay.stock_number}, or release it first." in text_of(response)
    assert "This number is known here" in text_of(response)


def test_declined_needs_a_reason_and_is_opened_again(client: Client, sales: Actor, now: datetime) -> None:
    row = logged(by=sales, at=now)
    sign_in(client, sales)
    assert client.post(deed(row, "decline"), {"version": 1, "declined": "by_owner"}).status_code == 422
    given = {"version": 1, "declined": "by_owner", "because": "too far"}
    said = text_of(client.post(deed(row, "decline"), given, follow=True))
    assert "too far" in said
    assert "Price it by what is told" not in said
    assert "It is open again." in text_of(client.post(deed(row, "open-again"), {"version": 2}, follow=True))
    assert client.post(deed(row, "paint"), {"version": 3}).status_code == 404


def test_list_asks_the_same_number_of_queries_for_3_and_for_30(client: Client, sales: Actor, now: datetime) -> None:
    counts = []
    for upto in (3, 30):
        for number in range(Prospect.objects.count(), upto):
            logged(by=sales, at=now, name=f"Owner {number}", brought_in_by=sales.id)
        sign_in(client, sales).get(reverse("prospects"))
        with CaptureQueriesContext(
            connection,
        ) as queried:
            page = client.get(reverse("prospects"))
        assert len(page.context["page"].object_list) == upto
        counts.append(len(queried))
    assert counts[0] == counts[1]


def test_what_is_due_stands_first_and_on_the_lot(client: Client, sales: Actor, now: datetime) -> None:
    logged(by=sales, at=now, name="Later")
    logged(by=sales, at=now, name="Due", follow_up_on=timezone.localdate())
    page = sign_in(client, sales).get(reverse("prospects"))
    assert [str(row.contact) for row in page.context["page"].object_list] == ["Due", "Later"]
    assert "Follow up 1 prospect" in text_of(client.get(reverse("lot")))
