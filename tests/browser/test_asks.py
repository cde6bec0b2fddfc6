"""The asks in Chromium: the slider by keyboard, the suggestion into the form, the page never wider than the screen."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from inventory.actions import offering, pricing
from inventory.models import AskChange
from inventory.rules.roles import Role
from inventory.rules.states import State
from tests import askings, build
from tests.browser.chromium import DESKTOP, PHONE
from tests.browser.conftest import Open
from tests.browser.looking import width_wanted

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def address() -> str:
    now = timezone.now()
    askings.fitted(now)
    stay = build.consignment(State.LISTED, at=now - timedelta(days=40), price="42000.00")
    offering.log_offer(stay.pk, amount=Decimal("31000.00"), bidder="W" * 100, by=build.BUILDER, at=now)
    pricing.give_opinion(stay.pk, by=build.BUILDER, at=now)
    return f"/vehicles/{stay.stock_number}/price/"


@pytest.mark.parametrize("viewport", [PHONE, DESKTOP], ids=["phone", "desktop"])
def test_page_never_scrolls_sideways(open_page: Open, address: str, viewport: dict[str, int]) -> None:
    page = open_page(Role.OWNER, viewport=viewport)
    page.goto(address)
    expect(page.get_by_role("slider", name="Look at an ask")).to_be_visible()
    assert width_wanted(page) <= viewport["width"]


def test_slider_by_keyboard_says_each_ask_and_moves_the_markers(open_page: Open, address: str) -> None:
    page = open_page(Role.SALES)
    page.goto(address)
    slider, said = page.get_by_role("slider", name="Look at an ask"), page.locator("[data-said]")
    expect(said).to_contain_text("At $42,000 (ask now):")
    marker = page.locator("[data-marker] circle").first
    before = int(marker.get_attribute("cx") or 0)
    slider.press("ArrowRight")
    expect(said).not_to_contain_text("(ask now)")
    assert int(marker.get_attribute("cx") or 0) > before
    assert (slider.get_attribute("aria-valuetext") or "") in said.inner_text()


def test_suggestion_is_used_and_kept(open_page: Open, address: str) -> None:
    page = open_page(Role.OWNER)
    page.goto(address)
    page.get_by_label("Suggest an ask for").select_option("sell_by")
    page.get_by_role("button", name="Show it").click()
    page.get_by_role("link", name="Use it").click()
    page.get_by_role("button", name="Set the ask").click()
    expect(page.get_by_text("The ask is set.")).to_be_visible()
    kept = AskChange.objects.latest("pk")
    assert (kept.amount, kept.objective) == (kept.suggested, "sell_by")
