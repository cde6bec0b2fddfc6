"""A browser that somebody signed in with before does not wait for what strangers typed; it has tries of its own.

After OWASP, "Slow Down Online Guessing Attacks with Device Cookies".
"""

from typing import Any

import pytest
from axes.models import AccessAttempt
from django.core import signing
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory.models import User
from inventory.pages.known_browsers import SALT, cookie_name
from inventory.rules.known_browsers import LIFE
from inventory.rules.roles import Actor
from tests.build import PASSWORD
from tests.pages.browse import sign_in, text_of
from tests.pages.test_second_factor import code, set_up, typed_password
from tests.pages.test_sign_in_tries import tried

pytestmark = pytest.mark.django_db
NAME = "known_browser"


@pytest.fixture(autouse=True)
def counting(settings: Any, signed_in_as_by_the_page: None) -> None:
    settings.AXES_ENABLED = True


@pytest.fixture
def known(sales: Actor) -> Client:
    """The browser that sales signs in with every day; it has signed out."""
    client = Client()
    assert tried(client, word=PASSWORD).status_code == 302
    client.post(reverse("sign_out"))
    return client


def make_wait(name: str = "the-sales") -> None:
    """By a stranger, from many places."""
    for count in range(8):
        tried(Client(), name, at=f"203.0.113.{count}")
    assert tried(Client(), name, word=PASSWORD, at="198.51.100.1").status_code == 429


def test_stranger_makes_the_name_wait_and_the_known_browser_gets_in(known: Client) -> None:
    make_wait()
    for count in range(20):  # and the address the known one comes from
        last = tried(Client(), f"name-{count}")
    assert last.status_code == 429
    assert tried(known, " The-SALES ", word=PASSWORD).status_code == 302


def test_known_browser_has_eight_tries_and_they_are_held_against_nobody_else(known: Client) -> None:
    assert [tried(known, at=f"192.0.2.{count}").status_code for count in range(8)] == [200] * 7 + [429]
    answer = tried(known, word=PASSWORD)
    assert (answer.status_code, 0 < int(answer["Retry-After"]) <= 900) == (429, True)
    assert tried(Client(), word=PASSWORD).status_code == 302


def test_stolen_cookie_makes_nobody_wait_once_its_owner_signed_in_again(known: Client) -> None:
    thief = Client()
    thief.cookies[NAME] = known.cookies[NAME].value
    assert tried(known, word=PASSWORD).status_code == 302
    known.post(reverse("sign_out"))
    assert [tried(thief).status_code for _ in range(8)][-1] == 429
    assert tried(known, word=PASSWORD).status_code == 302


def test_known_browser_of_one_account_is_a_stranger_to_another(known: Client, owner: Actor) -> None:
    make_wait("the-owner")
    assert tried(known, "the-owner", word=PASSWORD).status_code == 429


def test_shared_browser_is_known_to_each_who_signed_in_with_it(known: Client, owner: Actor) -> None:
    assert tried(known, "the-owner", word=PASSWORD).status_code == 302
    known.post(reverse("sign_out"))
    make_wait()
    make_wait("the-owner")
    assert [tried(known, name, word="wrong").status_code for name in ("the-sales", "the-owner")] == [200, 200]


def test_cookie_that_is_forged_cut_or_too_old_gives_nothing(known: Client) -> None:
    make_wait()
    right = known.cookies[NAME].value
    told = signing.loads(right, salt=SALT)
    wrong = {
        "other salt": signing.dumps(told, salt="inventory.other"), "cut": right[:-1], "empty": "",
        "other mark": signing.dumps([[*told[0][:2], "0" * 32, told[0][3]]], salt=SALT),
        "too old": signing.dumps([[*told[0][:3], told[0][3] - int(LIFE.total_seconds())]], salt=SALT),
    }  # fmt: skip
    for case, cookie in wrong.items():
        known.cookies[NAME] = cookie
        assert tried(known, word=PASSWORD).status_code == 429, case
    known.cookies[NAME] = right
    assert tried(known, word=PASSWORD).status_code == 302


def test_new_password_ends_it_but_where_it_was_changed(known: Client, owner: Actor) -> None:
    new, here = "a-longer-word-7", Client()
    tried(here, word=PASSWORD)
    given = {"old": PASSWORD, "new": new, "again": new}
    assert here.post(reverse("change_password"), given)["Location"] == reverse("lot")
    here.post(reverse("sign_out"))
    for count in range(8):
        tried(Client(), at=f"203.0.113.{count}")
    assert [tried(client, word=new).status_code for client in (known, here)] == [429, 302]


def test_second_factor_browser_is_known_only_after_the_code(sales: Actor) -> None:
    set_up(Client(), sales)
    theirs = typed_password(sales)
    assert NAME not in theirs.cookies
    theirs.post(reverse("sign_in_code"), {"code": code(sales, steps=1)})
    assert NAME in theirs.cookies
    make_wait()
    assert tried(theirs).status_code == 302  # signed in already
    theirs.post(reverse("sign_out"))
    assert tried(theirs, word=PASSWORD).status_code == 302


def test_cookie_names_nobody_and_is_for_this_host_alone(known: Client, settings: Any) -> None:
    cookie = known.cookies[NAME]
    assert (cookie["httponly"], cookie["samesite"], cookie["max-age"]) == (True, "Lax", 90 * 24 * 3600)
    password_hash = User.objects.get().password
    assert not any(word in str(signing.loads(cookie.value, salt=SALT)) for word in ("the-sales", password_hash))
    settings.HTTPS = True
    assert cookie_name() == "__Host-known_browser"
    answer = tried(Client(), word=PASSWORD)
    assert answer.cookies["__Host-known_browser"]["secure"] is True


def queries_of_a_try(client: Client, name: str) -> int:
    tried(client, name)  # its row is there
    with CaptureQueriesContext(connection) as asked:
        assert tried(client, name).status_code == 200
    return len(asked)


def test_trying_asks_as_many_queries_whether_the_name_is_there_or_not(known: Client, owner: Actor) -> None:
    for client in (Client(), known):
        assert queries_of_a_try(client, "the-owner") == queries_of_a_try(client, "nobody-here")


def test_owner_sees_and_lifts_the_wait_of_a_known_browser(known: Client, owner: Actor, sales: Actor) -> None:
    for _ in range(7):
        tried(known)
    tried(Client())  # eight in all, and neither has to wait
    theirs = sign_in(Client(), owner)
    assert "has to wait" not in text_of(theirs.get(reverse("staff")))
    tried(known)
    kept = AccessAttempt.objects.order_by("user_agent").values_list("user_agent", flat=True)
    assert [len(digest) for digest in kept] == [0, 32]
    assert "has to wait" in text_of(theirs.get(reverse("staff")))
    theirs.post(reverse("lift_wait", args=[sales.id]))
    assert tried(known, word=PASSWORD).status_code == 302
