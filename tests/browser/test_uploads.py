"""Photos and clips sent from a phone on a bad signal."""

import base64
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.utils import timezone
from PIL import Image
from playwright.sync_api import Error, Page, Route, expect

from inventory.models import Clip, Consignment, Photo, Upload
from inventory.rules.roles import Role
from tests import build
from tests.browser.conftest import Open
from tests.browser.looking import wait_until
from tests.uploads import films

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
RECORD = """async () => {
  const canvas = document.createElement("canvas");
  const pen = canvas.getContext("2d");
  const recorder = new MediaRecorder(canvas.captureStream(20), { mimeType: "video/webm" });
  const parts = [];
  recorder.ondataavailable = (event) => parts.push(event.data);
  const over = new Promise((done) => { recorder.onstop = done; });
  recorder.start();
  for (let step = 0; step < 20; step += 1) {
    pen.fillStyle = step % 2 ? "red" : "blue";
    pen.fillRect(0, 0, canvas.width, canvas.height);
    await new Promise((done) => setTimeout(done, 30));
  }
  recorder.stop();
  await over;
  const bytes = new Uint8Array(await new Blob(parts).arrayBuffer());
  return btoa(String.fromCharCode(...bytes));
}"""


@pytest.fixture(autouse=True)
def media(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path / "media"


@pytest.fixture
def stay(transactional_db: None) -> Consignment:
    return build.consignment(at=timezone.now())


def photos(folder: Path, *, count: int) -> list[Path]:
    """Noise does not shrink: each takes several pieces."""
    paths = [folder / f"side {number}.jpg" for number in range(count)]
    for path in paths:
        Image.effect_noise((2000, 1500), 90).convert("RGB").save(path, quality=92)
        assert 1.5 * 2**20 < path.stat().st_size < 20 * 2**20
    return paths


def unfold(page: Page, stay: Consignment, *, part: str, ask: str = "") -> Any:
    page.goto(f"/vehicles/{stay.stock_number}/{ask}")
    if not ask:
        page.locator(f"#add-{part} summary").click()
    return page.locator(f"#add-{part} form")


def test_three_photos_survive_a_lost_signal_and_a_reload(open_page: Open, stay: Consignment, tmp_path: Path) -> None:
    page = open_page(Role.INTAKE)
    chosen = photos(tmp_path, count=3)
    form = unfold(page, stay, part="photo", ask="?station=front&shot=front_whole#add-photo")
    form.get_by_label("Caption").fill("nose")
    form.get_by_label("Pictures taken before").set_input_files([str(path) for path in chosen])
    sent: list[str] = []

    def first_three_pieces_only(route: Route) -> None:
        sent.append(route.request.method)
        if sent.count("PUT") > 3:
            route.abort("internetdisconnected")
        else:
            route.continue_()

    page.route("**/uploads/**", first_three_pieces_only)
    form.get_by_role("button", name="Add photos").click()
    expect(page.get_by_text("no connection, trying again").first).to_be_visible()
    page.context.set_offline(True)
    with pytest.raises(Error, match="ERR_INTERNET_DISCONNECTED"):
        page.reload()
    assert Photo.objects.count() < 3
    assert Upload.objects.exists()

    page.unroute("**/uploads/**")
    page.context.set_offline(False)
    page.goto(f"/vehicles/{stay.stock_number}/")
    expect(page.get_by_role("status").filter(has_text="kept.")).to_be_visible()
    expect(page.locator(".photos img")).to_have_count(3)
    rows = list(Photo.objects.order_by("pk"))
    assert [Path(row.original.path).read_bytes() for row in rows] == [path.read_bytes() for path in chosen]
    assert {(row.station, row.shot, row.caption, row.public) for row in rows} == {
        ("front", "front_whole", "nose", True)
    }
    assert Upload.objects.filter(finished_at__isnull=True).count() == 0
    page.reload()
    expect(page.locator("[data-waiting] li")).to_have_count(0)
    assert Photo.objects.count() == 3


def test_signal_that_comes_back_is_taken_up_without_a_reload(
    open_page: Open, stay: Consignment, tmp_path: Path
) -> None:
    page = open_page(Role.INTAKE)
    chosen = photos(tmp_path, count=1)
    form = unfold(page, stay, part="photo")
    form.get_by_label("Pictures taken before").set_input_files(str(chosen[0]))
    page.context.set_offline(True)
    form.get_by_role("button", name="Add photos").click()
    expect(page.get_by_text("no connection, trying again")).to_be_visible()
    page.context.set_offline(False)
    expect(page.get_by_text("1 file is kept.")).to_be_visible()
    assert Path(Photo.objects.get().original.path).read_bytes() == chosen[0].read_bytes()


def test_clip_of_a_real_recorder_is_kept_and_plays(open_page: Open, stay: Consignment, tmp_path: Path) -> None:
    page = open_page(Role.INTAKE)
    form = unfold(page, stay, part="clip")
    film = tmp_path / "walk.webm"
    film.write_bytes(base64.b64decode(page.evaluate(RECORD)))
    form.get_by_label("Clips filmed before").set_input_files(str(film))
    form.get_by_label("What it shows").select_option("cold_start")
    form.get_by_role("button", name="Add clips").click()
    expect(page.locator("video")).to_have_count(1)
    wait_until(
        page,
        lambda: page.evaluate("document.querySelector('video').readyState") >= 1,
        else_say="the clip does not load",
    )
    assert page.locator("video").evaluate("video => video.videoWidth") > 0
    row = Clip.objects.get()
    assert (row.content_type, row.kind, row.located) == ("video/webm", "cold_start", False)
    assert Path(row.file.path).read_bytes() == film.read_bytes()


def test_clip_with_its_place_is_offered_to_be_kept_internal(open_page: Open, stay: Consignment, tmp_path: Path) -> None:
    page = open_page(Role.INTAKE)
    form = unfold(page, stay, part="clip")
    film = tmp_path / "walk.mp4"
    film.write_bytes(films.mp4(films.place_of_android()))
    form.get_by_label("Clips filmed before").set_input_files(str(film))
    form.get_by_label("Shown to the consignor").check()
    form.get_by_role("button", name="Add clips").click()
    expect(page.get_by_text("Turn off location in the camera and film")).to_be_visible()
    assert not Clip.objects.exists()
    page.get_by_role("button", name="Keep it internal").click()
    expect(page.get_by_text("1 file is kept.")).to_be_visible()
    assert (Clip.objects.get().public, Clip.objects.get().located) == (False, True)


def test_what_is_no_picture_is_told_and_can_be_forgotten(open_page: Open, stay: Consignment, tmp_path: Path) -> None:
    page = open_page(Role.INTAKE)
    form = unfold(page, stay, part="photo")
    (tmp_path / "notes.jpg").write_text("hello")
    form.get_by_label("Pictures taken before").set_input_files(str(tmp_path / "notes.jpg"))
    form.get_by_role("button", name="Add photos").click()
    expect(page.get_by_text("The file notes.jpg is no JPEG")).to_be_visible()
    page.reload()
    expect(page.get_by_text("The file notes.jpg is no JPEG")).to_be_visible()
    page.get_by_role("button", name="Forget it").click()
    expect(page.locator("[data-waiting] li")).to_have_count(0)
    assert not Upload.objects.exists()


def test_forms_of_photos_and_clips_are_accessible(open_page: Open, stay: Consignment) -> None:
    page = open_page(Role.INTAKE)
    unfold(page, stay, part="clip")
    page.locator("#add-photo summary").click()
    found = Axe().run(page, context="#photos")
    assert found.violations_count == 0, found.generate_report()
