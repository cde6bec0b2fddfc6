"""Wrong passwords: by account, by address, the same answer for all, and what is kept of it."""

import logging
from datetime import timedelta
from io import StringIO
from typing import Any

import pytest
from axes.models import AccessAttempt, AccessFailureLog, AccessLog
from django.core.management import call_command
from django.db.models import F
from django.test import Client
from django.urls import reverse

from inventory.rules import throttle
from inventory.rules.roles import Actor
from tests.build import PASSWORD
from tests.pages.browse import sign_in, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def counting(settings: Any, signed_in_as_by_the_page: None) -> None:
    settings.AXES_ENABLED = True


def tried(client: Client, name: str = "the-sales", *, word: str = "wrong", at: str = "192.0.2.1", **more: str) -> Any:
    return client.post(reverse("sign_in"), {"username": name, "password": word}, REMOTE_ADDR=at, **more)


def later() -> None:
    """As if the wait were over."""
    AccessAttempt.objects.update(attempt_time=F("attempt_time") - timedelta(seconds=throttle.SIGN_IN_WAIT + 1))


def test_one_account_from_many_addresses_has_to_wait_and_then_need_not(client: Client, sales: Actor) -> None:
    answers = [tried(client, f" The-SALES{' ' * count}", at=f"192.0.2.{count}") for count in range(8)]
    assert [answer.status_code for answer in answers] == [200] * 7 + [429]
    right = tried(client, word=PASSWORD, at="198.51.100.7")
    assert (right.status_code, 0 < int(right["Retry-After"]) <= 900) == (429, True)
    assert "Ask the owner" in text_of(right)
    later()
    assert tried(client, word=PASSWORD).status_code == 302


def test_many_accounts_from_one_address_have_to_wait_and_others_need_not(client: Client, sales: Actor) -> None:
    codes = [tried(client, f"name-{count}").status_code for count in range(20)]
    assert codes == [200] * 19 + [429]
    assert tried(client, word=PASSWORD).status_code == 429
    assert tried(client, word=PASSWORD, at="198.51.100.7").status_code == 302


def test_answer_is_the_same_whether_there_is_such_an_account(client: Client, sales: Actor) -> None:
    for name in ("the-sales", "nobody-here"):
        for count in range(8):
            answer = tried(client, name, at=f"192.0.2.{count}")
        told = text_of(answer).replace(name, "")
        assert told == text_of(tried(client, "the-sales", at="203.0.113.9"))


def test_trying_while_waiting_does_not_lengthen_it(client: Client, sales: Actor) -> None:
    for count in range(8):
        tried(client, at=f"192.0.2.{count}")
    before = set(AccessAttempt.objects.values_list("attempt_time", "failures_since_start"))
    tried(client)
    assert set(AccessAttempt.objects.values_list("attempt_time", "failures_since_start")) == before


def test_owner_lifts_the_wait(client: Client, owner: Actor, sales: Actor) -> None:
    for count in range(8):
        tried(Client(), at=f"192.0.2.{count}")
    sign_in(client, owner)
    assert "has to wait" in text_of(client.get(reverse("staff")))
    client.post(reverse("lift_wait", args=[sales.id]))
    assert tried(Client(), word=PASSWORD).status_code == 302


def test_wait_is_lifted_from_the_shell_too(client: Client, sales: Actor) -> None:
    for count in range(8):
        tried(client, at=f"192.0.2.{count}")
    call_command("axes_reset_username", "the-sales", stdout=StringIO())
    assert tried(client, word=PASSWORD).status_code == 302


def test_little_is_kept_and_nothing_is_told_to_the_log(
    client: Client, sales: Actor, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG)
    for _ in range(8):
        tried(client, HTTP_USER_AGENT="Rare/1.0", HTTP_X_FORWARDED_FOR="203.0.113.77")
    tried(client, word=PASSWORD)
    row = AccessAttempt.objects.get()
    kept = f"{row.ip_address} {row.user_agent} {row.path_info} {row.post_data} {row.get_data} {row.http_accept}"
    for secret in ("192.0.2.1", "203.0.113.77", "Rare/1.0", "the-sales", "wrong"):
        assert secret not in kept
        assert secret not in caplog.text
    assert not AccessLog.objects.exists()
    assert not AccessFailureLog.objects.exists()


def test_behind_a_proxy_only_its_own_word_counts(client: Client, sales: Actor, settings: Any) -> None:
    settings.BEHIND_PROXY = True
    for count in range(20):
        answer = tried(client, f"name-{count}", HTTP_X_FORWARDED_FOR=f"10.0.0.{count}, 203.0.113.5")
    assert answer.status_code == 429
    assert tried(client, word=PASSWORD, HTTP_X_FORWARDED_FOR="203.0.113.5, 198.51.100.2").status_code == 302
