"""Terms, what the consignor is asked, and what the consignor asks, through the API."""

from collections.abc import Callable
from typing import Any

import pytest
from rest_framework.test import APIClient

from inventory.models import Charge, ConsentAnswer, Consignment, LienQuote
from inventory.rules.states import State
from tests.api import rows
from tests.api.conftest import said, url

pytestmark = pytest.mark.django_db

TERMS: dict[str, Any] = {
    "plan_kind": "percent", "rate": "9", "starts_on": "2026-01-01", "ends_on": "2027-06-01",
    "maximum": "5000.00", "commission_base": "effective", "exclusivity": "open", "renewal_days": 90,
    "protection_days": 60, "step_downs": [{"days": 30, "ask": "46000.00"}, {"days": 60, "ask": "44000.00"}],
    "consent_below": "47000.00", "convey_from": "20000.00", "storage_per_day": "5.00", "storage_free_days": 7,
    "charge_rules": [
        {"kind": "repair", "borne_by": "consignor", "cap": "200.00"},
        {"kind": "detail", "borne_by": "lot", "cap": None},
    ],
    "withdrawal_fee": "250.00", "forfeit_percent": "50", "insurance": "The lot insures it.",
    "photos_allowed": True, "test_drives_allowed": False,
    "payees": [{"name": "Ada Fenwick", "percent": "60"}, {"name": "Cy Aldous", "percent": "40"}],
    "title_protection_note": "filing 77",
}  # fmt: skip
SIGNED = {"signed_by": "Ada Fenwick", "signed_on": "2026-01-01"}
LISTS = {
    "forfeit_percent": "50.000",
    "payees": [{"name": "Ada Fenwick", "percent": "60.000"}, {"name": "Cy Aldous", "percent": "40.000"}],
}
BY_PHONE = {"agreed": True, "given_by": "Ada Fenwick", "how": "by phone"}
REPAIR = {"kind": "charge", "amount": "240.00", "what": "new brake hoses", "charge_kind": "repair", "vendor": "Tarn"}


def made(answer: Any) -> dict[str, Any]:
    assert answer.status_code == 201, answer.content
    body: dict[str, Any] = answer.json()
    return body


def test_all_of_the_terms_come_back_as_given(as_owner: APIClient, stay: Callable[..., Consignment]) -> None:
    shown = made(as_owner.post(url(stay(State.ON_LOT), "terms/"), TERMS))
    assert {name: shown[name] for name in TERMS if name != "rate"} == {
        name: value for name, value in (TERMS | LISTS).items() if name != "rate"
    }
    assert (shown["number"], shown["accepted"], shown["in_effect"]) == (1, False, True)


def test_proposed_terms_take_effect_with_the_answer(as_owner: APIClient, stay: Callable[..., Consignment]) -> None:
    built = stay(State.ON_LOT)
    made(as_owner.post(url(built, "terms/"), TERMS | SIGNED))
    proposal = made(as_owner.post(url(built, "terms/"), TERMS | {"rate": "8"}))
    assert (proposal["accepted"], proposal["in_effect"]) == (False, False)
    asked = made(as_owner.post(url(built, "consent-requests/"), {"kind": "terms"}))
    assert (asked["terms"], asked["answer"]) == (2, None)
    assert "in place of version 1" in asked["text"]
    answered = made(as_owner.post(url(built, f"consent-requests/{asked['id']}/answer/"), BY_PHONE))
    assert (answered["answer"]["result"], answered["answer"]["text"]) == ("agreed", asked["text"])
    listed = as_owner.get(url(built, "terms/")).json()["results"]
    assert [(row["number"], row["accepted"], row["in_effect"]) for row in listed] == [(2, True, True), (1, True, False)]


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"step_downs": [{"days": 0, "ask": "1.00"}]}, "step_downs.0.days"),
        ({"step_downs": [{"days": 9, "ask": "5.00"}, {"days": 8, "ask": "4.00"}]}, "step_downs"),
        ({"charge_rules": [{"kind": "repair", "borne_by": "nobody"}]}, "charge_rules.0.borne_by"),
        ({"charge_rules": [{"kind": "storage", "borne_by": "lot"}]}, "charge_rules"),
        ({"payees": [{"name": "Ada", "percent": "60"}]}, "payees"), ({"renewal_days": 0}, "renewal_days"),
        ({"payees": [{"name": "Ada", "share": "100"}]}, "payees.0.share"),
        ({"forfeit_percent": "101"}, "forfeit_percent"),
    ],
)  # fmt: skip
def test_terms_that_contradict_themselves_name_their_field(
    as_owner: APIClient, stay: Callable[..., Consignment], change: dict[str, Any], field: str
) -> None:
    answer = as_owner.post(url(stay(State.ON_LOT), "terms/"), TERMS | change)
    assert answer.status_code == 400, answer.content
    assert field in {error["field"] for error in answer.json()["errors"]}


def test_charge_beyond_its_cap_is_charged_when_agreed_to(as_owner: APIClient, stay: Callable[..., Consignment]) -> None:
    built = stay(State.ON_LOT)
    made(as_owner.post(url(built, "terms/"), TERMS | SIGNED))
    charge = {"kind": "repair", "what": "new brake hoses", "amount": "240.00", "agreed_by": "Ada Fenwick"}
    assert said(as_owner.post(url(built, "charges/"), charge))["code"] == "consent_needed"
    asked = made(as_owner.post(url(built, "consent-requests/"), REPAIR))
    assert not Charge.objects.exists()
    made(as_owner.post(url(built, f"consent-requests/{asked['id']}/answer/"), BY_PHONE))
    shown = as_owner.get(url(built, "charges/")).json()["results"][0]
    assert (shown["amount"], shown["vendor"], shown["consent_request"]) == ("240.00", "Tarn", asked["id"])
    again = as_owner.post(url(built, f"consent-requests/{asked['id']}/answer/"), BY_PHONE)
    assert (again.status_code, said(again)["code"]) == (400, "answered_already")


def test_question_taken_back_or_of_another_stay_is_not_answered(
    as_owner: APIClient, stay: Callable[..., Consignment]
) -> None:
    one, other = stay(State.ON_LOT), stay(State.ON_LOT)
    asked = rows.asked_consent(one).pk
    for rest in ("answer", "take-back"):
        body = BY_PHONE if rest == "answer" else {}
        assert as_owner.post(url(other, f"consent-requests/{asked}/{rest}/"), body).status_code == 404
    taken = made(as_owner.post(url(one, f"consent-requests/{asked}/take-back/"), {}))
    assert taken["answer"]["result"] == "taken_back"
    assert as_owner.post(url(one, f"consent-requests/{asked}/answer/"), BY_PHONE).status_code == 400
    assert ConsentAnswer.objects.count() == 1


def test_storage_is_charged_by_the_terms_once(as_owner: APIClient, stay: Callable[..., Consignment]) -> None:
    """It ended ten days before yesterday, so eleven days at 5.00: 55.00, by hand."""
    built = stay(State.ON_LOT)
    rows.long_over(built)
    shown = made(as_owner.post(url(built, "charges/storage/"), {}))
    assert (shown["kind"], shown["amount"], shown["stands"]) == ("storage", "55.00", True)
    assert said(as_owner.post(url(built, "charges/storage/"), {}))["code"] == "no_storage"


def test_lien_quote_is_kept_and_one_that_ends_before_it_was_given_is_not(
    as_owner: APIClient, stay: Callable[..., Consignment]
) -> None:
    built = stay(State.ON_LOT)
    quote = {"holder": "Tarn Valley", "amount": "900.00", "quoted_on": "2026-01-05", "per_day": "1.25"}
    assert made(as_owner.post(url(built, "lien-quotes/"), quote))["per_day"] == "1.25"
    assert as_owner.post(url(built, "lien-quotes/"), quote | {"good_until": "2026-01-04"}).status_code == 400
    assert LienQuote.objects.count() == 1


def test_consignors_question_is_answered_once(as_sales: APIClient, stay: Callable[..., Consignment]) -> None:
    built, other = stay(), stay()
    asked = rows.asked_by_consignor(built).pk
    answer = {"text": "It is dry."}
    assert as_sales.post(url(other, f"consignor-questions/{asked}/answer/"), answer).status_code == 404
    shown = made(as_sales.post(url(built, f"consignor-questions/{asked}/answer/"), answer))
    assert (shown["answer"]["text"], shown["answer"]["by"]) == ("It is dry.", "sales program")
    assert said(as_sales.post(url(built, f"consignor-questions/{asked}/answer/"), answer))["code"] == "answered_already"
