"""The ask, offers, deposits and sales through the API: what is refused writes nothing."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from rest_framework.test import APIClient

from inventory.models import Consent, Consignment, Deal, LogEntry, SaleOutcome
from inventory.rules.states import State
from tests.api import rows
from tests.api.conftest import NOW, said, url

pytestmark = pytest.mark.django_db

SALE = {"price": "48500.00", "buyer": "Bo Larkin"}
LATER = (NOW.date() + timedelta(days=20)).isoformat()
CONSENT = {"given_by": "Ada Fenwick", "how": "by phone", "text": "I agree to 29,000."}


def nothing_changed(stay: Consignment, logged: int) -> None:
    state, version = stay.state, stay.version
    stay.refresh_from_db()
    assert (stay.state, stay.version) == (state, version)
    assert LogEntry.objects.count() == logged


def refused(client: APIClient, stay: Consignment, rest: str, body: Any, status: int = 400) -> tuple[str, str]:
    logged, deals = LogEntry.objects.count(), Deal.objects.count()
    answer = client.post(url(stay, rest), body)
    assert answer.status_code == status, answer.content
    nothing_changed(stay, logged)
    assert Deal.objects.count() == deals
    return said(answer)["code"], said(answer)["field"]


def test_sale_answers_with_the_outcome(as_sales: APIClient, stay: Callable[..., Consignment]) -> None:
    answer = as_sales.post(url(stay(), "sale/"), SALE | {"channel": "online", "concessions": "250.00"})
    assert answer.status_code == 201, answer.content
    made = answer.json()
    assert (made["result"], made["price"], made["effective_price"]) == ("sold", "48500.00", "48250.00")
    assert (made["channel"], made["arms_length"], made["first_ask"]) == ("online", True, "48500.00")


def test_sale_to_the_buyer_with_the_deposit_needs_no_price(
    as_sales: APIClient, stay: Callable[..., Consignment]
) -> None:
    answer = as_sales.post(url(stay(State.DEPOSIT), "sale/"), {})
    assert (answer.status_code, answer.json()["price"]) == (201, "48500.00")


def test_sale_below_the_floor_needs_consent(as_owner: APIClient, stay: Callable[..., Consignment]) -> None:
    built = stay()
    low = {"price": "29000.00", "buyer": "Bo Larkin"}
    assert refused(as_owner, built, "sale/", low) == ("below_floor", "price")
    answer = as_owner.post(url(built, "sale/"), low | {"consent": CONSENT})
    assert (answer.status_code, answer.json()["price"]) == (201, "29000.00")
    assert Consent.objects.get().text == "I agree to 29,000."


def test_sales_staff_need_an_accepted_offer_below_the_ask(
    as_sales: APIClient, as_owner: APIClient, stay: Callable[..., Consignment]
) -> None:
    built = stay()
    offer = as_sales.post(url(built, "offers/"), {"amount": "45000.00", "bidder": "Bo Larkin"}).json()
    sale = {"price": "45000.00", "buyer": "Bo Larkin", "offer": offer["id"]}
    built.refresh_from_db()
    assert refused(as_sales, built, "sale/", sale) == ("price_not_agreed", "price")
    accepted = as_owner.post(url(built, f"offers/{offer['id']}/answers/"), {"answer": "accepted"})
    assert accepted.status_code == 201
    assert as_sales.post(url(built, "sale/"), sale).status_code == 201
    deal = as_sales.get(url(built, "deals/")).json()["results"][0]
    assert (deal["offer"], deal["end"], deal["trade_allowance"]) == (offer["id"], "sold", "0.00")


@pytest.mark.parametrize(
    ("state", "rest", "body"),
    [
        (State.ON_LOT, "listing/", {}), (State.ON_LOT, "sale/", SALE),
        (State.ON_LOT, "deposit/", SALE | {"deposit": "100.00", "hold_until": LATER}),
        (State.SOLD, "sale/", SALE), (State.SOLD, "withdrawal/", {"reason": "price"}),
        (State.LISTED, "unwinding/", {"reason": "x"}), (State.LISTED, "deal-end/", {"reason": "x"}),
        (State.SOLD, "deal-end/", {"reason": "x"}), (State.LISTED, "release/", {"signed_for_by": "Ada"}),
        (State.LISTED, "title-sent/", {}), (State.LISTED, "settlement/", {"expected_due": "1.00"}),
        (State.RELEASED, "withdrawal/", {"reason": "price"}),
    ],
)  # fmt: skip
def test_move_the_table_does_not_have_is_400(
    as_owner: APIClient, stay: Callable[..., Consignment], state: State, rest: str, body: Any
) -> None:
    _, field = refused(as_owner, stay(state), rest, body)
    assert field == "state"


@pytest.mark.parametrize(
    ("state", "rest", "body"),
    [
        (State.LISTED, "asks/", {"ask": "50000.00"}), (State.LISTED, "sale/", SALE),
        (State.LISTED, "deposit/", SALE | {"deposit": "100.00", "hold_until": LATER}),
        (State.DEPOSIT, "deal-end/", {"reason": "x"}), (State.SOLD, "unwinding/", {"reason": "x"}),
        (State.LISTED, "withdrawal/", {"reason": "price"}), (State.WITHDRAWN, "release/", {"signed_for_by": "Ada"}),
        (State.SOLD, "settlement/", {"expected_due": "1.00"}), (State.INSPECTED, "listing/", {}),
        (
            State.ON_LOT, "terms/",
            {"plan_kind": "flat", "flat": "900.00", "starts_on": "2026-01-01", "ends_on": "2026-02-01"},
        ),
    ],
)  # fmt: skip
def test_move_at_a_stale_version_is_409_with_the_current_one(
    as_owner: APIClient, stay: Callable[..., Consignment], state: State, rest: str, body: dict[str, Any]
) -> None:
    built = stay(state)
    assert refused(as_owner, built, rest, body | {"version": built.version - 1}, 409) == ("stale_version", "version")
    answer = as_owner.post(url(built, rest), body | {"version": built.version - 1})
    assert answer.json()["current_version"] == built.version


def test_loser_of_a_race_is_told_by_whom_and_when(as_sales: APIClient, stay: Callable[..., Consignment]) -> None:
    built = stay()
    looked_at = built.version
    assert as_sales.post(url(built, "sale/"), SALE | {"version": looked_at}).status_code == 201
    answer = as_sales.post(url(built, "sale/"), SALE | {"buyer": "Eve Toll", "version": looked_at})
    assert answer.status_code == 409
    assert "sold (by sales program" in said(answer)["message"]
    assert SaleOutcome.objects.count() == 1


@pytest.mark.parametrize(
    ("rest", "body", "field"),
    [
        ("sale/", {"price": "48500.00"}, "buyer"), ("sale/", {"buyer": "Bo"}, "price"), ("sale/", {}, "price"),
        ("sale/", SALE | {"offer": 10**12}, "offer"), ("sale/", SALE | {"sold_on": "2020-01-01"}, "sold_on"),
        ("sale/", SALE | {"sold_on": "2199-01-01"}, "sold_on"), ("sale/", SALE | {"channel": "post"}, "channel"),
        ("sale/", SALE | {"consent": {"given_by": "Ada"}}, "consent.how"),
        ("sale/", SALE | {"consent": "yes"}, "consent"),
        ("sale/", SALE | {"trade_allowance": "48500.01"}, "trade_allowance"),
        ("sale/", SALE | {"concessions": "48500.00"}, "concessions"),
        ("deposit/", SALE | {"deposit": "50000.00", "hold_until": LATER}, "deposit"),
        ("deposit/", SALE | {"deposit": "100.00", "hold_until": "2020-01-01"}, "hold_until"),
        ("deposit/", SALE | {"hold_until": LATER}, "deposit"), ("withdrawal/", {"reason": "rain"}, "reason"),
        ("withdrawal/", {}, "reason"), ("asks/", {"ask": "29999.99"}, "ask"), ("asks/", {"amount": "1.00"}, "amount"),
    ],
)  # fmt: skip
def test_bad_values_name_their_field(
    as_owner: APIClient, stay: Callable[..., Consignment], rest: str, body: Any, field: str
) -> None:
    status = 404 if field == "offer" else 400
    assert refused(as_owner, stay(), rest, body, status)[1] == field


def test_listing_says_what_is_missing(as_owner: APIClient, stay: Callable[..., Consignment]) -> None:
    built = stay(State.INSPECTED)
    assert refused(as_owner, built, "listing/", {}) == ("terms_unsigned", "terms")
    rows.listable(built)
    listed = as_owner.post(url(built, "listing/"), {})
    assert (listed.status_code, listed.json()["state"], listed.json()["ask"]) == (201, "listed", "48500.00")


def test_terms_are_kept_as_given(as_owner: APIClient, stay: Callable[..., Consignment]) -> None:
    tiers = [{"up_to": "20000.00", "rate": "12"}, {"up_to": None, "rate": "8.5"}]
    body = {
        "plan_kind": "tiered", "tiers": tiers, "minimum": "500.00", "floor": "30000.00", "floor_kind": "net",
        "starts_on": "2026-01-01", "ends_on": "2026-06-01",
    }  # fmt: skip
    answer = as_owner.post(url(stay(State.ON_LOT), "terms/"), body)
    assert answer.status_code == 201, answer.content
    made = answer.json()
    assert (made["number"], made["minimum"], made["floor"], made["rate"]) == (1, "500.00", "30000.00", None)
    assert made["tiers"] == [{"up_to": "20000.00", "rate": "12.000"}, {"up_to": None, "rate": "8.500"}]


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"rate": "101"}, "rate"), ({"rate": None}, "rate"), ({"flat": "5.00"}, "flat"),
        ({"ends_on": "2025-01-01"}, "ends_on"), ({"lien_holder": "Tarn Valley"}, "lien_amount"),
        ({"plan_kind": "share"}, "plan_kind"), ({"tiers": "x"}, "tiers"),
        ({"tiers": [[None, "9"]]}, "tiers.0"), ({"tiers": [{"rate": "9"}]}, "tiers.0.up_to"), ({"floor": "0"}, "floor"),
    ],
)  # fmt: skip
def test_terms_that_cannot_be_name_their_field(
    as_owner: APIClient, stay: Callable[..., Consignment], change: dict[str, Any], field: str
) -> None:
    good = {"plan_kind": "percent", "rate": "9", "starts_on": "2026-01-01", "ends_on": "2026-06-01"}
    assert refused(as_owner, stay(State.ON_LOT), "terms/", good | change)[1] == field


def test_private_link_is_shown_once_and_revoked(as_sales: APIClient, stay: Callable[..., Consignment]) -> None:
    built = stay()
    made = as_sales.post(url(built, "link/"), {})
    assert made.status_code == 201
    assert "/status/open/" in made.json()["url"]
    assert built.links.get().digest not in made.content.decode()
    with_key = as_sales.post(url(built, "link/"), {}, headers={"Idempotency-Key": "one"})
    assert (with_key.status_code, said(with_key)["field"]) == (400, "Idempotency-Key")
    assert as_sales.delete(url(built, "link/")).status_code == 204
    assert as_sales.delete(url(built, "link/")).status_code == 404
