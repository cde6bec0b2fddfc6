"""The second factor on a phone: set up, signed out, signed in again with a code; who is signed in where."""

import base64
import re
import time

import pytest
from django_otp.oath import TOTP
from playwright.sync_api import Page

from inventory.models import User
from inventory.rules.roles import Role
from tests import build
from tests.browser.chromium import DESKTOP, PHONE
from tests.browser.conftest import Open
from tests.browser.looking import looked_at

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def code(secret: str, *, steps: int = 0) -> str:
    """What an app shows that was given the secret as it stands on the screen."""
    totp = TOTP(base64.b32decode(secret.replace(" ", "")))
    totp.time = time.time() + 30 * steps
    return f"{totp.token():06d}"


def set_up(page: Page) -> str:
    page.get_by_role("link", name="Sam Owner").click()
    looked_at(page, "your-sign-in")
    page.get_by_role("link", name="Set it up").click()
    looked_at(page, "set-up-begin")
    page.get_by_role("button", name="Begin").click()
    secret = page.locator("code.secret").inner_text()
    picture = page.get_by_role("img", name="QR code")
    assert picture.evaluate("image => image.complete && image.naturalWidth > 100")
    page.get_by_label("Code that the app shows now").fill("12345")
    page.get_by_role("button", name="Switch it on").click()
    page.get_by_text("This code is not right").wait_for()
    looked_at(page, "set-up-refused")
    time.sleep(1.1)  # the wait after one wrong code
    page.get_by_label("Code that the app shows now").fill(code(secret))
    page.get_by_role("button", name="Switch it on").click()
    page.get_by_text("Your second factor is on.").wait_for()
    looked_at(page, "recovery-codes")
    assert len(re.findall(r"[a-z2-9]{5}-[a-z2-9]{5}", page.locator("main").inner_text())) == 8
    return secret


def test_second_factor_from_setting_up_to_the_next_sign_in(open_page: Open) -> None:
    page = open_page(Role.OWNER, viewport=PHONE)
    secret = set_up(page)
    page.get_by_role("link", name="I have kept them").click()
    page.get_by_role("button", name="Sign out").click()
    page.get_by_label("User name").fill("the-owner")
    page.get_by_label("Password").fill(build.PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.get_by_label("Code").wait_for()
    looked_at(page, "code")
    assert page.get_by_role("navigation").count() == 0
    page.get_by_label("Code").fill(code(secret, steps=1))
    page.get_by_role("button", name="Go on").click()
    page.get_by_role("navigation").wait_for()
    page.set_viewport_size(DESKTOP)  # type: ignore[arg-type]
    for path in (f"/staff/{User.objects.get().pk}/", "/staff/", "/your-sign-in/", "/your-sign-in/factor/off/"):
        page.goto(path)
        looked_at(page, path.strip("/").replace("/", "-"))
    page.get_by_label("Your own password").wait_for()
