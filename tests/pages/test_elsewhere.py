"""The pages of sales elsewhere and of the stock import: recorded, corrected, sent, looked at, taken in."""

from datetime import timedelta
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from inventory.actions import elsewhere
from inventory.models import Consignment, MarketSale, SalesImport
from inventory.rules.roles import Actor, Role
from inventory.sheets import Elsewhere, stock_template
from tests import build
from tests.pages.browse import text_of

pytestmark = pytest.mark.django_db


def told(**changes: Any) -> dict[str, str]:
    day = timezone.localdate() - timedelta(days=30)
    return {
        "source": "county meet", "ended_on": day.isoformat(), "sold": "sold", "price": "21,500", "premium": "included",
        "year": "1968", "make": "Merrow", "model": "Alder", "odometer_status": "not_stated",
        "modifications": "wheels; paint", **changes,
    }  # fmt: skip


@pytest.fixture
def signed_in(client: Client, settings: Any, tmp_path: Any) -> Client:
    settings.MEDIA_ROOT = tmp_path
    build.staff(Role.OWNER, at=timezone.now())
    client.login(username="the-owner", password=build.PASSWORD)
    return client


def test_sale_is_recorded_corrected_and_taken_out(signed_in: Client) -> None:
    page = text_of(signed_in.post("/elsewhere/add/", told(), follow=True))
    assert "used in the next fit" in page
    row = MarketSale.objects.get()
    assert row.modifications == ["wheels", "paint"]
    form = text_of(signed_in.get(f"/elsewhere/{row.pk}/"))
    assert 'value="county meet"' in form
    assert "wheels; paint" in form
    signed_in.post(f"/elsewhere/{row.pk}/", told(price="22500", reason="misheard"))
    latest = MarketSale.objects.live().get()
    assert (str(latest.price), latest.reason) == ("22500.00", "misheard")
    signed_in.post(f"/elsewhere/{latest.pk}/drop/", {"reason": "told twice"})
    assert "No sales elsewhere yet" in text_of(signed_in.get("/elsewhere/"))


def test_sale_told_twice_is_asked_about_once(signed_in: Client) -> None:
    signed_in.post("/elsewhere/add/", told())
    again = signed_in.post("/elsewhere/add/", told(source="a neighbour"))
    assert again.status_code == 422
    assert "told by county meet" in text_of(again)
    assert 'type="checkbox" name="sure"' in text_of(again)
    signed_in.post("/elsewhere/add/", told(source="a neighbour", sure="on"))
    assert MarketSale.objects.count() == 2


def test_half_an_interval_and_a_misread_number_are_told_at_their_fields(signed_in: Client) -> None:
    page = text_of(signed_in.post("/elsewhere/add/", told(condition_low="60", vin="1G4AH59H15G1I8341")))
    assert "Give both ends, or neither." in page
    assert "stands in no VIN" in page
    assert not MarketSale.objects.exists()


def test_list_takes_the_same_queries_however_long(signed_in: Client, owner: Actor) -> None:
    counts = []
    for size in (2, 12):
        for place in range(MarketSale.objects.count(), size):
            said = Elsewhere(
                source="county meet", ended_on=timezone.localdate(), price=build.Decimal(9000 + place), year=1968,
                make="Merrow", model="Alder",
            )  # fmt: skip
            elsewhere.add_sale(said, by=owner, at=timezone.now())
        with CaptureQueriesContext(connection) as asked:
            page = text_of(signed_in.get("/elsewhere/?q=merrow+1968"))
        assert "Entries for “merrow 1968”" in page
        assert page.count("1968 Merrow Alder </td>") == min(size, 25)
        counts.append(len(asked))
    assert counts[0] == counts[1]


def upload(client: Client, path: str, *, text: str) -> SalesImport:
    response = client.post(path, {"file": SimpleUploadedFile("sheet.csv", text.encode())})
    assert response.status_code == 302, response.content.decode()
    return SalesImport.objects.latest("pk")


@pytest.mark.django_db(transaction=True)
def test_elsewhere_sheet_without_source_asks_for_it_and_comes_in(signed_in: Client) -> None:
    text = "Date,Year,Make,Model,Price\n2026-01-12,1968,Merrow,Alder,21500\n2026-01-12,68,Merrow,Alder,21500\n"
    record = upload(signed_in, "/elsewhere/import/", text=text)
    names = ("ended_on", "year", "make", "model", "price")
    answers = {f"column_{place}": name for place, name in enumerate(names)} | {"decimal_mark": ".", "do": "import"}
    path = f"/elsewhere/import/{record.code}/"
    assert "Say where these sales were told" in text_of(signed_in.post(path, answers))
    page = text_of(signed_in.post(path, {**answers, "source": "county meet"}, follow=True))
    assert "To the sales elsewhere" in page
    assert MarketSale.objects.get().source == "county meet"
    rejects = signed_in.get(f"/elsewhere/import/{record.code}/rejects/")
    assert "two figures" in b"".join(rejects.streaming_content).decode("utf-8-sig")  # type: ignore[attr-defined]
    assert signed_in.get(f"/past-sales/import/{record.code}/").status_code == 404  # another kind, other pages


@pytest.mark.django_db(transaction=True)
def test_stock_sheet_comes_in_from_its_own_template(signed_in: Client) -> None:
    assert "import your current stock" in text_of(signed_in.get("/"))
    assert signed_in.get("/stock/import/template.csv").content.decode() == stock_template()
    record = upload(signed_in, "/stock/import/", text=stock_template())
    path = f"/stock/import/{record.code}/"
    form = signed_in.get(path).context["form"]
    answers = {name: form[name].initial or "" for name in form.fields} | {"do": "import"}
    page = text_of(signed_in.post(path, answers, follow=True))
    assert "walk each one" in page
    assert set(Consignment.objects.values_list("stock_number", flat=True)) == {"A-101", "A-102"}
    assert "A-101" in text_of(signed_in.get("/vehicles/A-101/"))
