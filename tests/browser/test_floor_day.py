"""A day on the floor, on a phone: from an owner's call to a price put right where the vehicle is shown."""

import re
from datetime import datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from inventory.actions import asking, consenting, inspecting, linking, recording
from inventory.actions.consenting import Question
from inventory.actions.inspecting import Finding
from inventory.models import CheckResult, Consignment, Publication, Showing, WorkOrder
from inventory.rules.roles import Role
from inventory.rules.words import Basis, IdentityKind, PaperStanding, TitleKind
from tests import build
from tests.browser.conftest import Open
from tests.browser.looking import looked_at

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
BRAKES, TREAD = "underside.brake_lines", "tyres.tread_left_front"
SERIAL = "8M700321"
BY = build.BUILDER


@pytest.fixture(autouse=True)
def media(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path


def test_prospect_is_booked_worked_on_shown_driven_and_published(open_page: Open) -> None:
    page = open_page(Role.OWNER)
    stock_number = booked(page)
    page.get_by_role("button", name="It has arrived").click()
    expect(page.locator("h1")).to_contain_text("on the lot")
    stay = Consignment.objects.get(stock_number=stock_number)
    inspected(stay, at=timezone.now())
    worked_on(page, stay, consignor=open_page())
    for_sale(stay, at=timezone.now())
    asked_and_shown(page, stay)
    driven(page, stay)
    followed_up(page)
    put_right(page, stay)


def booked(page: Page) -> str:
    """An owner calls; what they tell is priced, terms are proposed, and nothing is typed again."""
    page.goto("/prospects/new/")
    told = {
        "name": "Ada Fenwick", "phone": "555-0110 22", "email": "ada@example.org", "year": "1968", "make": "Merrow",
        "model": "Alder", "serial": SERIAL, "mileage": "61240", "condition_low": "70", "condition_high": "85",
        "hoped_for": "45000",
    }  # fmt: skip
    for name, value in told.items():
        page.locator(f"main [name={name}]").fill(value)
    page.locator("main form button").last.click()
    expect(page.locator("h1")).to_contain_text("being talked about")
    looked_at(page, "prospect")
    page.locator("summary", has_text="Propose terms").click()
    today = timezone.localdate()
    form = page.locator("form[action$='/terms/']")
    form.locator("[name=plan_kind]").select_option("percent")
    for name, value in {
        "rate": "9", "floor": "30000", "starts_on": str(today), "ends_on": str(today + timedelta(days=90)),
    }.items():  # fmt: skip
        form.locator(f"[name={name}]").fill(value)
    form.locator("button").last.click()
    expect(page.locator("h1")).to_contain_text("terms proposed")
    page.locator("summary", has_text="Book it").click()
    page.get_by_role("button", name="Book it").click()
    page.wait_for_url(re.compile(r"/vehicles/\d\d-\d{4}/$"))
    expect(page.locator("h1")).to_contain_text("booked")
    return page.url.rstrip("/").split("/")[-1]


def inspected(stay: Consignment, *, at: datetime) -> None:
    """A short walk with two findings that stop drives; the consignor accepts the terms as proposed."""
    inspecting.begin_inspection(stay.pk, by=BY, at=at)
    for finding in (
        Finding(check_code=BRAKES, grade=1, basis=Basis.SEEN, note="cracked"),
        Finding(check_code=TREAD, grade=2, basis=Basis.MEASURED, reading=Decimal("1.5")),
        Finding(check_code="front.paint", grade=3, basis=Basis.SEEN),
    ):
        inspecting.record_check(stay.pk, finding=finding, by=BY, at=at)
    inspecting.finish_inspection(stay.pk, by=BY, at=at)
    asked = consenting.ask_consent(stay.pk, question=Question(kind="terms"), by=BY, at=at)
    consenting.record_answer(asked.pk, agreed=True, given_by="Ada Fenwick", how="by phone", by=BY, at=at)


def worked_on(page: Page, stay: Consignment, *, consignor: Page) -> None:
    """The consignor agrees before work begins; what was worked on is graded again, the old grade stays."""
    page.goto(f"/vehicles/{stay.stock_number}/work-orders/")
    page.get_by_label("What is to be done").fill("Renew the brake hoses")
    page.get_by_label("Estimate").first.fill("612.40")
    box = page.locator(f"input[name=checks][value='{BRAKES}']")
    page.locator("details", has=box).last.locator("summary").click()
    box.check()
    page.get_by_role("button", name="Open the work order").click()
    page.get_by_role("button", name="Ask the consignor").click()
    expect(page.get_by_text("waits for the consignor").first).to_be_visible()
    expect(page.locator("summary", has_text="Begin the work")).to_have_count(0)
    agreed_by_link(consignor, stay)
    page.reload()
    step(page, "Begin the work", place="Shop")
    step(page, "Work is done", place="Bay 2", found="four hoses, bled")
    looked_at(page, "work")
    page.get_by_role("button", name="Grade the checks again").click()
    station, _ = BRAKES.split(".")
    page.goto(f"/vehicles/{stay.stock_number}/inspection/{station}/")
    page.locator("html[data-walk-ready]").wait_for()
    check = page.locator(f"[data-check='{BRAKES}']")
    check.locator("input[type=radio][value='4']").check()
    expect(check.locator(".kept")).to_contain_text("Sent")
    page.goto(f"/vehicles/{stay.stock_number}/inspection/")
    page.get_by_role("button", name=re.compile("[Ff]inish")).click()
    page.goto(f"/vehicles/{stay.stock_number}/work-orders/")
    step(page, "Record the invoice", amount="598.00")
    page.get_by_role("button", name="Charge it and close").click()
    order = WorkOrder.objects.get()
    assert (order.charge and order.charge.amount, order.closed_on) == (Decimal("598.00"), timezone.localdate())
    grades = CheckResult.objects.filter(inspection__consignment=stay, check_code=BRAKES).order_by("pk")
    assert list(grades.values_list("grade", flat=True)) == [1, 4]
    assert [row.place for row in stay.movements.order_by("pk")] == ["Shop", "Bay 2"]


def agreed_by_link(consignor: Page, stay: Consignment) -> None:
    _, token = linking.make_link(stay.pk, by=BY, at=timezone.now())
    consignor.goto(f"/status/open/{token}")
    consignor.get_by_role("link", name="Read and answer").click()
    consignor.get_by_text("I agree to a charge of $612.40").wait_for()
    consignor.get_by_label("Your full name").fill("Ada Fenwick")
    consignor.get_by_label("I have read the text above").check()
    consignor.get_by_role("button", name="I agree").click()
    expect(consignor.get_by_role("status")).to_be_visible()


def step(page: Page, title: str, **fields: str) -> None:
    """One step of the work order, unfolded and filled."""
    part = page.locator("details", has=page.locator("summary", has_text=title)).last
    part.locator("summary").click()
    for name, value in fields.items():
        part.locator(f"[name={name}]").fill(value)
    part.get_by_role("button", name=title).click()
    expect(page.locator("[role=alert], .field .error")).to_have_count(0)


def for_sale(stay: Consignment, *, at: datetime) -> None:
    for kind, basis in ((IdentityKind.TITLE, Basis.DOCUMENTED), (IdentityKind.DASH_PLATE, Basis.SEEN)):
        recording.add_identity_number(stay.pk, kind=kind, value=SERIAL, basis=basis, by=BY, at=at)
    recording.add_title_paper(
        stay.pk, kind=TitleKind.TITLE, standing=PaperStanding.READ, number="T-1", name_on_paper="Ada Fenwick",
        names_joined="one", by=BY, at=at,
    )  # fmt: skip
    asking.set_ask(stay.pk, amount=Decimal(48500), by=BY, at=at)
    asking.list_vehicle(stay.pk, by=BY, at=at)


def at_desk(page: Page, stay: Consignment, deed: str, **fields: str) -> None:
    page.goto(f"/vehicles/{stay.stock_number}/sale/")
    form = page.locator(f"form[action$='/sale/{deed}/']")
    page.locator("details", has=form).first.locator("summary").first.click()
    for name, value in fields.items():
        field = form.locator(f"[name={name}]")
        if name in {"way", "aim"}:
            field.select_option(value)
        else:
            field.fill(value)
    form.locator("button").last.click()
    expect(page.get_by_role("status")).to_be_visible()


def asked_and_shown(page: Page, stay: Consignment) -> None:
    at_desk(
        page, stay, "inquiry", way="phone", aim="drive", who="Cy Dunn", phone="555-0142 77",
        follow_up_on=str(timezone.localdate()),
    )  # fmt: skip
    for who in ("Cy Dunn", "Mr and Mrs Vell", "a man in a hat"):
        at_desk(page, stay, "showing", who=who)
    looked_at(page, "sale-desk")
    assert Showing.objects.filter(consignment=stay).count() == 3


def driven(page: Page, stay: Consignment) -> None:
    """The tread is below its limit: nobody drives, until the owner clears the flag with a reason."""
    drives = f"/vehicles/{stay.stock_number}/drives/"
    page.goto(drives)
    expect(page.get_by_role("alert")).to_contain_text("Nobody drives it")
    expect(page.get_by_role("button", name="Sign and let it out")).to_have_count(0)
    looked_at(page, "drive-refused")
    page.goto(f"/vehicles/{stay.stock_number}/")
    page.get_by_role("link", name="Clear this flag with a reason").first.click()
    page.locator("main [name=reason]").fill("Front tyres renewed today, seen on the lift.")
    page.locator("main form button").last.click()
    page.goto(drives)
    facts = {
        "driver": "Cy Dunn", "licence_from": "Invented State", "odometer_out": "61240", "plate": "D 4711",
        "licence_valid_until": str(timezone.localdate() + timedelta(days=400)), "accompanied_by": "Sam Owner",
    }  # fmt: skip
    for name, value in facts.items():
        page.locator(f"[name={name}]").fill(value)
    page.get_by_label("I sign by typing my name").check()
    looked_at(page, "drive-out")
    page.get_by_role("button", name="Sign and let it out").click()
    page.locator("[name=odometer_back]").fill("61252")
    page.get_by_role("button", name="It is back").click()
    drive = stay.test_drives.get()
    assert drive.back_at is not None
    assert drive.odometer_back == 61252
    assert Showing.objects.filter(consignment=stay).count() == 4, "a drive is a showing too"


def followed_up(page: Page) -> None:
    page.goto("/")
    page.get_by_role("link", name="1 inquiry to follow up today").click()
    page.get_by_role("link", name="Cy Dunn").first.click()
    page.get_by_label("What came of it").fill("Liked the drive, asks his bank.")
    page.get_by_role("button", name="Log the follow-up").click()
    page.goto("/")
    expect(page.get_by_role("link", name="1 inquiry to follow up today")).to_have_count(0)


def put_right(page: Page, stay: Consignment) -> None:
    """A changed ask lists at once what shows the old one."""
    page.goto(f"/vehicles/{stay.stock_number}/shown/")
    page.get_by_label("Where it is shown").fill("The yard's own window")
    page.get_by_role("button", name="Keep the place").click()
    page.goto(f"/vehicles/{stay.stock_number}/price/")
    page.get_by_label("Ask", exact=True).fill("46,900")
    page.get_by_role("button", name="Set the ask").click()
    expect(page.get_by_role("status")).to_contain_text("old ask")
    page.goto("/floor/shown/")
    expect(page.get_by_text("It shows $48,500.00; the ask is $46,900.00.")).to_be_visible()
    looked_at(page, "shown")
    page.get_by_role("button", name="It is set right").click()
    shown = Publication.objects.get()
    assert [row.ask for row in shown.asks.order_by("pk")] == [Decimal(48500), Decimal(46900)]
    page.goto("/floor/")
    expect(page.locator("main b", has_text="Bay 2")).to_be_visible()
    looked_at(page, "floor")
