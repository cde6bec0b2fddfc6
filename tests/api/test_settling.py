"""Money in and out through the API, to the cent."""

from collections.abc import Callable
from decimal import Decimal

import pytest
from rest_framework.test import APIClient

from inventory.models import BuyerPayment, Consignment, Settlement
from inventory.rules.states import State
from tests import build
from tests.api import rows
from tests.api.conftest import NOW, said, url

pytestmark = pytest.mark.django_db


def test_whole_way_from_payment_to_disbursement(as_owner: APIClient, stay: Callable[..., Consignment]) -> None:
    """48,500.00 less 9 % (4,365.00) and a charge of 100.00 leave 44,035.00, by hand."""
    built = stay(State.SOLD)
    rows.charged(built)
    paid = as_owner.post(url(built, "payments/"), {"amount": "48500.00", "method": "wire"}).json()
    assert (paid["event"], paid["of"], paid["buyer"]) == ("received", None, "Bo Larkin")
    cleared = as_owner.post(url(built, f"payments/{paid['id']}/fate/"), {"event": "cleared"}).json()
    assert (cleared["of"], cleared["amount"]) == (paid["id"], "48500.00")

    draft = as_owner.get(url(built, "settlement/")).json()
    assert (draft["status"], draft["due"], draft["left_to_consignor"]) == ("draft", "44035.00", None)
    assert [line["amount"] for line in draft["lines"]] == ["48500.00", "-4365.00", "-100.00"]

    approved = as_owner.post(url(built, "settlement/"), {"expected_due": draft["due"]})
    assert approved.status_code == 201, approved.content
    assert approved.json()["lines"] == draft["lines"]
    assert (approved.json()["status"], approved.json()["left_to_consignor"]) == ("approved", "44035.00")
    assert as_owner.get(url(built, "settlement/")).json() == approved.json()

    out = {"payee_kind": "consignor", "payee": "Ada Fenwick", "amount": "44035.01", "method": "wire"}
    too_much = as_owner.post(url(built, "disbursements/"), out)
    assert (too_much.status_code, said(too_much)["code"], said(too_much)["field"]) == (400, "more_than_owed", "amount")
    assert as_owner.post(url(built, "disbursements/"), out | {"amount": "44035.00"}).status_code == 201
    assert as_owner.get(url(built, "settlement/")).json()["left_to_consignor"] == "0.00"


def test_approval_of_another_amount_than_the_draft_is_refused(
    as_owner: APIClient, stay: Callable[..., Consignment]
) -> None:
    built = stay(State.SOLD)
    build.pay_in_full(built, at=NOW)
    answer = as_owner.post(url(built, "settlement/"), {"expected_due": "44135.01"})
    assert (answer.status_code, said(answer)["code"]) == (400, "draft_changed")
    assert not Settlement.objects.exists()
    missing = as_owner.post(url(built, "settlement/"), {})
    assert (missing.status_code, said(missing)["field"]) == (400, "expected_due")
    built.refresh_from_db()
    assert built.state == State.SOLD


def test_approval_waits_for_cleared_money(as_owner: APIClient, stay: Callable[..., Consignment]) -> None:
    answer = as_owner.post(url(stay(State.SOLD), "settlement/"), {"expected_due": "44135.00"})
    assert (answer.status_code, said(answer)["code"]) == (400, "money_not_cleared")


def test_there_is_no_settlement_before_a_sale(as_owner: APIClient, stay: Callable[..., Consignment]) -> None:
    built = stay(State.LISTED)
    assert as_owner.get(url(built, "settlement/")).status_code == 404
    body = {"payee_kind": "consignor", "payee": "Ada", "amount": "1.00", "method": "wire"}
    answer = as_owner.post(url(built, "disbursements/"), body)
    assert (answer.status_code, said(answer)["code"]) == (404, "not_approved")


def test_payment_above_what_is_owed_is_refused(as_sales: APIClient, stay: Callable[..., Consignment]) -> None:
    built = stay(State.SOLD)
    answer = as_sales.post(url(built, "payments/"), {"amount": "48500.01"})
    assert (answer.status_code, said(answer)["field"]) == (400, "amount")
    assert not BuyerPayment.objects.exists()


def test_payment_clears_once(as_owner: APIClient, stay: Callable[..., Consignment]) -> None:
    built = stay(State.SOLD)
    fate = url(built, f"payments/{rows.received(built).pk}/fate/")
    assert as_owner.post(fate, {"event": "bounced"}).status_code == 201
    assert as_owner.post(fate, {"event": "cleared"}).status_code == 400
    assert as_owner.post(fate, {"event": "received"}).status_code == 400
    assert BuyerPayment.objects.count() == 2


def test_charge_is_set_aside_and_both_stay(as_owner: APIClient, stay: Callable[..., Consignment]) -> None:
    built = stay(State.LISTED)
    charge = rows.charged(built)
    aside = as_owner.post(url(built, f"charges/{charge.pk}/set-aside/"), {"reason": "billed twice"})
    assert (aside.json()["sets_aside"], aside.json()["stands"]) == (charge.pk, False)
    again = as_owner.post(url(built, f"charges/{charge.pk}/set-aside/"), {"reason": "billed twice"})
    assert (again.status_code, said(again)["code"]) == (400, "done_already")
    listed = as_owner.get(url(built, "charges/")).json()["results"]
    assert [(row["amount"], row["stands"]) for row in listed] == [("100.00", False), ("100.00", False)]


def test_consignor_pays_the_charges_of_a_withdrawn_vehicle(
    as_sales: APIClient, stay: Callable[..., Consignment]
) -> None:
    built = stay(State.WITHDRAWN)
    rows.charged(built)
    leave = {"signed_for_by": "Ada Fenwick"}
    assert said(as_sales.post(url(built, "release/"), leave))["code"] == "charges_unpaid"
    paid = as_sales.post(url(built, "consignor-payments/"), {"amount": "100.00", "method": "cash"})
    assert (paid.status_code, Decimal(paid.json()["amount"])) == (201, Decimal(100))
    assert as_sales.post(url(built, "release/"), leave).json()["state"] == "released"
