"""The private link under attack: one answer to all that is wrong, headers on each, limits that spare what is right."""

import uuid
from datetime import datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.core.cache import cache
from django.db import connection
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from inventory.actions import asking, linking, offering
from inventory.models import Consignment, LogEntry, StatusLink
from inventory.pages.by_link import PRIVATE
from inventory.rules import throttle
from inventory.rules.links import GRACE_DAYS
from inventory.rules.states import State
from tests import build

pytestmark = pytest.mark.django_db


@pytest.fixture
def now() -> datetime:
    return timezone.now()


def link_of(stay: Consignment, *, at: datetime) -> str:
    return linking.make_link(stay.pk, by=build.BUILDER, at=at)[1]


def seen(response: Any) -> tuple[int, bytes, tuple[tuple[str, str], ...]]:
    """All that came, but for the number of the answer, which is drawn anew for each."""
    headers = {name: value for name, value in response.headers.items() if name != "X-Request-Id"}
    return response.status_code, response.content, tuple(sorted(headers.items()))


def asked_from(number: int) -> dict[str, str]:
    return {"REMOTE_ADDR": f"192.0.2.{number}"}


def test_whatever_is_wrong_status_body_and_headers_are_the_same(now: datetime) -> None:
    stay, other = build.consignment(at=now), build.consignment(at=now)
    old = link_of(build.consignment(at=now), at=now - timedelta(days=GRACE_DAYS))
    revoked, others = link_of(stay, at=now), link_of(other, at=now)
    right = link_of(stay, at=now)
    name, page = f"status_{stay.code.hex}", reverse("status", args=[stay.code])
    tries = [
        *(("/status/open/" + token, "") for token in ("nonsense", old, revoked, "x" * 3000, "%00", "é", "..%2F..%2Fx")),
        *((page, token) for token in ("", "nonsense", old, revoked, others, right[:-1], '"\\000\\377"')),
        (f"/status/{uuid.uuid4()}/", right), ("/status/not-a-code/", right), ("/status/open/", ""), ("/status/", ""),
        (f"/status/%0A{stay.code}/", right), (f"{page}photos/{uuid.uuid4()}/", others), (f"{page}../", right),
    ]  # fmt: skip
    answers = set()
    for number, (path, token) in enumerate(tries):
        client = Client()
        if token:
            client.cookies[name] = token
        answers.add(seen(client.get(path, **asked_from(number))))
    assert len(answers) == 1
    assert {status for status, _, _ in answers} == {404}
    client = Client()
    client.cookies[name] = right
    assert client.get(page).status_code == 200


def test_every_answer_under_the_prefix_carries_the_headers(client: Client, now: datetime) -> None:
    stay = build.consignment(State.LISTED, at=now)
    token = link_of(stay, at=now)
    page = reverse("status", args=[stay.code])
    answers = {
        302: client.get(reverse("open_link", args=[token])), 200: client.get(page), 405: client.put(page),
        404: client.get(f"{page}receipts/{uuid.uuid4()}/"), 403: Client(enforce_csrf_checks=True).post(f"{page}ask/"),
    }  # fmt: skip
    for status, response in [*answers.items(), (301, client.get("/status"))]:
        assert response.status_code == status
        assert {name: response[name] for name in PRIVATE} == PRIVATE, status
        if status != 301:
            assert "object-src 'none'" in response["Content-Security-Policy"]
            assert response["X-Frame-Options"] == "DENY"


def test_looking_ahead_notes_nothing_and_uses_nothing_up(client: Client, now: datetime) -> None:
    """A mail scanner asks by HEAD, or opens the link before the consignor does."""
    stay = build.consignment(State.LISTED, at=now)
    address = reverse("open_link", args=[link_of(stay, at=now)])
    entries = LogEntry.objects.count()
    assert client.head(address).status_code == 302
    assert StatusLink.objects.get().last_used_at is None
    assert LogEntry.objects.count() == entries
    for scanner in range(3):
        assert Client().get(address, follow=True).status_code == 200, scanner
    assert client.head(reverse("status", args=[stay.code])).status_code == 200


def test_wrong_links_wait_and_a_right_one_still_opens_until_its_address_floods(now: datetime) -> None:
    right = reverse("open_link", args=[link_of(build.consignment(at=now), at=now)])
    wrong = "/status/open/nonsense"
    statuses = [Client().get(wrong, **asked_from(1)).status_code for _ in range(12)]
    assert statuses == [404] * 10 + [429] * 2
    assert int(Client().get(wrong, **asked_from(1))["Retry-After"]) in range(55, 61)
    assert Client().get(right, **asked_from(1)).status_code == 302
    assert Client().get(wrong, **asked_from(2)).status_code == 404
    for _ in range(throttle.FLOOD - 13):
        Client().get(wrong, **asked_from(1))
    assert Client().get(right, **asked_from(1)).status_code == 429
    assert Client().get(right, **asked_from(2)).status_code == 302


def test_when_all_together_try_too_often_wrong_links_wait_and_right_ones_open(now: datetime) -> None:
    right = reverse("open_link", args=[link_of(build.consignment(at=now), at=now)])
    cache.set("links:all", (int(now.timestamp()), throttle.ALL_FAILED, 0, 0))
    assert Client().get("/status/open/nonsense", **asked_from(9)).status_code == 429
    assert Client().get(right, **asked_from(9)).status_code == 302


def test_no_address_is_kept(client: Client) -> None:
    client.get("/status/open/nonsense", REMOTE_ADDR="198.51.100.77")
    with connection.cursor() as cursor:
        cursor.execute("SELECT cache_key, value FROM inventory_cache")
        kept = str(cursor.fetchall())
    assert kept.count("links:") == 2
    assert "198.51" not in kept


def test_full_page_weighs_less_than_150_kb_without_its_photos(client: Client, now: datetime) -> None:
    """30 asks, 30 offers and what else leaves more than 40 lines behind; with every style it asks for."""
    stay = build.consignment(State.LISTED, at=now)
    for step in range(30):
        asking.set_ask(stay.pk, amount=Decimal(48000 - step * 100), reason="r", by=build.BUILDER, at=now)
        offering.log_offer(
            stay.pk, amount=Decimal(31000 + step), bidder="Zeb", conditions="a condition of some words " * 8,
            by=build.BUILDER, at=now,
        )  # fmt: skip
    client.get(reverse("open_link", args=[link_of(stay, at=now)]))
    body = client.get(reverse("status", args=[stay.code])).content
    styles = Path(settings.BASE_DIR) / "inventory/static/inventory"
    weight = len(body) + sum((styles / name).stat().st_size for name in ("tokens.css", "base.css", "status.css"))
    assert body.count(b"<time") >= 33
    assert weight < 150_000
    assert b"<script" not in body
