"""A real Chromium, and the people of the lot signed in to it."""

import os
import shutil
from collections.abc import Callable, Iterator

import pytest
from django.conf import settings
from playwright.sync_api import Browser, Page, expect, sync_playwright
from pytest_django.live_server_helper import LiveServer

from inventory.rules.roles import Role
from tests import build
from tests.browser.chromium import FLAGS, PATIENCE, PHONE
from tests.conftest import NOW

Open = Callable[..., Page]
expect.set_options(timeout=PATIENCE)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    exe = shutil.which(os.environ.get("CHROMIUM") or "chromium") or shutil.which("google-chrome")
    if not exe:
        said = "no Chromium: apt-get install chromium, or set CHROMIUM=path"
        pytest.fail(said) if os.environ.get("CI") else pytest.skip(said)
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=exe, args=FLAGS)
        yield chromium
        chromium.close()


@pytest.fixture
def open_page(browser: Browser, live_server: LiveServer, transactional_db: None) -> Iterator[Open]:
    """Open a page as somebody; script errors, console errors and requests to other hosts fail the test."""
    bad: list[str] = []
    contexts = []

    def opened(role: Role | None = None, *, viewport: dict[str, int] = PHONE) -> Page:
        context = browser.new_context(base_url=live_server.url, viewport=viewport)  # type: ignore[arg-type]
        contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(PATIENCE)
        page.on("pageerror", lambda error: bad.append(str(error)))
        page.on("console", lambda message: bad.append(message.text) if is_defect(message) else None)
        page.on("request", lambda request: bad.append(request.url) if is_foreign(request.url) else None)
        if role is not None:
            sign_in(page, role)
        return page

    def is_foreign(url: str) -> bool:
        return not url.startswith((live_server.url, "data:", "blob:"))

    yield opened
    for context in contexts:
        context.close()
    assert not bad, bad


def is_defect(message: object) -> bool:
    """A console error, unless it says that a form was refused (422, 409), or that a test cut the network."""
    text = getattr(message, "text", "")
    refused = any(f"status of {code}" in text for code in (404, 409, 422))
    cut = "net::ERR_INTERNET_DISCONNECTED" in text or "net::ERR_FAILED" in text
    return getattr(message, "type", "") == "error" and not refused and not cut


def sign_in(page: Page, role: Role) -> None:
    build.staff(role, at=NOW)
    page.goto("/sign-in/")
    page.get_by_label("User name").fill(f"the-{role.value}")
    page.get_by_label("Password").fill(build.PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(f"**{settings.FORCE_SCRIPT_NAME or ''}/")
