"""Other people's money through the API: the trust account, a statement taken back, money off, taxes and fees."""

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from rest_framework.test import APIClient

from inventory.actions import agreeing, trusting
from inventory.api.serializers.base import Amount
from inventory.models import Consignment, Disbursement
from inventory.queries.trust import COLUMNS
from inventory.rules.states import State
from tests import build
from tests.api import rows
from tests.api.conftest import NOW, said, url
from tests.api.test_consenting import made

pytestmark = pytest.mark.django_db

HELD = {"48500.00": "bank", "44135.00": "consignor_held", "4365.00": "lot_takes"}  # 9 % of 48,500.00 is 4,365.00


def test_sum_of_the_largest_amounts_is_told_whole() -> None:
    largest = Decimal("9999999999.99")  # what one column of money holds
    assert Amount().to_representation(largest * 100_000) == "999999999999000.00"


def test_trust_report_says_what_is_held_for_whom(as_owner: APIClient, stay: Callable[..., Consignment]) -> None:
    built = stay(State.SETTLED)
    report = as_owner.get("/api/v1/trust/").json()
    assert (report["balance"], report["difference"], report["bank"]) == (None, None, "48500.00")
    row = report["rows"][0]
    assert (row["stock_number"], row["consignor"]) == (built.stock_number, "Ada Fenwick")
    assert {amount: name for name, amount in row.items() if amount in HELD} == HELD
    assert report["totals"] == {name: row[name] for name in COLUMNS}
    made(as_owner.post("/api/v1/trust/balances/", {"amount": "48500.01"}))
    made(as_owner.post("/api/v1/trust/balances/", {"amount": "-12.00", "on": "2026-01-01"}))
    again = as_owner.get("/api/v1/trust/").json()
    assert (again["balance"]["amount"], again["difference"], again["explained_by"]) == ("48500.01", "0.01", [])
    before = as_owner.get("/api/v1/trust/?on=2026-01-02").json()
    assert (before["rows"], before["difference"]) == ([], "-12.00")


@pytest.mark.parametrize(("query", "field"), [("on=2199-01-01", "on"), ("on=soon", "on"), ("day=2026-01-01", "day")])
def test_trust_report_of_no_day_is_refused(as_owner: APIClient, query: str, field: str) -> None:
    answer = as_owner.get(f"/api/v1/trust/?{query}")
    assert (answer.status_code, said(answer)["field"]) == (400, field)


def test_trust_report_asks_as_often_with_3_stays_as_with_1(
    as_owner: APIClient, stay: Callable[..., Consignment]
) -> None:
    stay(State.SOLD)
    with CaptureQueriesContext(connection) as few:
        as_owner.get("/api/v1/trust/")
    for _ in range(2):
        stay(State.SOLD)
    with CaptureQueriesContext(connection) as many:
        assert len(as_owner.get("/api/v1/trust/").json()["rows"]) == 3
    assert len(few) == len(many)


def test_balances_ask_as_often_with_9_rows_as_with_3(as_owner: APIClient) -> None:
    asked = []
    for _ in range(3):
        for _ in range(3):
            trusting.enter_balance(amount=Decimal(100), **rows.DEED)
        with CaptureQueriesContext(connection) as captured:
            found = as_owner.get("/api/v1/trust/balances/").json()["count"]
        asked.append((len(captured), found))
    assert asked == [(asked[0][0], 3), (asked[0][0], 6), (asked[0][0], 9)]


def test_lot_takes_no_more_than_it_earned(as_owner: APIClient, stay: Callable[..., Consignment]) -> None:
    built = stay(State.SETTLED)
    out = {"kind": "to_lot", "amount": "4365.01", "method": "wire"}
    assert said(as_owner.post(url(built, "trust-movements/"), out))["code"] == "more_than_there"
    made(as_owner.post(url(built, "trust-movements/"), out | {"amount": "4365.00"}))
    ledger = as_owner.get(url(built, "ledger/")).json()
    assert (ledger["standing"]["lot"], ledger["standing"]["consignor"], ledger["is_closed"]) == (
        "0.00", "-44135.00", False,
    )  # fmt: skip
    sums = [sum(Decimal(line["amount"]) for line in posting["lines"]) for posting in ledger["postings"]]
    assert (len(sums), set(sums)) == (4, {Decimal(0)})  # paid, sold, stated, taken out
    assert "trust.moved" in {row["action"] for row in as_owner.get(url(built, "log/")).json()["results"]}


def test_statement_is_taken_back_and_approved_anew(as_owner: APIClient, stay: Callable[..., Consignment]) -> None:
    built = stay(State.SETTLED)
    first = as_owner.get(url(built, "settlement/")).json()
    assert first["payees"] == [
        {"kind": "consignor", "name": "Ada Fenwick", "amount": "44135.00", "left": "44135.00"}
    ]  # fmt: skip
    back = made(as_owner.post(url(built, "settlement/reverse/"), {"reason": "the wrong terms"}))
    assert (back["status"], back["is_reversal"], back["follows"]) == ("reversal", True, first["number"])
    assert (back["due"], back["payees"]) == ("-44135.00", [])
    draft = as_owner.get(url(built, "settlement/")).json()
    assert (draft["status"], draft["follows"], draft["due"]) == ("draft", back["number"], "44135.00")
    made(as_owner.post(url(built, "settlement/"), {"expected_due": "44135.00"}))
    listed = as_owner.get(url(built, "settlement/statements/")).json()["results"]
    assert [(row["sequence"], row["due"]) for row in listed] == [(3, "44135.00"), (2, "-44135.00"), (1, "44135.00")]
    assert [row["follows"] for row in listed] == [back["number"], first["number"], ""]
    assert not Disbursement.objects.exists()


def test_draft_is_as_of_the_pay_date(as_owner: APIClient, stay: Callable[..., Consignment]) -> None:
    """900.00 quoted yesterday and 2.00 a day, paid out tomorrow: 904.00, which 44,135.00 is less by."""
    built = stay(State.SOLD)
    build.pay_in_full(built, at=NOW)
    quoted, today = timezone.localdate(NOW), timezone.localdate()
    lien = {"holder": "Tarn Valley", "amount": Decimal(900), "quoted_on": quoted, "per_day": Decimal(2)}
    agreeing.record_lien_quote(built.pk, **lien, good_until=today, by=build.BUILDER, at=NOW)  # type: ignore[arg-type]
    pay_on = (today + timedelta(days=1)).isoformat()
    draft = as_owner.get(url(built, f"settlement/?pay_on={pay_on}")).json()
    assert (draft["pay_on"], draft["due"]) == (pay_on, "43231.00")
    assert [check["is_right"] for check in draft["checks"]] == [False, True]  # the quote has run out by then
    assert [(row["name"], row["amount"]) for row in draft["payees"]] == [
        ("Tarn Valley", "904.00"), ("Ada Fenwick", "43231.00"),
    ]  # fmt: skip
    assert said(as_owner.post(url(built, "settlement/"), {"expected_due": "43231.00"}))["code"] == "draft_changed"
    approved = made(as_owner.post(url(built, "settlement/"), {"expected_due": "43231.00", "pay_on": pay_on}))
    assert (approved["pay_on"], approved["left_to_lien_holder"]) == (pay_on, "904.00")


def test_money_off_and_fees_change_what_the_deal_shows(as_owner: APIClient, stay: Callable[..., Consignment]) -> None:
    built = stay(State.LISTED)
    sale = {"price": "48500.00", "buyer": "Bo Larkin", "address": "4 Mill Lane", "concessions": "250.00"}
    made(as_owner.post(url(built, "sale/"), sale))
    tax = made(as_owner.post(url(built, "extras/"), {"kind": "sales_tax", "amount": "12.00"}))
    aside = made(as_owner.post(url(built, f"extras/{tax['id']}/set-aside/"), {}))
    assert (tax["stands"], aside["sets_aside"], aside["stands"]) == (True, tax["id"], False)
    off = made(as_owner.post(url(built, "concessions/"), {"amount": "100.00", "reason": "a scratch"}))
    assert (off["borne_by"], off["consent_request"]) == ("lot", None)
    deal = as_owner.get(url(built, "deals/")).json()["results"][0]
    assert (deal["effective_price"], deal["address"]) == ("48150.00", "4 Mill Lane")
    assert as_owner.post(url(stay(), f"extras/{tax['id']}/set-aside/"), {}).status_code == 404


def test_deposit_that_does_not_go_back_is_split_by_the_terms(
    as_owner: APIClient, stay: Callable[..., Consignment]
) -> None:
    built = stay(State.LISTED)
    agreeing.agree_terms(built.pk, terms=build.terms(NOW, forfeit_percent=Decimal(40)), by=build.BUILDER, at=NOW)
    later = (timezone.localdate() + timedelta(days=9)).isoformat()
    body = {"price": "48500.00", "buyer": "Bo Larkin", "deposit": "1000.00", "hold_until": later, "refundable": False}
    made(as_owner.post(url(built, "deposit/"), body | {"reference": "W-77"}))
    paid = as_owner.get(url(built, "payments/")).json()["results"][0]
    assert (paid["reference"], paid["is_deposit"]) == ("W-77", True)
    made(as_owner.post(url(built, f"payments/{paid['id']}/fate/"), {"event": "cleared"}))
    part = made(as_owner.post(url(built, f"payments/{paid['id']}/fate/"), {"event": "returned", "amount": "400.00"}))
    assert part["amount"] == "400.00"
    ended = made(as_owner.post(url(built, "deal-end/"), {"reason": "no loan", "deposit_fate": "kept"}))
    assert (ended["refundable"], ended["forfeited"], ended["forfeited_to_consignor"]) == (False, "600.00", "240.00")


def test_offer_keeps_its_conditions_and_its_last_day(as_sales: APIClient, stay: Callable[..., Consignment]) -> None:
    built, later = stay(), (timezone.localdate() + timedelta(days=3)).isoformat()
    offer = {"amount": "47000.00", "bidder": "Bo Larkin", "conditions": "after a road test", "expires_on": later}
    shown = made(as_sales.post(url(built, "offers/"), offer))
    assert {name: shown[name] for name in offer} == offer
    assert shown["held_back"] is False
    gone = as_sales.post(url(built, "offers/"), offer | {"expires_on": "2026-01-01"})
    assert said(gone)["field"] == "expires_on"


def test_trade_is_logged_once_as_the_lots_own(as_owner: APIClient, stay: Callable[..., Consignment]) -> None:
    built = stay(State.LISTED)
    rows.in_trade(built)
    body = {"year": 1971, "make": "Merrow", "model": "Birch", "mileage": 4000}
    own = made(as_owner.post(url(built, "trade-in/"), body))
    deal = as_owner.get(url(built, "deals/")).json()["results"][0]
    assert (deal["trade_stock_number"], own["mileage"]) == (own["stock_number"], 4000)
    assert said(as_owner.post(url(built, "trade-in/"), body))["code"] == "done_already"
