"""The screens of the walk are usable by everybody: checked by axe at phone and desktop width, and by keyboard alone."""

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from inventory.actions import inspecting
from inventory.actions.inspecting import Finding
from inventory.models import CheckResult, Consignment
from inventory.rules.roles import Role
from inventory.rules.states import State
from tests import build
from tests.browser.chromium import DESKTOP, PHONE
from tests.browser.conftest import Open
from tests.browser.looking import wait_until, width_wanted
from tests.conftest import NOW

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def walked() -> Consignment:
    """A vehicle whose walk is open, with an unsafe finding."""
    stay = build.consignment(State.ON_LOT, at=NOW)
    inspecting.begin_inspection(stay.pk, by=build.BUILDER, at=NOW)
    finding = Finding(check_code="underside.brake_lines", grade=1, basis="seen", note="wet at the joint")
    inspecting.record_check(stay.pk, finding=finding, by=build.BUILDER, at=NOW)
    return stay


@pytest.mark.parametrize("viewport", [PHONE, DESKTOP], ids=["phone", "desktop"])
def test_screens_of_the_walk_have_nothing_that_axe_finds_wrong(open_page: Open, viewport: dict[str, int]) -> None:
    stay = walked()
    page = open_page(Role.OWNER, viewport=viewport)
    base = f"/vehicles/{stay.stock_number}"
    for path in ("/", "/inspection/", "/inspection/underside/", "/inspection/tyres/", "/inspection/road_test/",
                 "/inspection/features/", "/inspection/ledger/", "/figures/", "/receipt/"):  # fmt: skip
        page.goto(f"{base}{path}")
        found = Axe().run(page, options={"runOnly": ["wcag2a", "wcag2aa", "wcag21aa", "wcag22aa"]})
        assert found.violations_count == 0, f"{path}: {found.generate_report()}"
        assert width_wanted(page) <= viewport["width"], path


def test_check_is_graded_by_keyboard_alone(open_page: Open) -> None:
    stay = walked()
    page = open_page(Role.INTAKE)
    page.goto(f"/vehicles/{stay.stock_number}/inspection/front/")
    page.locator("html[data-walk-ready]").wait_for()
    page.locator("[data-check='front.hood'] input[type=radio]").first.focus()
    page.keyboard.press("Space")  # 4, then down to 2
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowDown")
    expect(page.locator("[data-check='front.hood'] .kept")).to_contain_text("Sent")
    graded = CheckResult.objects.filter(check_code="front.hood", grade=2)
    wait_until(page, graded.exists, else_say="the grade is not kept")
    row = CheckResult.objects.filter(check_code="front.hood").order_by("told_at", "pk").last()
    assert row is not None
    assert row.grade == 2
