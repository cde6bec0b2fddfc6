"""The stock screen: who may open it, what it says where nothing can be said, its search and its order."""

from datetime import datetime
from decimal import Decimal

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from inventory.rules.roles import Actor
from inventory.rules.states import State
from tests import build
from tests.pages.browse import sign_in, text_of, url
from tests.queries.test_stock import fitted, listed, raised

pytestmark = pytest.mark.django_db
LONG = "Wilhelmina van der Brocklehurst-Featherstonehaugh of Upper Netherby-under-Wold"


@pytest.fixture
def now() -> datetime:
    return timezone.now()


def page(client: Client, actor: Actor, query: str = "") -> str:
    response = sign_in(client, actor).get(f"/stock/{query}")
    assert response.status_code == 200
    return text_of(response)


def test_owner_sees_the_figures_and_their_bar(client: Client, owner: Actor, now: datetime) -> None:
    stay = listed(fitted(now), consignor_name=LONG)
    said = page(client, owner)
    for part in (f'href="{url(stay, "pricing_desk")}"', LONG, "$44,000", "of likely", "Lost by waiting 30 days",
                 'aria-label="The ask lies inside the band."', "best ask $"):  # fmt: skip
        assert part in said
    assert "about " in said


def test_sales_may_see_the_stock_and_find_it_in_the_navigation(client: Client, sales: Actor, now: datetime) -> None:
    assert '<a href="/stock/">Stock</a>' in page(client, sales)


def test_intake_is_refused_and_not_led_there(client: Client, intake: Actor) -> None:
    assert sign_in(client, intake).get("/stock/").status_code == 403
    assert "/stock/" not in text_of(client.get("/"))


def test_stranger_is_asked_to_sign_in(client: Client) -> None:
    assert client.get("/stock/").status_code == 302


def test_empty_lot_says_what_to_do(client: Client, owner: Actor) -> None:
    said = page(client, owner)
    assert "Nothing is for sale yet." in said
    assert "<table" not in said


def test_thin_lot_says_what_is_missing(client: Client, owner: Actor, now: datetime) -> None:
    listed(fitted(now, state={}))
    said = page(client, owner)
    assert "What may come of an ask cannot be said yet" in said
    assert "The lot has too few past stays: see above." in said
    assert "in all" not in said  # no sum is made up


def test_held_vehicle_is_marked(client: Client, owner: Actor, now: datetime) -> None:
    listed(fitted(now), state=State.DEPOSIT)
    said = page(client, owner)
    assert '<span class="badge">held</span>' in said
    assert "Lost by waiting" not in said


def test_vehicle_without_opinion_says_why(client: Client, owner: Actor, now: datetime) -> None:
    fitted(now)
    build.consignment(State.LISTED, at=now)
    assert "It has no price opinion yet: price it on its pricing desk." in page(client, owner)


def test_search_keeps_the_order_and_says_that_it_narrows(client: Client, owner: Actor, now: datetime) -> None:
    fit = fitted(now)
    shown, hidden = listed(fit, model="Alder"), listed(fit, model="Brisling")
    said = page(client, owner, "?q=alder&order=chance")
    assert shown.stock_number in said
    assert hidden.stock_number not in said
    assert '<input type="hidden" name="order" value="chance">' in said
    assert 'href="?order=ratio&amp;q=alder"' in said
    assert "Only what fits “alder” is shown and summed." in said


def test_search_that_finds_nothing_says_so(client: Client, owner: Actor, now: datetime) -> None:
    listed(fitted(now))
    assert "No vehicle fits." in page(client, owner, "?q=zeppelin")


def test_search_is_written_back_harmlessly(client: Client, owner: Actor, now: datetime) -> None:
    listed(fitted(now))
    assert "<b>" not in page(client, owner, "?q=%3Cb%3E%26x").replace("<b>$", "")


def test_unknown_order_is_told(client: Client, owner: Actor, now: datetime) -> None:
    listed(fitted(now))
    assert "shiny is not one of the available choices" in page(client, owner, "?order=shiny")


def test_order_is_followed(client: Client, owner: Actor, now: datetime) -> None:
    fit = fitted(now)
    usual, dear = listed(fit), raised(fit, to="60000.00", at=now)
    said = page(client, owner, "?order=ratio")
    assert said.index(dear.stock_number) < said.index(usual.stock_number)
    assert 'aria-current="true">Ask ratio' in said


def test_queries_are_as_many_for_4_as_for_1(client: Client, owner: Actor, now: datetime) -> None:
    fit = fitted(now)
    signed_in, counted = sign_in(client, owner), []
    page(client, owner)  # the first request of a session asks more
    for count in (1, 3):
        for number in range(count):
            listed(fit, price=str(Decimal(40000) + 1000 * number))
        with CaptureQueriesContext(connection) as captured:
            signed_in.get("/stock/")
        counted.append(len(captured))
    assert counted[0] == counted[1]
