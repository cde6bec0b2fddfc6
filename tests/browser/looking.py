"""How a screen is looked at in a test."""

import os
from collections.abc import Callable

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

from tests.browser.chromium import PATIENCE, PHONE


def wait_until(page: Page, so: Callable[[], bool], *, else_say: str) -> None:
    """Asked from outside, for the page's policy lets no test wait inside it."""
    for _ in range(PATIENCE // 100):
        if so():
            return
        page.wait_for_timeout(100)
    raise AssertionError(else_say)


def width_wanted(page: Page) -> int:
    """How wide the page wants to be. A click comes back when the next page begins, with nothing of it read yet."""
    page.wait_for_load_state()
    return int(page.evaluate("document.documentElement.scrollWidth"))


def looked_at(page: Page, name: str) -> None:
    """No barrier that a program can find, nothing wider than the screen; with SHOTS=folder a picture to look at."""
    width = (page.viewport_size or PHONE)["width"]
    assert width_wanted(page) <= width
    found = Axe().run(page).response["violations"]
    told = [(one["id"], [node["html"] for node in one["nodes"]]) for one in found]
    assert not told, told
    if folder := os.environ.get("SHOTS"):
        page.screenshot(path=f"{folder}/{name}-{width}.png", full_page=True)
