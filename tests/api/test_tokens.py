"""Tokens that only read, that end, and the day they were last used."""

from datetime import date, timedelta

import pytest
from django.utils import timezone
from rest_framework.test import APIClient

from inventory.actions import staffing
from inventory.errors import Refused
from inventory.models import ApiToken, Consignment
from inventory.rules.roles import Actor
from tests.api.conftest import NOW, said

pytestmark = pytest.mark.django_db


def client_with(owner: Actor, *, reads_only: bool = False, expires_on: date | None = None) -> APIClient:
    _, token = staffing.make_token(
        "Books", role="owner", reads_only=reads_only, expires_on=expires_on, by=owner, at=NOW
    )
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Bearer {token}")
    return client


def test_reading_token_reads_and_is_told_why_it_may_not_write(owner: Actor) -> None:
    client = client_with(owner, reads_only=True)
    assert client.get("/api/v1/consignments/").status_code == 200
    body = {"year": 1971, "make": "Merrow", "model": "Birch", "consignor_name": "Cy Aldous"}
    answer = client.post("/api/v1/consignments/", body, format="json")
    assert (answer.status_code, said(answer)["code"]) == (403, "reads_only")
    assert "never writes" in said(answer)["message"]
    assert not Consignment.objects.exists()


def test_token_opens_on_its_last_day_and_not_after(owner: Actor) -> None:
    client = client_with(owner, expires_on=timezone.localdate())
    assert client.get("/api/v1/me/").status_code == 200
    ApiToken.objects.update(expires_on=timezone.localdate() - timedelta(days=1))
    assert client.get("/api/v1/me/").status_code == 401


def test_token_is_not_made_for_a_day_that_is_over(owner: Actor) -> None:
    with pytest.raises(Refused, match="is over"):
        client_with(owner, expires_on=timezone.localdate(NOW) - timedelta(days=1))


def test_day_of_last_use_is_kept_and_a_refused_call_is_none(owner: Actor) -> None:
    client = client_with(owner, reads_only=True)
    client.post("/api/v1/consignments/", {}, format="json")
    assert ApiToken.objects.get().last_used_on is None
    client.get("/api/v1/me/")
    assert ApiToken.objects.get().last_used_on == timezone.localdate()
