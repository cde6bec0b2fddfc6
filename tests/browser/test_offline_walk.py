"""The walk on a phone without signal: what was tapped is what the house holds, once, whatever happened between."""

import json
import re
from collections import Counter
from collections.abc import Callable

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from inventory.models import CheckResult, Consignment, LateTap, LogEntry
from inventory.queries.inspections import latest_results
from inventory.rules.catalogue import STATION, STATIONS
from inventory.rules.roles import Role
from inventory.rules.states import State
from tests import build
from tests.browser.conftest import Open, sign_in
from tests.browser.looking import wait_until
from tests.conftest import NOW

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def begun(page: Page) -> Consignment:
    """A vehicle on the lot whose walk is open on this page, with all pages of it kept on the device."""
    stay = build.consignment(State.ON_LOT, at=NOW)
    page.goto(f"/vehicles/{stay.stock_number}/inspection/")
    page.get_by_role("button", name="Begin the inspection").click()
    ready(page)
    expect(page.locator(".kept-pages")).to_contain_text("it works without signal")
    return stay


def ready(page: Page) -> None:
    page.locator("html[data-walk-ready]").wait_for()


def go(page: Page, stay: Consignment, station: str) -> None:
    page.goto(f"/vehicles/{stay.stock_number}/inspection/{station}/")
    ready(page)


def tap(page: Page, code: str, answer: str) -> None:
    page.locator(f"[data-check='{code}'] input[type=radio][value='{answer}']").check()
    expect(page.locator(f"[data-check='{code}'] .kept")).to_contain_text(re.compile("Kept|Sent|later"))


def unsent(page: Page) -> int:
    """Taps that wait on the device, read from its own database."""
    return int(page.evaluate(
        """() => new Promise((resolve, reject) => {
          const opening = indexedDB.open("inventory-walk");
          opening.onerror = () => reject(opening.error);
          opening.onsuccess = () => {
            const counting = opening.result.transaction("taps").objectStore("taps").count();
            counting.onsuccess = () => { opening.result.close(); resolve(counting.result); };
          };
        })"""
    ))  # fmt: skip


def wait_until_sent(page: Page) -> None:
    wait_until(page, lambda: not unsent(page), else_say="taps are still on the device")


def held(stay: Consignment) -> dict[str, str]:
    """What the house holds of the latest inspection, by check."""
    rows = latest_results(stay.inspections.order_by("-number")[0])
    return {code: row.verdict if row.grade is None else str(row.grade) for code, row in rows.items()}


def test_walk_with_the_network_cut_in_the_middle_loses_and_doubles_nothing(open_page: Open) -> None:
    page = open_page(Role.INTAKE)
    stay = begun(page)
    context = page.context
    tapped: dict[str, str] = {}
    for number, station in enumerate(STATIONS):
        if number == 4:
            context.set_offline(True)
        if number == 7:  # the page is closed without signal and opened again, from what the device keeps
            page.close()
            page = context.new_page()
        go(page, stay, station.code)
        for place, check in enumerate(station.checks[:3]):
            answer = "4321"[(number + place) % 4] if not check.criterion else "4"
            tap(page, check.code, answer)
            tapped[check.code] = answer
    assert unsent(page) > 0
    expect(page.locator(".unsent")).to_contain_text("not sent yet")
    assert 4 * 3 - 1 <= len(held(stay)) <= 4 * 3  # the last one may have been on its way when the network went
    context.set_offline(False)
    wait_until_sent(page)
    assert held(stay) == tapped
    assert Counter(CheckResult.objects.values_list("check_code", flat=True)) == Counter(tapped.keys())
    assert CheckResult.objects.order_by("pk").last().check_code == list(tapped)[-1]  # type: ignore[union-attr]  # in order
    expect(page.locator(".unsent")).to_be_hidden()


def test_answer_lost_on_its_way_back_is_not_taken_twice(open_page: Open) -> None:
    """The house takes the taps, but the device never hears of it: they are sent again, and count once."""
    page = open_page(Role.INTAKE)
    stay = begun(page)
    go(page, stay, "front")
    lost = []

    def swallow(route: object) -> None:
        if not lost:
            lost.append(route.fetch())  # type: ignore[attr-defined]
            route.abort()  # type: ignore[attr-defined]
        else:
            route.continue_()  # type: ignore[attr-defined]

    page.context.route("**/inspection/taps/", swallow)
    tap(page, "front.hood", "2")
    expect(page.locator(".unsent")).to_contain_text("No signal.")
    assert lost[0].ok
    page.evaluate("window.dispatchEvent(new Event('online'))")
    wait_until_sent(page)
    assert CheckResult.objects.count() == 1


def test_page_opened_again_without_signal_shows_what_was_tapped(open_page: Open) -> None:
    page = open_page(Role.INTAKE)
    stay = begun(page)
    page.context.set_offline(True)
    go(page, stay, "front")
    tap(page, "front.hood", "1")
    page.locator("[data-check='front.hood'] summary").click()
    page.locator("[name='front.hood-note']").fill("latch bent")
    page.locator("[name='front.hood-note']").blur()
    page.locator("[data-check='front.paint'] summary").click()
    page.locator("[name='front.paint-reading']").fill("11.5")
    page.locator("[name='front.paint-reading']").blur()
    expect(page.locator("[data-check='front.paint'] .kept")).to_contain_text("Choose a grade")
    page.close()
    page = page.context.new_page()
    go(page, stay, "front")
    assert page.locator("[data-check='front.hood'] input:checked").input_value() == "1"
    assert page.locator("[name='front.hood-note']").input_value() == "latch bent"
    assert page.locator("[name='front.paint-reading']").input_value() == "11.5"
    page.context.set_offline(False)
    wait_until_sent(page)
    row = latest_results(stay.inspections.get())["front.hood"]
    assert (row.grade, row.note) == (1, "latch bent")


def test_one_tap_for_many_works_without_signal_and_says_what_it_left(open_page: Open) -> None:
    page = open_page(Role.INTAKE)
    stay = begun(page)
    page.context.set_offline(True)
    go(page, stay, "left_side")
    tap(page, "left_side.doors", "2")
    tap(page, "left_side.fender", "3")
    tap(page, "left_side.rocker", "not_seen")
    go(page, stay, "right_side")
    page.locator("button[data-rest=other_side]").click()
    expect(page.locator(".rest-told")).to_contain_text("2 graded as on the other side")
    go(page, stay, "front")
    tap(page, "front.hood", "1")
    page.locator("button[data-rest=no_fault]").click()
    by_eye = [check for check in STATION["front"].checks if not check.unit]
    left = len(STATION["front"].checks) - len(by_eye)
    expect(page.locator(".rest-told")).to_contain_text(f"{len(by_eye) - 1} graded no fault; {left} left open.")
    page.context.set_offline(False)
    wait_until_sent(page)
    assert held(stay) == {
        "left_side.doors": "2", "left_side.fender": "3", "left_side.rocker": "not_seen", "right_side.doors": "2",
        "right_side.fender": "3", **{check.code: "4" for check in by_eye}, "front.hood": "1",
    }  # fmt: skip


def test_two_devices_on_one_vehicle_merge_by_check_and_the_later_one_counts(open_page: Open) -> None:
    first, second = open_page(Role.INTAKE), open_page(Role.OWNER)
    stay = begun(first)
    second.goto(f"/vehicles/{stay.stock_number}/inspection/")
    ready(second)
    go(second, stay, "front")
    first.context.set_offline(True)
    go(first, stay, "front")
    tap(first, "front.hood", "4")  # said earlier, sent later
    tap(first, "front.lamps", "3")
    tap(second, "front.hood", "1")
    tap(second, "front.bumper_grille", "2")
    wait_until_sent(second)
    first.context.set_offline(False)
    wait_until_sent(first)
    assert held(stay) == {"front.hood": "1", "front.lamps": "3", "front.bumper_grille": "2"}
    expect(first.locator("[data-check='front.hood'] .kept")).to_contain_text("later")
    assert CheckResult.objects.filter(check_code="front.hood").count() == 2
    assert LogEntry.objects.filter(action="inspection.check", data__check__startswith="Hood").count() == 2


def test_tap_after_the_inspection_was_finished_is_kept_and_told(open_page: Open) -> None:
    first, owner = open_page(Role.INTAKE), open_page(Role.OWNER)
    stay = begun(first)
    first.context.set_offline(True)
    go(first, stay, "front")
    tap(first, "front.hood", "0")
    owner.goto(f"/vehicles/{stay.stock_number}/inspection/front/")
    ready(owner)
    tap(owner, "front.lamps", "4")
    wait_until_sent(owner)
    owner.goto(f"/vehicles/{stay.stock_number}/inspection/")
    owner.get_by_role("button", name="Finish the inspection").click()
    owner.wait_for_url(f"**/vehicles/{stay.stock_number}/")
    first.context.set_offline(False)
    wait_until_sent(first)
    expect(first.locator(".unsent")).to_contain_text("counts nowhere")
    assert held(stay) == {"front.lamps": "4"}
    assert LateTap.objects.get().said["check_code"] == "front.hood"
    owner.goto(f"/vehicles/{stay.stock_number}/inspection/")
    expect(owner.get_by_text("came after the inspection was finished")).to_be_visible()


def test_nobody_signs_out_unaware_and_taps_wait_for_their_own_person(open_page: Open) -> None:
    page = open_page(Role.INTAKE)
    stay = begun(page)
    go(page, stay, "front")
    page.context.route("**/inspection/taps/", lambda route: route.abort())
    tap(page, "front.hood", "2")
    asked: list[str] = []
    page.once("dialog", lambda dialog: (asked.append(dialog.message), dialog.accept()))
    page.get_by_role("button", name="Sign out").click()
    page.wait_for_url("**/sign-in/**")
    assert "1 answer is not sent yet" in asked[0]
    page.context.unroute("**/inspection/taps/")
    sign_in(page, Role.OWNER)
    go(page, stay, "front")
    expect(page.locator(".unsent")).to_contain_text("whoever made them")
    assert not CheckResult.objects.exists()
    page.get_by_role("button", name="Sign out").click()
    page.wait_for_url("**/sign-in/**")
    sign_in(page, Role.INTAKE)
    go(page, stay, "front")
    wait_until_sent(page)
    assert held(stay) == {"front.hood": "2"}


@pytest.fixture
def kept() -> Callable[[BrowserContext], list[str]]:
    """What one device's cache holds, as addresses."""

    def read(context: BrowserContext) -> list[str]:
        said = context.pages[0].evaluate(
            "async () => JSON.stringify((await (await caches.open('inventory-walk-1')).keys()).map(one => one.url))"
        )
        return list(json.loads(said))

    return read


def test_device_keeps_pages_of_the_walk_alone_and_forgets_them_at_sign_out(
    open_page: Open, kept: Callable[[BrowserContext], list[str]]
) -> None:
    page = open_page(Role.INTAKE)
    stay = begun(page)
    addresses = kept(page.context)
    assert all(f"/{stay.stock_number}/inspection/" in one or "/static/" in one for one in addresses)
    page.get_by_role("button", name="Sign out").click()
    page.wait_for_url("**/sign-in/**")
    assert not [one for one in kept(page.context) if "/inspection/" in one]


def test_reading_beyond_its_limit_is_flagged_where_it_is_entered_with_and_without_signal(open_page: Open) -> None:
    """49 CFR 570.9(a): at least 2/32 in of tread."""
    page = open_page(Role.INTAKE)
    stay = begun(page)
    page.context.set_offline(True)
    go(page, stay, "tyres")
    sign = page.locator("[data-check='tyres.tread_left_front'] .flagged")
    for reading, flagged in (("2", False), ("1.5", True)):
        page.locator("[name='tyres.tread_left_front-reading']").fill(reading)
        page.locator("[name='tyres.tread_left_front-reading']").blur()
        expect(sign).to_be_visible(visible=flagged)
    expect(sign).to_contain_text("Beyond its limit")
    tap(page, "tyres.tread_left_front", "1")
    page.context.set_offline(False)
    wait_until_sent(page)
    expect(sign).to_contain_text("1.5/32 in, below the limit of 2/32 in")
