"""The ask with what was suggested, and places, through the API."""

from collections.abc import Callable
from decimal import Decimal

import pytest
from rest_framework.test import APIClient

from inventory.actions import asking
from inventory.models import Consignment, Movement
from inventory.rules.states import State
from inventory.rules.suggested import Suggested
from tests import build
from tests.api.conftest import NOW, said, url

pytestmark = pytest.mark.django_db
SUGGESTED = Suggested(
    amount=Decimal("46000.00"), objective="sell_by", because="Seven in ten sell by then.", expected={"chance": 0.7}
)


@pytest.fixture
def listed(stay: Callable[..., Consignment]) -> Consignment:
    built = stay(State.LISTED)
    asking.set_ask(
        built.pk, amount=Decimal("47000.00"), reason="as agreed", suggestion=SUGGESTED, by=build.BUILDER, at=NOW
    )
    return built


def test_asks_tell_what_was_suggested_and_what_was_expected(as_sales: APIClient, listed: Consignment) -> None:
    newest, first = as_sales.get(url(listed, "asks/")).json()["results"]
    assert (newest["ask"], newest["suggested"], newest["objective"]) == ("47000.00", "46000.00", "sell_by")
    assert (newest["suggested_because"], newest["expected"]) == ("Seven in ten sell by then.", {"chance": 0.7})
    assert (first["suggested"], first["objective"], first["expected"]) == (None, "", {})


def test_suggestion_is_told_to_nobody_who_may_not_see_the_band(as_intake: APIClient, listed: Consignment) -> None:
    newest = as_intake.get(url(listed, "asks/")).json()["results"][0]
    assert newest["ask"] == "47000.00"
    assert (newest["suggested"], newest["objective"], newest["suggested_because"], newest["expected"]) == (
        None, "", "", {},
    )  # fmt: skip
    log = as_intake.get(url(listed, "log/")).json()["results"]
    assert not [entry for entry in log if "46,000" in entry["sentence"] or entry["action"] == "opinion.suggested"]


def test_owner_sets_an_ask_and_reads_it_back_without_a_suggestion(as_owner: APIClient, listed: Consignment) -> None:
    answer = as_owner.post(url(listed, "asks/"), {"ask": "45500.00", "reason": "quiet"})
    assert answer.status_code == 201
    assert (answer.json()["ask"], answer.json()["suggested"]) == ("45500.00", None)


def test_place_may_be_one_where_it_is_not_for_sale(as_intake: APIClient, listed: Consignment) -> None:
    as_intake.post(url(listed, "places/"), {"place": "Shop", "keys": "Hook 4", "not_for_sale": True})
    as_intake.post(url(listed, "places/"), {"place": "Bay 4"})
    back, shop = as_intake.get(url(listed, "places/")).json()["results"]
    assert (back["place"], back["not_for_sale"]) == ("Bay 4", False)
    assert (shop["place"], shop["keys"], shop["not_for_sale"]) == ("Shop", "Hook 4", True)


def test_place_without_a_name_is_refused_and_not_kept(as_intake: APIClient, listed: Consignment) -> None:
    answer = as_intake.post(url(listed, "places/"), {"place": " ", "not_for_sale": True})
    assert (answer.status_code, said(answer)["field"]) == (400, "place")
    assert not Movement.objects.exists()
