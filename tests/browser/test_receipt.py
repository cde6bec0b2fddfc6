"""The arrival receipt on a phone: two signatures drawn by finger, a refusal that loses nothing, the paper fetched."""

import io
import json
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.utils import timezone
from playwright.sync_api import Locator, Page
from pypdf import PdfReader

from inventory.models import ArrivalReceipt, Consignment
from inventory.rules.roles import Role
from tests import build
from tests.browser.chromium import DESKTOP, PHONE
from tests.browser.conftest import Open
from tests.browser.looking import wait_until, width_wanted

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture(autouse=True)
def media(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def now() -> datetime:
    return timezone.now()


@pytest.fixture
def stay(now: datetime, transactional_db: None) -> Consignment:
    return build.consignment(at=now)


def draw(page: Page, pad: Locator) -> None:
    """A zigzag by mouse, and a second stroke."""
    pad.scroll_into_view_if_needed()
    box = pad.bounding_box()
    assert box is not None
    for places in (((0.1, 0.3), (0.3, 0.8), (0.5, 0.2), (0.9, 0.7)), ((0.2, 0.9), (0.8, 0.9))):
        across, down = places[0]
        page.mouse.move(box["x"] + box["width"] * across, box["y"] + box["height"] * down)
        page.mouse.down()
        for across, down in places[1:]:
            page.mouse.move(box["x"] + box["width"] * across, box["y"] + box["height"] * down, steps=6)
        page.mouse.up()


def strokes(page: Page, name: str) -> list[list[list[int]]]:
    return json.loads(page.locator(f"[name={name}]").input_value() or "[]")  # type: ignore[no-any-return]


def inked(pad: Locator) -> int:
    """How many dots of the canvas hold ink."""
    return pad.evaluate(  # type: ignore[no-any-return]
        "canvas => { const all = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height).data;"
        " let dots = 0; for (let at = 3; at < all.length; at += 4) dots += all[at] > 0; return dots; }"
    )


def fill(page: Page) -> None:
    page.get_by_label("Fuel").select_option("half")
    page.get_by_label("How many keys").fill("2")
    page.get_by_label("Signs as").select_option("owner")


def test_two_signatures_are_drawn_and_the_paper_is_fetched(open_page: Open, stay: Consignment) -> None:
    page = open_page(Role.INTAKE)
    page.goto(f"/vehicles/{stay.stock_number}/")
    page.get_by_role("link", name="Make the arrival receipt").click()
    assert width_wanted(page) <= PHONE["width"]
    fill(page)
    damage = page.locator("[data-lines=damage]")
    damage.get_by_role("button", name="Add a line").click()
    sixth = damage.get_by_role("group", name="Damage, line 6")
    sixth.get_by_label("Where").fill("roof")
    sixth.get_by_label("What").fill("dent")
    giver, taker = page.locator("canvas").all()
    draw(page, giver)
    assert "drawn" in (giver.get_attribute("aria-label") or "")
    page.get_by_role("button", name="Sign and keep").click()
    page.get_by_text("has not signed").wait_for()  # the lot's own signature is missing: all else is still there
    giver, taker = page.locator("canvas").all()
    assert page.get_by_role("group", name="Damage, line 6").get_by_label("Where").input_value() == "roof"
    kept = strokes(page, "giver_strokes")
    assert len(kept) == 2
    assert inked(giver) > 100
    assert inked(taker) == 0
    draw(page, taker)
    page.get_by_role("button", name="Sign and keep").click()
    page.get_by_text("Arrival receipt 1 is signed and kept.").wait_for()
    row = ArrivalReceipt.objects.get()
    assert (row.giver_strokes, row.giver_signed, row.taker_signed) == (kept, "drawn", "drawn")
    assert len(row.taker_strokes) == 2
    address = page.get_by_role("link", name="Arrival receipt 1 (PDF)").get_attribute("href") or ""
    answer = page.request.get(address)
    assert answer.headers["content-type"] == "application/pdf"
    said = " ".join(PdfReader(io.BytesIO(answer.body())).pages[0].extract_text().split())
    assert "1 roof dent" in said
    assert "Ada Fenwick, owner" in said


def test_drawing_is_cleared_follows_the_size_and_stays_in_its_field(open_page: Open, stay: Consignment) -> None:
    page = open_page(Role.INTAKE)
    page.goto(f"/vehicles/{stay.stock_number}/receipt/")
    giver = page.locator("canvas").first
    draw(page, giver)
    before = strokes(page, "giver_strokes")
    assert all(0 <= x <= 1000 and 0 <= y <= 400 for stroke in before for x, y in stroke)
    # drawn at a tenth and at nine tenths of the width, wherever the canvas stands
    assert abs(min(x for stroke in before for x, _ in stroke) - 100) <= 5
    assert abs(max(x for stroke in before for x, _ in stroke) - 900) <= 5
    page.set_viewport_size(DESKTOP)
    wait_until(
        page, lambda: page.evaluate("document.querySelector('canvas').width") > 400, else_say="the canvas stays narrow"
    )
    assert strokes(page, "giver_strokes") == before
    assert inked(giver) > 100
    page.get_by_role("button", name="Clear").first.click()
    assert strokes(page, "giver_strokes") == []
    assert inked(giver) == 0


def test_keyboard_alone_signs_by_typing_the_name(open_page: Open, stay: Consignment) -> None:
    page = open_page(Role.INTAKE, viewport=DESKTOP)
    page.goto(f"/vehicles/{stay.stock_number}/receipt/")
    fill(page)
    for tick in page.get_by_label("I sign by typing my name").all():
        tick.focus()
        page.keyboard.press("Space")
    page.get_by_role("button", name="Sign and keep").focus()
    page.keyboard.press("Enter")
    page.get_by_text("Arrival receipt 1 is signed and kept.").wait_for()
    assert ArrivalReceipt.objects.get().giver_signed == "typed"


@pytest.mark.parametrize("viewport", [PHONE, DESKTOP], ids=["phone", "desktop"])
def test_page_has_no_barrier_that_a_program_can_find(
    open_page: Open, stay: Consignment, viewport: dict[str, int]
) -> None:
    page = open_page(Role.INTAKE, viewport=viewport)
    page.goto(f"/vehicles/{stay.stock_number}/receipt/")
    page.get_by_role("button", name="Sign and keep").click()
    page.get_by_text("Nothing is signed yet").wait_for()
    found = Axe().run(page).response["violations"]
    assert not [(one["id"], [node["html"] for node in one["nodes"]]) for one in found]
