"""Inquiries and showings through the API."""

from collections.abc import Callable

import pytest
from rest_framework.test import APIClient

from inventory.models import Consignment, Inquiry, Showing
from tests.api.conftest import said, url

pytestmark = pytest.mark.django_db


def test_showing_names_the_inquiry_it_came_of(as_sales: APIClient, stay: Callable[..., Consignment]) -> None:
    built = stay()
    asked = as_sales.post(url(built, "inquiries/"), {"way": "online", "who": "Bo Larkin", "about": "rust"}).json()
    assert (asked["way"], asked["who"], asked["about"]) == ("online", "Bo Larkin", "rust")
    came = as_sales.post(url(built, "showings/"), {"inquiry": asked["id"]}).json()
    assert (came["inquiry"], came["who"], came["on"]) == (asked["id"], "", asked["on"])
    assert as_sales.get(url(built, "showings/")).json()["results"] == [came]


def test_inquiry_sent_again_with_its_key_is_one(as_sales: APIClient, stay: Callable[..., Consignment]) -> None:
    built, key = stay(), {"Idempotency-Key": "call-of-nine"}
    first, second = (as_sales.post(url(built, "inquiries/"), {"way": "phone"}, headers=key) for _ in range(2))
    assert (first.status_code, second.json(), second["Idempotency-Replayed"]) == (201, first.json(), "true")
    assert Inquiry.objects.count() == 1


@pytest.mark.parametrize(
    ("rest", "body", "field"),
    [
        ("inquiries/", {}, "way"), ("inquiries/", {"way": "pigeon"}, "way"),
        ("inquiries/", {"way": "phone", "on": "2020-01-01"}, "on"), ("showings/", {"inquiry": "x"}, "inquiry"),
        ("showings/", {"name": "Bo"}, "name"),
    ],
)  # fmt: skip
def test_body_that_makes_no_sense_is_refused_on_its_field(
    as_sales: APIClient, stay: Callable[..., Consignment], rest: str, body: dict[str, str], field: str
) -> None:
    answer = as_sales.post(url(stay(), rest), body)
    assert (answer.status_code, said(answer)["field"]) == (400, field)
    assert not Inquiry.objects.exists()
    assert not Showing.objects.exists()


def test_showing_of_an_inquiry_about_another_vehicle_is_404(
    as_sales: APIClient, stay: Callable[..., Consignment]
) -> None:
    one, other = stay(), stay()
    asked = as_sales.post(url(one, "inquiries/"), {"way": "phone"}).json()
    assert as_sales.post(url(other, "showings/"), {"inquiry": asked["id"]}).status_code == 404
