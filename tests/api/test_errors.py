"""Every refusal is problem details that name the field; nothing odd in a body ends in a crash."""

from collections.abc import Callable
from typing import Any

import pytest
from rest_framework.test import APIClient

from inventory.actions import staffing
from inventory.models import ApiToken, Consignment, LogEntry, Offer, User
from inventory.rules.roles import Role
from inventory.rules.states import State
from tests import build
from tests.api.conftest import NOW, client_of, said, url
from tests.api.rows import DEED

pytestmark = pytest.mark.django_db

OFFER = {"amount": "47000.00", "bidder": "Bo Larkin"}


def post(client: APIClient, address: str, body: Any, kind: str = "application/json") -> Any:
    return client.generic("POST", address, body, content_type=kind)


@pytest.mark.parametrize(
    "body",
    [
        b"{", b"", b"nonsense", b'{"amount": NaN, "bidder": "x"}', b'{"amount": Infinity, "bidder": "x"}',
        b'{"amount": 1e999, "bidder": "x"}', b'{"amount": ' + b"9" * 5000 + b', "bidder": "x"}', b"[" * 100_000,
        b'{"a":' * 50_000, b'{"bidder": "x", "bidder": "y", "amount": "5.00"}', b'{"bidder": "\xff", "amount": "5"}',
        b'{"bidder": "\\ud800", "amount": "5.00"}', b'{"bidder": "\\u0000", "amount": "5.00"}', b"[]", b"7", b"null",
        b'"text"', b'[{"amount": "5.00", "bidder": "x"}]', b'{"\\ud800": 1}',
        b'\xef\xbb\xbf{"bidder": "x", "amount": "5.00"}',
    ],
    ids=range(20),
)  # fmt: skip
def test_body_that_is_no_object_is_400_and_writes_nothing(
    as_sales: APIClient, stay: Callable[..., Consignment], body: bytes
) -> None:
    built = stay()
    answer = post(as_sales, url(built, "offers/"), body)
    assert answer.status_code == 400, answer.content
    assert said(answer)["message"]
    assert not Offer.objects.exists()


@pytest.mark.parametrize(
    ("change", "field", "code"),
    [
        ({"amount": "-1.00"}, "amount", "min_value"), ({"amount": "0"}, "amount", "min_value"),
        ({"amount": "1.005"}, "amount", "max_decimal_places"), ({"amount": "99999999999.00"}, "amount", "max_digits"),
        ({"amount": "47,000.00"}, "amount", "invalid"), ({"amount": "1_0"}, "amount", "invalid"),
        ({"amount": "1e3"}, "amount", "invalid"), ({"amount": "٣"}, "amount", "invalid"),
        ({"amount": "NaN"}, "amount", "invalid"), ({"amount": True}, "amount", "invalid"),
        ({"amount": ["5.00"]}, "amount", "invalid"), ({"amount": {}}, "amount", "invalid"),
        ({"amount": None}, "amount", "null"), ({"amount": 10**300}, "amount", "invalid"),
        ({"amount": 5}, "amount", "invalid"),
        ({"bidder": ""}, "bidder", "blank"), ({"bidder": " "}, "bidder", "blank"),
        ({"bidder": []}, "bidder", "invalid"),
        ({"bidder": "x" * 121}, "bidder", "max_length"), ({"on": "16/03/2026"}, "on", "invalid"),
        ({"on": 20260316}, "on", "invalid"), ({"on": "0001-01-01"}, "on", "out_of_range"),
        ({"on": "9999-12-31"}, "on", "out_of_range"), ({"price": "1.00"}, "price", "unknown"),
        ({"consignment": 1}, "consignment", "unknown"),
    ],
)  # fmt: skip
def test_value_that_cannot_be_is_refused_with_its_field(
    as_sales: APIClient, stay: Callable[..., Consignment], change: dict[str, Any], field: str, code: str
) -> None:
    answer = as_sales.post(url(stay(), "offers/"), OFFER | change)
    assert answer.status_code == 400
    assert (said(answer)["field"], said(answer)["code"]) == (field, code)
    assert not Offer.objects.exists()


def test_each_missing_field_is_named(as_sales: APIClient, stay: Callable[..., Consignment]) -> None:
    errors = as_sales.post(url(stay(), "offers/"), {}).json()["errors"]
    assert {error["field"] for error in errors} == {"amount", "bidder"}


def test_refusal_of_the_house_keeps_its_words(as_sales: APIClient, stay: Callable[..., Consignment]) -> None:
    built = stay(State.ON_LOT)
    logged = LogEntry.objects.count()
    answer = as_sales.post(url(built, "offers/"), OFFER)
    assert answer.status_code == 400
    assert said(answer) == {
        "code": "not_for_sale", "field": "state",
        "message": f"{built.stock_number} is on the lot, not for sale. Offers are logged for listed vehicles.",
    }  # fmt: skip
    assert LogEntry.objects.count() == logged


def test_error_in_list_names_the_place(as_owner: APIClient, stay: Callable[..., Consignment]) -> None:
    terms = {
        "plan_kind": "tiered", "starts_on": "2026-01-01", "ends_on": "2026-06-01",
        "tiers": [{"up_to": "10000.00", "rate": "10"}, {"up_to": None, "rate": "101"}],
    }  # fmt: skip
    answer = as_owner.post(url(stay(State.ON_LOT), "terms/"), terms)
    assert (answer.status_code, said(answer)["field"]) == (400, "tiers.1.rate")


def test_other_types_than_json_are_415(as_sales: APIClient, stay: Callable[..., Consignment]) -> None:
    built = stay()
    for kind in ("text/plain", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x"):
        answer = post(as_sales, url(built, "offers/"), b"amount=1", kind)
        assert answer.status_code == 415
        said(answer)


def test_body_over_a_mebibyte_is_413(as_sales: APIClient, stay: Callable[..., Consignment]) -> None:
    answer = post(as_sales, url(stay(), "offers/"), b'{"note": "' + b"x" * 2**20 + b'"}')
    assert (answer.status_code, said(answer)["code"]) == (413, "too_large")


@pytest.mark.parametrize("method", ["put", "delete", "options"])
def test_method_not_offered_is_405(as_owner: APIClient, method: str) -> None:
    answer = getattr(as_owner, method)("/api/v1/consignments/")
    assert answer.status_code == 405
    said(answer)


def test_only_json_is_answered(as_owner: APIClient) -> None:
    answer = as_owner.get("/api/v1/me/", HTTP_ACCEPT="text/html")
    assert answer.status_code == 406
    said(answer)


@pytest.mark.parametrize("header", ["Bearer", "Bearer ", "Bearer nonsense", "Bearer \u00e9", "Basic eDp5"])
def test_token_that_is_not_known_is_401(header: str, db: None) -> None:
    answer = APIClient().get("/api/v1/me/", HTTP_AUTHORIZATION=header)
    assert answer.status_code == 401
    assert answer["WWW-Authenticate"]
    said(answer)


def test_revoked_token_is_401(as_owner: APIClient) -> None:
    staffing.revoke_token(ApiToken.objects.get().pk, **DEED)
    assert as_owner.get("/api/v1/me/").status_code == 401


def test_member_of_staff_uses_the_session_and_needs_the_csrf_token_to_write(stay: Callable[..., Consignment]) -> None:
    built = stay()
    actor = build.staff(Role.SALES, at=NOW)
    browser = APIClient(enforce_csrf_checks=True)
    browser.force_login(User.objects.get(username="the-sales"))
    assert browser.get("/api/v1/me/").json()["name"] == actor.name
    assert browser.post(url(built, "offers/"), OFFER, format="json").status_code == 403
    assert not Offer.objects.exists()


def test_inactive_member_of_staff_is_401() -> None:
    build.staff(Role.OWNER, at=NOW)
    build.staff(Role.SALES, at=NOW)
    row = User.objects.get(username="the-sales")
    browser = APIClient()
    browser.force_login(row)
    staffing.change_staff(row.pk, values={"is_active": False}, **DEED)
    assert browser.get("/api/v1/me/").status_code == 401


def test_writes_are_logged_under_the_name_of_the_program(stay: Callable[..., Consignment]) -> None:
    client_of(Role.SALES).post(url(stay(), "offers/"), OFFER)
    entry = LogEntry.objects.get(action="offer.logged")
    assert (entry.actor_kind, entry.actor_name) == ("token", "sales program")
