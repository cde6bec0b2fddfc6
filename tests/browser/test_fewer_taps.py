"""What saves taps at a station says no more than was meant: notes, what was not seen, several pictures at once."""

import os
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.utils import timezone
from PIL import Image
from playwright.sync_api import Locator, Page, expect

from inventory.models import Consignment, Photo
from inventory.queries.inspections import latest_results
from inventory.rules.catalogue import STATION
from inventory.rules.roles import Role
from tests import build
from tests.browser.conftest import Open
from tests.browser.looking import wait_until

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
SHOTS = [shot.code for shot in STATION["front"].shots]
DRAWN = "canvas => canvas.getContext('2d').getImageData(48, 36, 1, 1).data[3]"


@pytest.fixture(autouse=True)
def media(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path / "media"


@pytest.fixture
def stay(transactional_db: None) -> Consignment:
    return build.consignment(at=timezone.now())


def at_station(page: Page, stay: Consignment, station: str) -> Page:
    page.goto(f"/vehicles/{stay.stock_number}/inspection/")
    begin = page.get_by_role("button", name="Begin the inspection")
    if begin.count():
        begin.click()
        expect(page.locator(".kept-pages")).to_contain_text("it works without signal")
    page.goto(f"/vehicles/{stay.stock_number}/inspection/{station}/")
    page.locator("html[data-walk-ready]").wait_for()
    return page


def pictures(folder: Path, *, count: int) -> list[Path]:
    """Named against the order in which they were taken."""
    paths = [folder / f"side {count - number}.jpg" for number in range(count)]
    for number, path in enumerate(paths):
        Image.new("RGB", (64, 48), (40 * number, 90, 200)).save(path)
        os.utime(path, (1_700_000_000 + number, 1_700_000_000 + number))
    return paths


def choose(page: Page, paths: list[Path]) -> None:
    page.get_by_label("Pictures taken before").set_input_files([str(path) for path in paths])


def keep(page: Page, *, count: int) -> None:
    page.get_by_role("button", name="Keep these pictures").click()
    expect(page.locator("[data-waiting] li").filter(has_text="kept")).to_have_count(count)


def wait_until_drawn(lines: Locator) -> None:
    wait_until(
        lines.page,
        lambda: all(line.locator("canvas").evaluate(DRAWN) == 255 for line in lines.all()),
        else_say="a picture is not drawn beside its line",
    )


def test_fault_asks_for_its_note_and_a_written_note_never_hides(open_page: Open, stay: Consignment) -> None:
    page = at_station(open_page(Role.INTAKE), stay, "front")
    check = page.locator("[data-check='front.hood']")
    note = check.get_by_label("Note")
    check.locator("input[value='4']").check()
    expect(note).to_be_hidden()
    check.locator("input[value='2']").check()
    expect(note).to_be_visible()
    note.fill("latch loose")
    note.blur()
    check.locator("input[value='4']").check()
    expect(note).to_be_visible()
    expect(page.locator("[data-check='front.lamps']").get_by_label("Note")).to_be_hidden()
    page.locator("[data-check='front.lamps'] summary").click()
    expect(page.locator("[data-check='front.lamps']").get_by_label("Note")).to_be_visible()


def test_not_seen_in_one_tap_leaves_answers_and_typed_readings_alone(open_page: Open, stay: Consignment) -> None:
    page = at_station(open_page(Role.INTAKE), stay, "front")
    page.locator("[data-check='front.hood'] input[value='3']").check()
    page.locator("[name='front.paint-reading']").fill("11.5")
    page.locator("button[data-rest=not_seen]").click()
    rest = len(STATION["front"].checks) - 2
    expect(page.locator(".rest-told")).to_contain_text(f"{rest} said to be not seen; 1 left open.")
    expect(page.get_by_role("link", name="Next: Left side")).to_be_in_viewport()
    expect(page.locator("[data-check='front.cowl'] .kept")).to_contain_text("Sent")
    assert page.locator("[name='front.paint-reading']").input_value() == "11.5"
    rows = latest_results(stay.inspections.get())
    assert {code: (row.verdict, row.grade, row.basis) for code, row in rows.items()} == {
        "front.hood": ("graded", 3, "seen"),
        **{
            check.code: ("not_seen", None, "not_established")
            for check in STATION["front"].checks
            if check.code not in {"front.hood", "front.paint"}
        },
    }


def test_pictures_at_a_station_leave_its_checks_on_the_page(open_page: Open, stay: Consignment, tmp_path: Path) -> None:
    page = at_station(open_page(Role.INTAKE), stay, "front")
    choose(page, pictures(tmp_path, count=1))
    keep(page, count=1)
    expect(page.get_by_role("status").filter(has_text="1 file is kept.")).to_be_visible()
    expect(page.locator("[data-check] input[type=radio]")).to_have_count(8 * len(STATION["front"].checks))


def test_pictures_taken_one_by_one_answer_the_shots_in_turn(open_page: Open, stay: Consignment, tmp_path: Path) -> None:
    page = at_station(open_page(Role.INTAKE), stay, "front")
    form = page.locator(".shots form")
    for number, path in enumerate(pictures(tmp_path, count=3), 1):
        expect(form.get_by_label("What it shows")).to_have_value(SHOTS[number - 1])
        form.get_by_label("Caption").fill(f"number {number}")
        choose(page, [path])
        expect(page.locator("[data-each-shot]")).to_be_hidden()
        keep(page, count=number)
        expect(form.get_by_label("Caption")).to_have_value("")
    expect(form.get_by_label("What it shows")).to_have_value("")
    expect(page.locator("[data-wanted]")).to_have_text("Every picture of the list is taken.")
    assert list(Photo.objects.order_by("pk").values_list("shot", "caption")) == [
        (shot, f"number {number}") for number, shot in enumerate(SHOTS, 1)
    ]


def test_several_pictures_say_what_each_shows_and_a_line_can_be_changed(
    open_page: Open, stay: Consignment, tmp_path: Path
) -> None:
    page = at_station(open_page(Role.INTAKE), stay, "front")
    paths = pictures(tmp_path, count=4)
    choose(page, sorted(paths))
    lines = page.locator("[data-each-shot] li")
    expect(lines).to_have_count(4)
    expect(page.get_by_text("in the order in which they were taken")).to_be_visible()
    assert [line.locator("label").inner_text() for line in lines.all()] == [path.name for path in paths]
    assert [line.locator("select").input_value() for line in lines.all()] == [*SHOTS, ""]
    for line in lines.all():
        expect(line.locator("canvas")).to_be_visible()
    wait_until_drawn(lines)
    found = Axe().run(page, context=".shots")
    assert found.violations_count == 0, found.generate_report()
    lines.nth(1).locator("select").select_option(label="Something else")
    keep(page, count=4)
    expect(lines).to_have_count(0)
    expect(page.get_by_label("What it shows")).to_have_value(SHOTS[1])  # the one that nobody answered
    rows = list(Photo.objects.order_by("pk"))
    assert [row.shot for row in rows] == [SHOTS[0], "", SHOTS[2], ""]
    assert [Path(row.original.path).read_bytes() for row in rows] == [path.read_bytes() for path in paths]


def test_something_else_chosen_first_holds_for_all_of_them(open_page: Open, stay: Consignment, tmp_path: Path) -> None:
    page = at_station(open_page(Role.INTAKE), stay, "front")
    page.get_by_label("What it shows").select_option("")
    choose(page, pictures(tmp_path, count=2))
    keep(page, count=2)
    expect(page.get_by_label("What it shows")).to_have_value("")
    assert [row.shot for row in Photo.objects.all()] == ["", ""]


def test_pictures_that_wait_without_signal_are_not_asked_for_again(
    open_page: Open, stay: Consignment, tmp_path: Path
) -> None:
    page = at_station(open_page(Role.INTAKE), stay, "front")
    context = page.context
    context.set_offline(True)
    choose(page, pictures(tmp_path, count=2))
    page.get_by_role("button", name="Keep these pictures").click()
    expect(page.get_by_text("no connection, trying again")).to_be_visible()
    page.close()
    page = context.new_page()
    page.goto(f"/vehicles/{stay.stock_number}/inspection/front/")
    expect(page.get_by_label("What it shows")).to_have_value(SHOTS[2])
    context.set_offline(False)
    expect(page.get_by_text("2 files are kept.")).to_be_visible()
    assert [row.shot for row in Photo.objects.order_by("pk")] == SHOTS[:2]
