"""By hand: how many taps and typed characters a whole intake takes on a phone, by part of the work.

    python -m tests.bench.walk_taps

A real Chromium walks one sound vehicle through what it has, the twelve stations, six modifications and thirty
pictures, against a house of its own on a fresh database. It ends with 1 when anything is missing there afterwards.

Counted: a tap on anything, also on a folded part; a list to choose from is two (open it, choose); a field to type in is
one, and each character one more by itself; choosing files is one for the picker and one for each picture. How far the
page has to be moved to bring the next thing onto the screen is told in screens. Signing in is not counted.
"""

import os
import shutil
import sys
import tempfile
from collections.abc import Iterator
from itertools import islice
from pathlib import Path

import django
from django.contrib.staticfiles.handlers import StaticFilesHandler
from django.core.management import call_command
from django.test.testcases import LiveServerThread
from django.utils import timezone
from PIL import Image
from playwright.sync_api import Browser, Locator, Page, expect, sync_playwright

from tests.bench.thumb import Thumb
from tests.browser.chromium import FLAGS, PHONE

FOLDER = Path(tempfile.mkdtemp(prefix="walk-taps-"))
os.environ |= {"DATA_DIR": str(FOLDER), "TASKS": "immediate", "DJANGO_SETTINGS_MODULE": "inventory.settings"}
os.environ.pop("DATABASE_URL", None)
django.setup()  # on the fresh folder, so before any model is loaded

from inventory.models import CheckResult, Consignment, VehicleFeature
from inventory.queries.inspections import kind_of, latest_results
from inventory.rules.catalogue import STATIONS, Feature, Station, asked
from inventory.rules.roles import Role
from inventory.rules.states import State
from tests import build

HAS = (
    "trunk", "body_on_frame", "front_discs", "power_brakes", "power_steering", "automatic", "carburettor",
    "liquid_cooled",
)  # fmt: skip
FINDINGS: dict[str, tuple[int, str]] = {
    "cold_start.smoke": (3, ""),
    "paperwork.records": (2, "no invoices since 1998"),
    "front.bumper_grille": (3, "pits, left end"),
    "left_side.doors": (3, ""),
    "rear.bumper_valance": (2, "dent, right corner"),
    "right_side.doors": (3, ""),  # as on the other side
    "glass.weatherstrip": (2, "hard at the left door"),
    "engine_bay.dressing": (3, ""),
    "interior.seats": (2, "driver's seam split"),
    "underside.exhaust": (2, "rust at the rear joint"),
    "tyres.wheels": (3, ""),
    "road_test.noises": (3, ""),
}
TREADS = {
    "tyres.tread_left_front": "8", "tyres.tread_right_front": "8", "tyres.tread_left_rear": "7",
    "tyres.tread_right_rear": "7.5",
}  # fmt: skip
ENGINE = {"cold_start": "cold", "road_test": "warm"}
MODIFICATIONS = (
    {"what": "Front disc brakes", "kind": "brakes", "fitting": "bolt_on", "workmanship": "3", "basis": "seen"},
    {"what": "Five-speed", "kind": "transmission", "fitting": "bolt_on", "workmanship": "3", "basis": "documented"},
    {"what": "Tube headers", "kind": "engine", "fitting": "bolt_on", "workmanship": "2", "basis": "seen"},
    {"what": "17-inch wheels", "kind": "wheels", "fitting": "bolt_on", "workmanship": "4", "basis": "seen"},
    {"what": "Radio in dash", "kind": "electrical", "fitting": "cut_or_welded", "workmanship": "2", "basis": "seen"},
    {"what": "Bucket seats", "kind": "interior", "fitting": "bolt_on", "workmanship": "3", "basis": "told"},
)
AT_A_STATION, IN_THE_FILE = 2, 6
PARTS = ("features", "stations", "findings", "modifications", "photos")


def pictures() -> Iterator[Path]:
    """Small ones, each of another colour: the same picture sent again would be one photo."""
    for number in range(AT_A_STATION * len(STATIONS) + IN_THE_FILE):
        path = FOLDER / f"picture {number + 1}.jpg"
        Image.new("RGB", (320, 240), (8 * number, 255 - 8 * number, 90)).save(path)
        yield path


def walk(thumb: Thumb, *, stock_number: str) -> None:
    page, taken = thumb.page, pictures()
    page.goto(f"/vehicles/{stock_number}/inspection/")
    thumb.turn_to("stations")
    thumb.tap(page.get_by_role("button", name="Begin the inspection"))
    say_features(thumb)
    thumb.turn_to("stations")
    thumb.tap(page.get_by_role("link", name="Start: "))
    for station in STATIONS:
        walk_station(thumb, station=station, taken=taken)
        thumb.turn_to("stations")
        thumb.tap(page.locator("[data-next]"))
    ready(page)
    expect(page.locator(".unsent")).to_be_hidden()
    thumb.tap(page.get_by_role("button", name="Finish the inspection"))
    add_modifications(thumb)
    add_photos(thumb, taken=taken)


def ready(page: Page) -> None:
    page.locator("html[data-walk-ready]").wait_for()


def say_features(thumb: Thumb) -> None:
    page = thumb.page
    thumb.turn_to("features")
    thumb.tap(page.get_by_role("link", name="What it has").first)
    for name in HAS:
        thumb.tap(page.locator(f"input[name={name}-present][value=yes]"))
    thumb.tap(page.get_by_role("button", name="Save, everything else: no"))


def walk_station(thumb: Thumb, *, station: Station, taken: Iterator[Path]) -> None:
    page = thumb.page
    page.wait_for_url(f"**/inspection/{station.code}/")
    ready(page)
    thumb.turn_to("stations")
    if station.code in ENGINE:
        thumb.tap(page.locator(f"input[name=engine][value={ENGINE[station.code]}]"))
    if station.code == "right_side":
        thumb.tap(page.locator("button[data-rest=other_side]"))
    else:
        thumb.turn_to("findings")
        for code, (grade, note) in FINDINGS.items():
            if code.startswith(f"{station.code}."):
                find(thumb, check(page, code), grade=grade, note=note)
        thumb.turn_to("stations")
    for code, reading in TREADS.items():
        if station.code == "tyres":
            thumb.type(page.locator(f"[name='{code}-reading']"), reading)
            answer(thumb, check(page, code), value="4")
    thumb.tap(page.locator("button[data-rest=no_fault]"))
    if page.locator("[data-check]:not(:has(input[type=radio]:checked))").count():
        thumb.tap(page.locator("button[data-rest=not_seen]"))  # what nobody measured
    photograph(thumb, taken=taken)


def check(page: Page, code: str) -> Locator:
    return page.locator(f"[data-check='{code}']")


def answer(thumb: Thumb, one: Locator, *, value: str) -> None:
    thumb.tap(one.locator(f"input[type=radio][value='{value}']"))


def find(thumb: Thumb, one: Locator, *, grade: int, note: str) -> None:
    answer(thumb, one, value=str(grade))
    if note:
        field = one.locator("textarea")
        if not field.is_visible():
            thumb.tap(one.locator("summary"))
        thumb.type(field, note)


def photograph(thumb: Thumb, *, taken: Iterator[Path]) -> None:
    """Pictures of the first shots that the station wants, chosen in one go: the page says which answers which."""
    page = thumb.page
    thumb.turn_to("photos")
    form = page.locator(".shots form")
    wanted = [one.get_attribute("value") for one in form.locator("[name=shot] option[data-missing]").all()]
    thumb.pick(form.locator("[name=file]"), list(islice(taken, AT_A_STATION)))
    said = [one.input_value() for one in form.locator("[data-each-shot] select").all()]
    if said != wanted[:AT_A_STATION]:
        raise AssertionError(f"The page says {said}, wanted are {wanted}.")
    thumb.tap(form.get_by_role("button", name="Keep these pictures"))
    expect_kept(page, AT_A_STATION)


def expect_kept(page: Page, count: int) -> None:
    expect(page.locator("[data-waiting] li").filter(has_text="kept")).to_have_count(count)
    expect(page.locator("[data-files-told]")).to_contain_text("kept.")


def add_modifications(thumb: Thumb) -> None:
    page = thumb.page
    thumb.turn_to("modifications")
    form = page.locator("#add-modification form")
    thumb.tap(page.locator("#add-modification summary"))
    for number, said in enumerate(MODIFICATIONS, 1):
        for name, value in said.items():
            put(thumb, form, name=name, value=value)
        last = number == len(MODIFICATIONS)
        thumb.tap(form.get_by_role("button", name="Record a modification" if last else "Record it, and another"))
        expect(page.locator("[aria-labelledby=modifications-title] tbody tr")).to_have_count(number)


def put(thumb: Thumb, form: Locator, *, name: str, value: str) -> None:
    """One field of a form, whatever it is answered with."""
    field = form.locator(f"[name={name}]").first
    if field.evaluate("node => node.tagName") == "SELECT":
        thumb.choose(field, value)
    elif field.get_attribute("type") == "radio":
        thumb.tap(form.locator(f"[name={name}][value='{value}']"))
    else:
        thumb.type(field, value)


def add_photos(thumb: Thumb, *, taken: Iterator[Path]) -> None:
    """In the file: a missing shot after the other, by its link."""
    page = thumb.page
    thumb.turn_to("photos")
    for picture in taken:
        wanted = page.locator(".missing a").first
        address = wanted.get_attribute("href")
        thumb.tap(wanted)
        form = page.locator("#add-photo form")
        thumb.pick(form.locator("[name=camera]"), [picture])
        thumb.tap(form.get_by_role("button", name="Add photos"))
        expect(page.locator(f".missing a[href='{address}']")).to_have_count(0)  # the list was brought up to date


def missing(stay: Consignment) -> list[str]:
    """What ought to be there now and is not, in words; empty when the intake is whole."""
    inspection = stay.inspections.get()
    results = latest_results(inspection)
    wanted = {one.code for station in STATIONS for one in asked(station, **kind_of(stay.vehicle))}
    found = {code: (row.grade, row.note) for code, row in results.items() if row.grade is not None and row.grade < 4}
    readings = {code: str(float(row.reading)) for code, row in results.items() if row.reading is not None}
    shots = [(photo.station, photo.shot) for photo in stay.photos.all()]
    claims = {
        "the inspection is not finished": inspection.finished_at is not None,
        "a feature is not answered": VehicleFeature.objects.values("feature").distinct().count() == len(Feature),
        f"findings are {found}": found == FINDINGS,
        f"readings are {readings}": readings == {code: str(float(text)) for code, text in TREADS.items()},
        f"not answered: {sorted(wanted - set(results))}": wanted <= set(results),
        f"{stay.vehicle.modifications.count()} modifications": stay.vehicle.modifications.count() == len(MODIFICATIONS),
        f"{len(shots)} photos of {len(set(shots))} shots": len(shots) == len(set(shots)) == 30,
        "a photo shows no shot": all(shot for _, shot in shots),
    }
    return [said for said, holds in claims.items() if not holds]


def signed_in(browser: Browser, *, base: str) -> Page:
    page = browser.new_context(base_url=base, viewport=PHONE, has_touch=True).new_page()  # type: ignore[arg-type]
    page.set_default_timeout(15_000)
    page.goto("/sign-in/")
    page.get_by_label("User name").fill(f"the-{Role.INTAKE.value}")
    page.get_by_label("Password").fill(build.PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(f"{base}/")
    return page


def counted(stay: Consignment) -> Thumb:
    house = LiveServerThread("127.0.0.1", StaticFilesHandler)
    house.daemon = True
    house.start()
    house.is_ready.wait()
    if house.error:
        raise house.error
    executable = shutil.which(os.environ.get("CHROMIUM") or "chromium") or shutil.which("google-chrome")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=executable, args=FLAGS)
        thumb = Thumb(signed_in(browser, base=f"http://127.0.0.1:{house.port}"), parts=PARTS)
        walk(thumb, stock_number=stay.stock_number)
        browser.close()
    house.terminate()
    return thumb


def main() -> int:
    call_command("migrate", verbosity=0)
    now = timezone.now()
    build.staff(Role.INTAKE, at=now)
    stay = build.consignment(State.ON_LOT, at=now)
    thumb = counted(stay)
    print(thumb.table())
    stay.refresh_from_db()
    lacks = missing(stay)
    for said in lacks:
        print(f"MISSING: {said}")
    print("The intake is not whole." if lacks else f"The intake is whole: {CheckResult.objects.count()} answers.")
    return 1 if lacks else 0


if __name__ == "__main__":
    try:
        code = main()
    finally:
        shutil.rmtree(FOLDER, ignore_errors=True)
    sys.exit(code)
