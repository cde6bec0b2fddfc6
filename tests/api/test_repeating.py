"""A post sent twice with one Idempotency-Key is done once."""

import threading
from collections.abc import Callable
from typing import Any

import pytest
from django.db import connection
from rest_framework.test import APIClient

from inventory.models import Charge, Consignment, Offer, RepeatKey, SaleOutcome
from inventory.rules.roles import Role
from inventory.rules.states import State
from tests import build
from tests.api.conftest import NOW, client_of, said, url
from tests.api.test_rights import CASES, address

OFFER = {"amount": "47000.00", "bidder": "Bo Larkin"}
KEY = {"Idempotency-Key": "7d3c9c1e-0f5e-4c5b-8a0c-2a9f4f6d1b11"}
MONEY = (
    "offers", "charges", "deposit", "sale", "payments", "consignor_payments", "settlement", "disbursements",
    "trust_movements",
)  # fmt: skip


def send(client: APIClient, stay: Consignment, body: Any = OFFER, key: dict[str, str] = KEY) -> Any:
    return client.post(url(stay, "offers/"), body, headers=key)


@pytest.mark.django_db
@pytest.mark.parametrize("name", MONEY)
def test_repeat_gets_the_answer_of_the_first(name: str, stay: Callable[..., Consignment]) -> None:
    case = next(case for case in CASES if case.name == name and case.method == "post")
    built = stay(case.state)
    row = case.before(built)
    client = client_of(Role.OWNER)
    first, second = (client.post(address(name, built, row), case.body, headers=KEY) for _ in range(2))
    assert first.status_code == second.status_code == 201
    assert first.json() == second.json()
    assert "Idempotency-Replayed" not in first
    assert second["Idempotency-Replayed"] == "true"


@pytest.mark.django_db
def test_one_row_is_written_and_without_a_key_two(as_sales: APIClient, stay: Callable[..., Consignment]) -> None:
    built = stay()
    send(as_sales, built)
    send(as_sales, built)
    assert Offer.objects.count() == 1
    as_sales.post(url(built, "offers/"), OFFER)
    assert Offer.objects.count() == 2


@pytest.mark.django_db
def test_same_key_with_another_request_is_422(as_sales: APIClient, stay: Callable[..., Consignment]) -> None:
    built, other = stay(), stay()
    send(as_sales, built)
    for answer in (send(as_sales, built, OFFER | {"amount": "47000.01"}), send(as_sales, other)):
        assert answer.status_code == 422
        assert (said(answer)["code"], said(answer)["field"]) == ("key_reused", "Idempotency-Key")
    assert Offer.objects.count() == 1


@pytest.mark.django_db
def test_order_and_spacing_of_the_body_do_not_matter(as_sales: APIClient, stay: Callable[..., Consignment]) -> None:
    built = stay()
    send(as_sales, built)
    body: Any = b'{ "bidder": "Bo Larkin",\n"amount": "47000.00"}'
    spaced = as_sales.generic("POST", url(built, "offers/"), body, "application/json", headers=KEY)
    assert spaced["Idempotency-Replayed"] == "true"


@pytest.mark.django_db
def test_key_of_another_program_is_its_own(as_sales: APIClient, stay: Callable[..., Consignment]) -> None:
    built = stay()
    send(as_sales, built)
    answer = send(client_of(Role.OWNER), built)
    assert answer.status_code == 201
    assert "Idempotency-Replayed" not in answer
    assert Offer.objects.count() == 2


@pytest.mark.django_db
def test_refused_request_keeps_nothing_and_can_be_mended(as_owner: APIClient, stay: Callable[..., Consignment]) -> None:
    built = stay()
    low = {"price": "29000.00", "buyer": "Bo Larkin"}
    refused = as_owner.post(url(built, "sale/"), low, headers=KEY)
    assert (refused.status_code, said(refused)["code"]) == (400, "below_floor")
    assert not RepeatKey.objects.exists()
    mended = as_owner.post(url(built, "sale/"), low | {"price": "48500.00"}, headers=KEY)
    assert mended.status_code == 201


@pytest.mark.django_db
def test_forbidden_request_keeps_nothing(as_sales: APIClient, stay: Callable[..., Consignment]) -> None:
    body = {"kind": "repair", "what": "brakes", "amount": "1.00", "agreed_by": "Ada Fenwick"}
    assert as_sales.post(url(stay(), "charges/"), body, headers=KEY).status_code == 403
    assert not RepeatKey.objects.exists()
    assert not Charge.objects.exists()


@pytest.mark.django_db
@pytest.mark.parametrize("key", ["", "k" * 81, "clé", "a\tb"])
def test_key_that_cannot_be_is_refused(as_sales: APIClient, stay: Callable[..., Consignment], key: str) -> None:
    answer = send(as_sales, stay(), key={"Idempotency-Key": key})
    assert (answer.status_code, said(answer)["field"]) == (400, "Idempotency-Key")
    assert not Offer.objects.exists()


@pytest.mark.django_db(transaction=True)
def test_repeat_beside_the_first_waits_and_gets_its_answer() -> None:
    built = build.consignment(State.LISTED, at=NOW)
    client = client_of(Role.SALES)
    answers: list[Any] = []
    start = threading.Barrier(4)

    def sell() -> None:
        start.wait()
        try:
            body = {"price": "48500.00", "buyer": "Bo Larkin"}
            answers.append(client.post(url(built, "sale/"), body, format="json", headers=KEY))
        finally:
            connection.close()

    threads = [threading.Thread(target=sell) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert [answer.status_code for answer in answers] == [201] * 4
    assert all(answer.json() == answers[0].json() for answer in answers)
    assert sum("Idempotency-Replayed" in answer for answer in answers) == 3
    assert SaleOutcome.objects.count() == 1
