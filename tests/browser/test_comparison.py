"""The comparison grid in Chromium: it scrolls by itself, by keyboard too, with its first column in sight."""

from datetime import datetime

import pytest
from django.utils import timezone
from playwright.sync_api import Locator

from inventory.actions import pricing
from inventory.rules.roles import Role
from inventory.rules.states import State
from tests import build, records
from tests.browser.chromium import DESKTOP, PHONE
from tests.browser.conftest import Open
from tests.browser.looking import width_wanted

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def address() -> str:
    now: datetime = timezone.now()
    records.sold(40, at=now)
    pricing.fit_prices(by=build.BUILDER, at=now, refits=0)
    stay = build.consignment(State.INSPECTED, at=now)
    pricing.give_opinion(stay.pk, by=build.BUILDER, at=now)
    return f"/vehicles/{stay.stock_number}/price/"


@pytest.mark.parametrize("viewport", [PHONE, DESKTOP], ids=["phone", "desktop"])
def test_page_never_scrolls_sideways(open_page: Open, address: str, viewport: dict[str, int]) -> None:
    page = open_page(Role.OWNER, viewport=viewport)
    page.goto(address)
    assert page.locator("table.grid tbody tr").count() > 8
    assert width_wanted(page) <= viewport["width"]


def test_first_column_stays_while_the_keyboard_scrolls_the_grid(open_page: Open, address: str) -> None:
    page = open_page(Role.OWNER)
    page.goto(address)
    region = page.get_by_role("region", name="Past sales beside this vehicle, line by line")
    row = region.locator("tbody tr").first
    first, last = row.locator("th"), row.locator("td").last
    before = left_of(first), left_of(last)
    region.focus()
    for _ in range(6):
        page.keyboard.press("ArrowRight")
    last.evaluate("cell => new Promise(done => setTimeout(done, 400))")  # the browser scrolls softly
    assert left_of(first) == pytest.approx(before[0], abs=1)
    assert left_of(last) < before[1] - 50


def left_of(cell: Locator) -> float:
    box = cell.bounding_box()
    assert box is not None
    return box["x"]
