"""The asks on the pricing desk: who sees them, what is shown, and what is kept with an ask that is set."""

import json
import re
from collections.abc import Callable
from datetime import datetime, timedelta
from decimal import Decimal
from html import unescape

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from inventory.actions import agreeing, asking, offering, pricing
from inventory.models import AskChange, Consignment, ModelFit
from inventory.queries import ask_desk
from inventory.rules.roles import Role
from inventory.rules.states import State
from tests import askings, build

pytestmark = pytest.mark.django_db
BY = build.BUILDER
LONG = "Wilhelmina-Constance " * 5


@pytest.fixture
def now() -> datetime:
    return timezone.now()


@pytest.fixture
def stay(now: datetime) -> Consignment:
    askings.fitted(now)
    stay = build.consignment(State.LISTED, at=now - timedelta(days=30), price="42000.00")
    pricing.give_opinion(stay.pk, by=BY, at=now)
    stay.refresh_from_db()
    return stay


@pytest.fixture
def enter(client: Client, now: datetime) -> Callable[[Role], Client]:
    def entered(role: Role) -> Client:
        build.staff(role, at=now)
        client.login(username=f"the-{role.value}", password=build.PASSWORD)
        return client

    return entered


def url(stay: Consignment, rest: str = "") -> str:
    return f"/vehicles/{stay.stock_number}/price/{rest}"


def suggested(stay: Consignment, **view: object) -> Decimal:
    here = ask_desk.situation_of(stay, fit=ModelFit.objects.last(), today=timezone.localdate())
    found = ask_desk.curve_of(here, view=ask_desk.replace(here.usual, **view)).suggestion  # type: ignore[arg-type]
    assert found is not None
    return found.ask


def test_owner_and_sales_see_the_curve_and_only_the_owner_may_use_the_suggestion(
    enter: Callable[[Role], Client], stay: Consignment
) -> None:
    for role, uses in ((Role.OWNER, 1), (Role.SALES, 0)):
        page = enter(role).get(url(stay)).content.decode()
        assert "What may come of an ask" in page
        assert page.count(">Use it</a>") == uses
        assert page.count("<svg") >= 5
        assert '<strong class="line">suggested</strong>' in page
        assert '<strong class="line">ask now</strong>' in page
        assert "As a settlement of today would say it" in page


def test_intake_is_refused(enter: Callable[[Role], Client], stay: Consignment) -> None:
    assert enter(Role.INTAKE).get(url(stay)).status_code == 403


def test_slider_has_a_sentence_for_each_row_of_the_table(enter: Callable[[Role], Client], stay: Consignment) -> None:
    page = enter(Role.OWNER).get(url(stay)).content.decode()
    given = re.search(r'data-points="([^"]*)"', page)
    assert given is not None
    points = json.loads(unescape(given[1]))
    assert f'max="{len(points) - 1}"' in page
    assert page.count('<th scope="row">$') == len(points)
    assert all(point["said"].startswith(f"At {point['ask']}") and len(point["at"]) == 3 for point in points)


def test_thin_lot_is_told_with_counts_and_can_still_set_an_ask(enter: Callable[[Role], Client], now: datetime) -> None:
    askings.fitted(now, selling=askings.thin_selling())
    stay = build.consignment(State.LISTED, at=now, price="42000.00")
    pricing.give_opinion(stay.pk, by=BY, at=now)
    client = enter(Role.OWNER)
    page = client.get(url(stay)).content.decode()
    assert "20 that ended and 12 sold are needed" in page
    assert "data-curve" not in page
    stay.refresh_from_db()
    assert client.post(url(stay, "ask/"), {"ask": "41000", "version": stay.version}).status_code == 302
    assert AskChange.objects.latest("pk").suggested is None


def test_ask_that_departs_needs_a_reason_and_keeps_the_suggestion(
    enter: Callable[[Role], Client], stay: Consignment
) -> None:
    client, amount = enter(Role.OWNER), suggested(stay)
    given = {"ask": str(amount * Decimal("0.9")), "version": stay.version}
    refused = client.post(url(stay, "ask/"), given)
    assert refused.status_code == 422
    assert "is not the suggested" in refused.content.decode()
    assert client.post(url(stay, "ask/"), given | {"reason": "a buyer is near"}).status_code == 302
    kept = AskChange.objects.latest("pk")
    assert (kept.suggested, kept.objective, kept.reason) == (amount, "consignor_net", "a buyer is near")
    assert set(kept.expected["chance"]) == {"30", "60", "90", "end"}
    assert Decimal(kept.expected["net"]) > 0


def test_suggestion_is_reckoned_again_by_the_view_that_was_shown(
    enter: Callable[[Role], Client], stay: Consignment
) -> None:
    client, view = enter(Role.OWNER), {"objective": "sell_by", "chance": "85"}
    amount = suggested(stay, objective=ask_desk.Objective.SELL_BY, target_percent=85)
    assert amount != suggested(stay)
    page = client.get(url(stay), {**view, "ask": str(amount)}).content.decode()
    assert f'value="{amount:,.2f}"' in page
    assert '<input type="hidden" name="objective" value="sell_by"' in page
    given = {**view, "ask": str(amount), "version": stay.version, "suggested": "1.00", "expected": "{}"}
    assert client.post(url(stay, "ask/"), given).status_code == 302
    kept = AskChange.objects.latest("pk")
    assert (kept.suggested, kept.objective) == (amount, "sell_by")


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"lower_to": "90"}, "after how many days"), ({"after_days": "9"}, "to how many percent"),
        ({"lower_to": "100", "after_days": "9"}, "99"), ({"lower_to": "90", "after_days": "200"}, "are left"),
        ({"objective": "fame"}, "fame"), ({"cost": "-1"}, "is negative"), ({"chance": "99"}, "95"),
        ({"offer": "0"}, "above zero"), ({"offer": "12k"}, "12k"), ({"ask": "x"}, "x"),
    ],
)  # fmt: skip
def test_setting_that_cannot_be_is_told_and_the_lots_own_is_shown(
    enter: Callable[[Role], Client], stay: Consignment, given: dict[str, str], said: str
) -> None:
    answer = enter(Role.OWNER).get(url(stay), given)
    assert answer.status_code == 422
    page = answer.content.decode()
    assert said in page
    assert "data-curve" in page


def test_hidden_setting_that_was_tampered_with_is_refused(enter: Callable[[Role], Client], stay: Consignment) -> None:
    given = {"ask": "41000", "version": stay.version, "objective": "fame", "reason": "x"}
    answer = enter(Role.OWNER).post(url(stay, "ask/"), given)
    assert answer.status_code == 422
    assert AskChange.objects.count() == 1


def test_offers_are_weighed_and_one_below_the_floor_says_so(
    enter: Callable[[Role], Client], stay: Consignment, now: datetime
) -> None:
    offering.log_offer(stay.pk, amount=Decimal("29000.00"), bidder=LONG.strip(), by=BY, at=now)
    page = enter(Role.SALES).get(url(stay), {"offer": "35,000"}).content.decode()
    assert f"Offer of {LONG.strip()}: $29,000.00" in page
    assert "An offer, supposed: $35,000.00" in page
    assert page.count("taking it needs the consignor's consent") == 1
    assert page.count("It is arithmetic on chances, and decides nothing") == 1


def test_stale_lien_quote_is_told_on_the_page(
    enter: Callable[[Role], Client], stay: Consignment, now: datetime
) -> None:
    then = now - timedelta(days=20)
    lien = {
        "lien_holder": "Tarn Credit Union", "lien_amount": Decimal("9000.00"), "floor_kind": "net",
        "lien_quoted_on": build.trade_day(then), "lien_good_until": build.trade_day(then) + timedelta(days=5),
    }  # fmt: skip
    agreeing.agree_terms(stay.pk, terms=build.terms(then, **lien), by=BY, at=then)
    answer = enter(Role.OWNER).get(url(stay))
    assert answer.status_code == 200
    assert "Tarn Credit Union" in answer.content.decode()
    assert "No ask is suggested" in answer.content.decode()


def test_queries_of_the_desk_do_not_grow(enter: Callable[[Role], Client], stay: Consignment, now: datetime) -> None:
    client = enter(Role.OWNER)

    def count() -> int:
        with CaptureQueriesContext(connection) as seen:
            assert client.get(url(stay)).status_code == 200
        return len(seen)

    count()
    before = count()
    for more in range(8):
        asking.set_ask(stay.pk, amount=Decimal(41000 - more * 100), by=BY, at=now)
        offering.log_offer(stay.pk, amount=Decimal(31000 + more), bidder="Bo Larkin", by=BY, at=now)
        pricing.give_opinion(stay.pk, by=BY, at=now)
    assert count() == before
