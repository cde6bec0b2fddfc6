"""The track record drawn: nothing runs out of the page, on a phone and on a desktop."""

from datetime import datetime

import pytest
from django.utils import timezone

from inventory.rules.roles import Role
from tests import records
from tests.browser.chromium import DESKTOP, PHONE
from tests.browser.conftest import Open
from tests.browser.looking import width_wanted

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def now() -> datetime:
    return timezone.now()


@pytest.mark.parametrize("viewport", [PHONE, DESKTOP], ids=["phone", "desktop"])
def test_drawings_fit_the_page_and_the_tables_open(open_page: Open, now: datetime, viewport: dict[str, int]) -> None:
    records.fit_with(records.record_of(records.sold(120, at=now), misses=22, silent=3), at=now)
    page = open_page(Role.OWNER, viewport=viewport)
    page.get_by_role("link", name="Track record", exact=True).click()
    page.get_by_text("Of the last 117 sales, 95 ended inside the band.").first.wait_for()
    assert width_wanted(page) <= viewport["width"]
    for drawing in page.locator("svg.drawing").all():
        box = drawing.bounding_box()
        assert box is not None
        assert box["x"] >= 0
        assert box["x"] + box["width"] <= viewport["width"]
        assert box["height"] > 100
    assert page.locator("circle.inside").count() == 95
    assert page.locator("polygon.outside").count() == 22
    page.get_by_text("Every sale as a table").click()
    page.get_by_role("cell", name="P-0119").wait_for()


def test_labels_of_a_drawing_stay_inside_it_on_a_phone(open_page: Open, now: datetime) -> None:
    records.fit_with(records.record_of(records.sold(40, at=now), misses=2), at=now)
    page = open_page(Role.OWNER)
    page.goto("/track-record/")
    for drawing in page.locator("svg.drawing").all():
        frame = drawing.bounding_box()
        for label in drawing.locator("text").all():
            box = label.bounding_box()
            assert frame is not None
            assert box is not None
            assert box["x"] >= frame["x"] - 1
            assert box["x"] + box["width"] <= frame["x"] + frame["width"] + 1
            assert box["y"] + box["height"] <= frame["y"] + frame["height"] + 1
