"""The track record: the plain sentence, its drawings and tables, and what is said where there is none."""

from collections.abc import Callable
from datetime import datetime, timedelta

import pytest
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from inventory.models import Job, PriceOpinion
from inventory.rules.roles import Role
from inventory.rules.states import State
from tests import build, records
from tests.pages.browse import text_of

pytestmark = pytest.mark.django_db
PAGE = "/track-record/"


@pytest.fixture
def now() -> datetime:
    return timezone.now()


@pytest.fixture
def signed_in(client: Client, now: datetime) -> Client:
    client.force_login(build.User.objects.get(pk=build.staff(Role.OWNER, at=now).id))
    return client


def test_no_fit_says_what_is_needed(signed_in: Client) -> None:
    page = text_of(signed_in.get(PAGE))
    assert "has not been fitted yet" in page
    assert "40 past sales" in page


def test_record_is_told_drawn_and_tabled(signed_in: Client, now: datetime) -> None:
    fit = records.fit_with(records.record_of(records.sold(60, at=now), misses=11), at=now)
    page = text_of(signed_in.get(PAGE))
    assert "Of the last 60 sales, 49 ended inside the band." in page
    assert "no alarm" in page
    assert page.count("<circle") == 49
    assert page.count('<polygon class="outside"') == 11
    assert page.count("<polyline") == 2
    assert page.count('<td data-label="Price was">outside</td>') == 11
    assert "P-0059" in page
    for said in ("Median ratio", "COD", "PRD", "PRB", "IAAO", "Half of the estimates were off by less than"):
        assert said in page
    assert "fails its own checks" not in page
    assert fit.flags == []


def test_newest_sale_stands_first_in_the_table(signed_in: Client, now: datetime) -> None:
    records.fit_with(records.record_of(records.sold(40, at=now)), at=now)
    page = text_of(signed_in.get(PAGE))
    assert page.index("P-0039") < page.index("P-0000")


def test_sales_without_a_band_are_in_the_table_and_not_in_the_drawing(signed_in: Client, now: datetime) -> None:
    records.fit_with(records.record_of(records.sold(40, at=now), silent=5), at=now)
    page = text_of(signed_in.get(PAGE))
    assert "Of the last 35 sales, 35 ended inside the band. For 5 more there was no band." in page
    assert page.count('class="reach"') == 35
    assert page.count('<td data-label="Price was">no band</td>') == 5


def test_record_without_any_band_draws_nothing_and_says_so(signed_in: Client, now: datetime) -> None:
    records.fit_with(records.record_of(records.sold(12, at=now), silent=12), at=now)
    page = text_of(signed_in.get(PAGE))
    assert "None of the last 12 sales had a band" in page
    assert 'class="reach"' not in page


def test_flagged_fit_is_said_on_the_record_on_the_book_and_on_the_desk(signed_in: Client, now: datetime) -> None:
    fit = records.fit_with(records.record_of(records.sold(40, at=now), misses=25), at=now)
    stay = build.consignment(State.INSPECTED, at=now)
    PriceOpinion.objects.create(
        consignment=stay, fit=fit, inputs={}, low=1, likely=2, high=3, coverage_percent=80, by="x", at=now
    )
    assert "the band is too narrow" in text_of(signed_in.get(PAGE))
    assert "It fails its own checks." in text_of(signed_in.get("/past-sales/"))
    desk = text_of(signed_in.get(f"/vehicles/{stay.stock_number}/price/"))
    assert "fails its own checks" in desk
    assert "the band is too narrow" in desk
    assert f"/track-record/{fit.pk}/" in desk


def test_desk_says_how_its_fit_has_done(signed_in: Client, now: datetime) -> None:
    fit = records.fit_with(records.record_of(records.sold(60, at=now), misses=11), at=now)
    stay = build.consignment(State.INSPECTED, at=now)
    PriceOpinion.objects.create(
        consignment=stay, fit=fit, inputs={}, low=1, likely=2, high=3, coverage_percent=80, by="x", at=now
    )
    desk = text_of(signed_in.get(f"/vehicles/{stay.stock_number}/price/"))
    assert "Of the last 60 sales, 49 ended inside the band." in desk
    assert "fails its own checks" not in desk


def test_desk_says_how_old_its_fit_is(signed_in: Client, now: datetime) -> None:
    records.sold(20, at=now)
    fit = records.fit_with({}, at=now - timedelta(days=9))
    stay = build.consignment(State.INSPECTED, at=now)
    PriceOpinion.objects.create(
        consignment=stay, fit=fit, inputs={}, low=1, likely=2, high=3, coverage_percent=80, by="x", at=now
    )
    path = f"/vehicles/{stay.stock_number}/price/"
    assert f"(fitted {timezone.localtime(fit.at):%Y-%m-%d}; no sale since)" in text_of(signed_in.get(path))
    build.consignment(State.WITHDRAWN, at=now)
    assert "outcomes changed since)" in text_of(signed_in.get(path))
    build.consignment(State.SOLD, at=now)
    assert "1 sale since)" in text_of(signed_in.get(path))
    build.consignment(State.SOLD, at=now)
    assert "2 sales since)" in text_of(signed_in.get(path))
    assert "There is a newer fit" not in text_of(signed_in.get(path))
    records.fit_with({}, at=now)
    assert "There is a newer fit: price it again." in text_of(signed_in.get(path))


def test_too_few_sales_and_a_fit_without_a_record_say_so(signed_in: Client, now: datetime) -> None:
    bare = records.fit_with({}, at=now)
    records.fit_with({"needed": "A track record needs 40 sales. There are 24."}, at=now)
    assert "A track record needs 40 sales. There are 24." in text_of(signed_in.get(PAGE))
    assert "made without a track record" in text_of(signed_in.get(f"{PAGE}{bare.pk}/"))


def test_each_fit_has_its_own_page_and_the_last_20_are_listed(signed_in: Client, now: datetime) -> None:
    sales = records.sold(40, at=now)
    old = records.fit_with(records.record_of(sales[:10], misses=9), at=now)
    newer = records.record_of(sales[:12])
    for _ in range(19):
        records.fit_with(newer, at=now)
    last = text_of(signed_in.get(PAGE))
    assert last.count("12 of 12") == 19
    assert '<span class="badge urgent">fails</span>' in last
    page = text_of(signed_in.get(f"{PAGE}{old.pk}/"))
    assert "Of the last 10 sales, 1 ended inside the band." in page
    assert "There is a newer fit." in page
    records.fit_with({}, at=now)
    assert f"{PAGE}{old.pk}/" not in text_of(signed_in.get(PAGE))
    assert signed_in.get(f"{PAGE}{old.pk + 1000}/").status_code == 404


def test_record_takes_as_many_queries_for_120_sales_as_for_10(
    signed_in: Client, now: datetime, django_assert_num_queries: Callable[..., CaptureQueriesContext]
) -> None:
    sales = records.sold(120, at=now)
    for count in (10, 120):
        records.fit_with(records.record_of(sales[:count]), at=now)
        with django_assert_num_queries(8):
            assert signed_in.get(PAGE).status_code == 200


def test_sales_staff_see_it_and_intake_staff_do_not(client: Client, now: datetime) -> None:
    for role, status in ((Role.SALES, 200), (Role.INTAKE, 403)):
        client.force_login(build.User.objects.get(pk=build.staff(role, at=now).id))
        assert client.get(PAGE).status_code == status
        assert (PAGE in text_of(client.get("/"))) == (status == 200)


@pytest.mark.django_db(transaction=True)
def test_button_prices_all_stock_and_says_what_it_lacks(signed_in: Client) -> None:
    page = text_of(signed_in.post("/past-sales/price-stock/", follow=True))
    job = Job.objects.get()
    assert (job.kind, job.status) == ("price_stock", "failed")
    assert "needs at least 12" in page
    assert "Pricing all stock" in page
