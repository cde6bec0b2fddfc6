"""Takes the README's pictures of the real screens: `python -m tests.browser.pictures http://127.0.0.1:8000`.

Run it against `manage.py demo` on this machine.
"""

import sys
from pathlib import Path

from playwright.sync_api import Browser, Page, sync_playwright

from tests.browser.chromium import DESKTOP, FLAGS, PHONE

FOLDER = Path(__file__).resolve().parents[2] / "fixtures" / "pictures"
STOCK = "26-0009"
PICTURES = [
    ("lot-desktop", "owner", DESKTOP, "/"),
    ("lot-phone", "sales", PHONE, "/"),
    ("price-desktop", "owner", DESKTOP, f"/vehicles/{STOCK}/price/"),
    ("asks-desktop", "owner", DESKTOP, f"/vehicles/{STOCK}/price/"),
    ("asks-phone", "owner", PHONE, f"/vehicles/{STOCK}/price/"),
    ("grid-desktop", "owner", DESKTOP, f"/vehicles/{STOCK}/price/"),
    ("stock-desktop", "owner", DESKTOP, "/stock/"),
    ("stock-phone", "owner", PHONE, "/stock/"),
    ("what-if-desktop", "owner", DESKTOP, f"/vehicles/{STOCK}/what-if/"),
    ("track-record-desktop", "owner", DESKTOP, "/track-record/"),
    ("track-record-phone", "owner", PHONE, "/track-record/"),
    ("station-phone", "intake", PHONE, "/vehicles/26-0005/inspection/left_side/"),
    ("walk-phone", "intake", PHONE, "/vehicles/26-0005/inspection/"),
    ("ledger-phone", "intake", PHONE, f"/vehicles/{STOCK}/inspection/ledger/"),
    ("ledger-desktop", "owner", DESKTOP, f"/vehicles/{STOCK}/inspection/ledger/"),
    ("figures-desktop", "owner", DESKTOP, f"/vehicles/{STOCK}/figures/"),
    ("walk-desktop", "intake", DESKTOP, "/vehicles/26-0005/inspection/"),
    ("score-desktop", "owner", DESKTOP, f"/vehicles/{STOCK}/score/originality/"),
    ("score-phone", "owner", PHONE, f"/vehicles/{STOCK}/score/originality/"),
    ("weights-desktop", "owner", DESKTOP, "/policy/"),
    ("sale-desktop", "owner", DESKTOP, f"/vehicles/{STOCK}/sale/"),
    ("settlement-desktop", "owner", DESKTOP, "/vehicles/26-0021/settlement/"),
    ("trust-desktop", "owner", DESKTOP, "/trust/"),
    ("description-desktop", "owner", DESKTOP, f"/vehicles/{STOCK}/listing/"),
    ("for-sale-phone", "owner", PHONE, "/for-sale/"),
    ("file-desktop", "owner", DESKTOP, "/vehicles/26-0008/"),
    ("floor-phone", "sales", PHONE, "/floor/"),
    ("work-phone", "intake", PHONE, "/floor/work-orders/"),
    ("drive-phone", "sales", PHONE, f"/vehicles/{STOCK}/drives/"),
    ("shown-phone", "sales", PHONE, "/floor/shown/"),
    ("prospect-desktop", "owner", DESKTOP, "/prospects/"),
    ("people-desktop", "owner", DESKTOP, "/people/"),
    ("own-desktop", "owner", DESKTOP, "/own-stock/"),
    ("file-phone", "owner", PHONE, "/vehicles/26-0008/"),
    ("sign-in-desktop", "owner", DESKTOP, "/your-sign-in/"),
]
# Pictures that begin at a part of their page.
FROM = {
    "asks-desktop": "#curve-title", "asks-phone": ".suggestion", "grid-desktop": "#grid-title",
    "prospect-desktop": "#band-title",
}  # fmt: skip


def signed_in(browser: Browser, *, base: str, role: str, viewport: dict[str, int]) -> Page:
    page = browser.new_context(base_url=base, viewport=viewport).new_page()  # type: ignore[arg-type]
    page.goto("/sign-in/")
    page.fill("[name=username]", role)
    page.fill("[name=password]", f"larkspur-{role}-demo")
    page.click("main button")
    return page


def take(base: str) -> None:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=FLAGS)
        for name, role, viewport, path in PICTURES:
            page = signed_in(browser, base=base, role=role, viewport=viewport)
            page.goto(path)
            if name == "prospect-desktop":
                page.locator("main table a").first.click()
            if name == "price-desktop":
                page.locator("summary").first.click()
            clip = _clip(page, viewport, start=FROM.get(name))
            page.screenshot(path=FOLDER / f"{name}.png", clip=clip, full_page=True)
        _flag_without_signal(browser, base=base)
        owner = signed_in(browser, base=base, role="owner", viewport=DESKTOP)
        owner.goto(f"/vehicles/{STOCK}/link/")
        owner.locator("button[value=make]").click()
        address = owner.get_by_label("Address of the status page").input_value()
        consignor = browser.new_context(viewport=PHONE).new_page()  # type: ignore[arg-type]
        consignor.goto(address)
        consignor.screenshot(path=FOLDER / "status-phone.png", clip=_clip(consignor, PHONE), full_page=True)
        consignor.locator("a[href*='/agree/']").first.click()
        consignor.screenshot(path=FOLDER / "agree-phone.png", clip=_clip(consignor, PHONE), full_page=True)
        browser.close()


def _clip(page: Page, viewport: dict[str, int], *, start: str | None = None) -> dict[str, float]:
    box = page.locator(start).first.bounding_box() if start else None
    top = max(box["y"] - 20, 0) if box else 0
    height = page.evaluate("document.documentElement.scrollHeight") - top
    return {"x": 0, "y": top, "width": viewport["width"], "height": min(height, 1500)}


def _flag_without_signal(browser: Browser, *, base: str) -> None:
    """A tread below its limit, in the dark, while the network is cut."""
    context = browser.new_context(base_url=base, viewport=PHONE, color_scheme="dark")  # type: ignore[arg-type]
    page = context.new_page()
    page.goto("/sign-in/")
    page.fill("[name=username]", "intake")
    page.fill("[name=password]", "larkspur-intake-demo")
    page.click("main button")
    page.goto("/vehicles/26-0005/inspection/tyres/")
    page.locator("html[data-walk-ready]").wait_for()
    context.set_offline(True)
    check = page.locator("[data-check='tyres.tread_left_front']")
    page.locator("[name='tyres.tread_left_front-reading']").fill("1.5")
    check.locator("input[type=radio][value='1']").check()
    page.get_by_text("No signal.").wait_for()
    page.screenshot(path=FOLDER / "flag-phone.png")
    context.close()


if __name__ == "__main__":
    take(sys.argv[1])
