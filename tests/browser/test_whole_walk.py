"""One vehicle through every screen, as the people of the lot walk them."""

import re
from datetime import timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from inventory.actions.importing import import_sales
from inventory.actions.pricing import fit_prices
from inventory.models import SaleOutcome, Settlement
from inventory.rules.catalogue import STATIONS
from inventory.rules.roles import Role
from inventory.sheets import Options
from tests.browser.chromium import DESKTOP
from tests.browser.conftest import Open
from tests.build import BUILDER

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
BOOK = Path(__file__).resolve().parents[2] / "fixtures" / "demo" / "past_sales.csv"
SERIAL = "8M700999"

# By hand: 9 % of 35,250.50 is 3,172.545, half-up 3,172.55.
# 35,250.50 - 3,172.55 - 612.40 - 185.00 = 31,280.55
DUE_BY_HAND = "$31,280.55"


def fill(page: Page, **fields: str) -> None:
    for label, value in fields.items():
        page.get_by_label(label.replace("_", " "), exact=False).first.fill(value)


def opened(page: Page, summary: str) -> Page:
    """Unfold one part of a page."""
    page.locator("summary", has_text=summary).first.click()
    return page


def log_vehicle(page: Page) -> str:
    page.get_by_role("navigation", name="Main").get_by_role("link", name="Log a vehicle").click()
    page.get_by_label("VIN or serial").fill(SERIAL)
    page.get_by_label("Model year").fill("1968")
    page.get_by_label("Make", exact=True).fill("Merrow")
    page.get_by_label("Model", exact=True).fill("Alder")
    page.get_by_label("Body").fill("two-door")
    page.get_by_label("Transmission").fill("manual")
    page.get_by_label("Build class").select_option("restored")
    page.get_by_label("Title brand").select_option("clean")
    page.get_by_label("Odometer reading").fill("61240")
    page.get_by_label("Name of a new consignor").fill("Ada Fenwick")
    page.get_by_label("E-mail").fill("ada@example.org")
    page.locator("main form button").last.click()
    page.wait_for_url(re.compile(r"/vehicles/\d\d-\d{4}/$"))
    return page.url.rstrip("/").split("/")[-1]


def inspect(page: Page, stock_number: str) -> None:
    page.goto(f"/vehicles/{stock_number}/inspection/")
    page.get_by_role("button", name="Begin the inspection").click()
    for station in STATIONS:
        page.goto(f"/vehicles/{stock_number}/inspection/{station.code}/")
        page.locator("html[data-walk-ready]").wait_for()
        check = page.locator("[data-check]").first
        check.locator("input[type=radio][value='3']").check()
        expect(check.locator(".kept")).to_contain_text("Sent")
    page.goto(f"/vehicles/{stock_number}/inspection/")
    page.get_by_role("button", name=re.compile("[Ff]inish")).click()
    page.goto(f"/vehicles/{stock_number}/")
    expect(page.locator("h1")).to_contain_text("inspected")


def record_papers(page: Page, stock_number: str) -> None:
    page.goto(f"/vehicles/{stock_number}/")
    for address, fields in (
        ("identity", {"kind": "title", "value": SERIAL, "basis": "documented"}),
        ("papers", {"kind": "title", "standing": "read", "number": "T-4711"}),
    ):
        form = page.locator(f"form[action$='/{address}/']")
        if not form.locator("[name=kind]").is_visible():
            page.locator("details", has=form).locator("summary").first.click()
        for name, value in fields.items():
            field = form.locator(f"[name={name}]")
            if field.evaluate("node => node.tagName") == "SELECT":
                field.select_option(value)
            else:
                field.fill(value)
        form.locator("button").click()


def agree_terms(page: Page, stock_number: str) -> None:
    today = timezone.localdate()
    page.goto(f"/vehicles/{stock_number}/terms/")
    form = page.locator("form", has=page.locator("[name=plan_kind]"))
    if not form.locator("[name=rate]").is_visible():
        page.locator("details", has=form).locator("summary").first.click()
    form.locator("[name=plan_kind]").select_option("percent")
    for name, value in {
        "rate": "9", "floor": "30000", "starts_on": str(today), "ends_on": str(today + timedelta(days=90)),
        "signed_by": "Ada Fenwick", "signed_on": str(today),
    }.items():  # fmt: skip
        form.locator(f"[name={name}]").fill(value)
    form.locator("button").last.click()
    for what, amount in (("Brake hoses renewed", "612.40"), ("Cleaning", "185")):
        page.goto(f"/vehicles/{stock_number}/terms/")
        form = page.locator("form[action$='/charges/']")
        if not form.locator("[name=what]").is_visible():
            page.locator("details", has=form).locator("summary").first.click()
        form.locator("[name=what]").fill(what)
        form.locator("[name=amount]").fill(amount)
        form.locator("[name=agreed_by]").fill("Ada Fenwick")
        form.locator("button").last.click()
        expect(page.get_by_text(what).first).to_be_visible()


def price_and_list(page: Page, stock_number: str) -> None:
    page.goto(f"/vehicles/{stock_number}/price/")
    page.get_by_role("button", name="Price it").click()
    expect(page.locator("svg.band")).to_be_visible()
    expect(page.get_by_text("240 past sales")).to_be_visible()
    page.get_by_label("Ask", exact=True).fill("$36,900")
    page.get_by_role("button", name="Set the ask").click()
    expect(page.get_by_text("$36,900.00").first).to_be_visible()
    page.get_by_role("button", name="List for sale").click()
    expect(page.locator("h1")).to_contain_text("listed")


def make_link(page: Page, stock_number: str) -> str:
    page.goto(f"/vehicles/{stock_number}/link/")
    page.get_by_role("button", name="Make the link").click()
    return page.get_by_label("Address of the status page").input_value()


def do(page: Page, stock_number: str, deed: str, **fields: str) -> None:
    """One deed of the sale desk."""
    page.goto(f"/vehicles/{stock_number}/sale/")
    form = page.locator(f"form[action$='/sale/{deed}/']")
    page.locator("details", has=form).first.locator("summary").first.click()
    for name, value in fields.items():
        field = form.locator(f"[name={name}]")
        if field.evaluate("node => node.tagName") == "SELECT":
            field.select_option(value)
        else:
            field.fill(value)
    form.locator("button").last.click()
    expect(page.locator("[role=alert], .field .error")).to_have_count(0)


LONG = 180_000  # milliseconds: a fit and its back-test


def test_vehicle_goes_from_the_gate_to_the_last_cent(open_page: Open) -> None:
    now = timezone.now()
    import_sales(BOOK, name=BOOK.name, options=Options(), by=BUILDER, at=now)
    fit_prices(by=BUILDER, at=now, refits=0)

    intake = open_page(Role.INTAKE)
    stock_number = log_vehicle(intake)
    inspect(intake, stock_number)
    record_papers(intake, stock_number)

    owner = open_page(Role.OWNER, viewport=DESKTOP)
    agree_terms(owner, stock_number)
    price_and_list(owner, stock_number)
    address = make_link(owner, stock_number)

    consignor = open_page()
    consignor.goto(address)
    assert "/status/open/" not in consignor.url
    expect(consignor.get_by_text("$36,900.00").first).to_be_visible()

    sales = open_page(Role.SALES)
    do(sales, stock_number, "offer", amount="35250.50", bidder="Bo Larkin")
    offer = {"answer": "accepted"}
    do(owner, stock_number, "answer", **offer)
    held = str(timezone.localdate() + timedelta(days=7))
    do(sales, stock_number, "deposit", price="35,250.50", buyer="Bo Larkin", deposit="1000", hold_until=held)
    consignor.reload()
    expect(consignor.get_by_text("$35,250.50").first).to_be_visible()
    expect(consignor.get_by_text("Bo Larkin")).to_have_count(0)

    do(sales, stock_number, "sold", price="35,250.50", buyer="Bo Larkin")
    do(sales, stock_number, "payment", amount="34,250.50")
    for number in range(2):
        owner.goto(f"/vehicles/{stock_number}/sale/")
        values = owner.locator("form[action$='/sale/payment-fate/'] [name=payment] option").evaluate_all(
            "nodes => nodes.map(node => node.value)"
        )
        do(owner, stock_number, "payment-fate", payment=[value for value in values if value][number], event="cleared")

    owner.goto(f"/vehicles/{stock_number}/settlement/")
    owner.get_by_role("button", name=f"Approve {DUE_BY_HAND}").click()
    expect(owner.get_by_text(DUE_BY_HAND).first).to_be_visible()
    assert Settlement.objects.get().due == Decimal("31280.55")
    consignor.reload()
    expect(consignor.get_by_text(DUE_BY_HAND).first).to_be_visible()

    owner.goto("/past-sales/?q=Alder")
    expect(owner.get_by_text(stock_number)).to_be_visible()
    expect(owner.get_by_text("Outcomes came in since: fit again.")).to_be_visible()
    owner.get_by_role("button", name="Fit the price band").click(timeout=LONG)  # without a worker it is done here
    owner.wait_for_url("**/past-sales/", timeout=LONG)
    expect(owner.get_by_text("Fitted to 241 sales.")).to_be_visible()
    assert SaleOutcome.objects.filter(stock_number=stock_number, effective_price=Decimal("35250.50")).exists()


def test_owner_imports_a_spreadsheet_and_sees_what_was_rejected(open_page: Open, tmp_path: Path) -> None:
    sheet = tmp_path / "sales.csv"
    sheet.write_text(
        'Yr,Make,Model,Sale Date,Sold for\n\'69,Merrow,Alder,3/14/2021,"$42,500"\n1971,Tarn,Six,5/25/2021,nothing\n'
    )
    owner = open_page(Role.OWNER, viewport=DESKTOP)
    owner.goto("/past-sales/import/")
    owner.get_by_label("Spreadsheet of past sales").set_input_files(str(sheet))
    owner.get_by_role("button", name="Look at the file").click()
    expect(owner.get_by_text("Which century do they mean?")).to_be_visible()
    owner.get_by_label("Century of model years").select_option("1900")
    owner.get_by_role("button", name="Look again with these answers").click()
    expect(owner.get_by_text("fine", exact=True)).to_have_count(1)
    owner.get_by_role("button", name="Import 2 rows").click()
    expect(owner.get_by_text("“nothing”").first).to_be_visible()
    with owner.expect_download() as download:
        owner.get_by_role("link", name="Download the rejects file").click()
    assert "reject_reason" in download.value.path().read_text(encoding="utf-8-sig")
    assert SaleOutcome.objects.get().year == 1969
