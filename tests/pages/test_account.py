"""Signing in and out, and one's own password."""

from datetime import datetime

import pytest
from django.test import Client
from django.urls import reverse

from inventory.actions import staffing
from inventory.errors import Refused
from inventory.models import LogEntry, User
from inventory.rules.roles import Actor
from tests.build import PASSWORD
from tests.pages.browse import sign_in, text_of

pytestmark = pytest.mark.django_db
NEW = "quite another pass phrase"


def change(client: Client, **given: str) -> object:
    return client.post(reverse("change_password"), {"old": PASSWORD, "new": NEW, "again": NEW, **given})


def test_sign_in_with_any_capitals_leads_to_the_lot(client: Client, owner: Actor) -> None:
    response = client.post(reverse("sign_in"), {"username": "The-OWNER", "password": PASSWORD})
    assert response["Location"] == reverse("lot")
    assert client.get(reverse("lot")).status_code == 200


def test_sign_in_returns_to_the_page_asked_for_but_to_no_other_site(client: Client, owner: Actor) -> None:
    for asked, led_to in ((reverse("staff"), reverse("staff")), ("https://elsewhere.example/", reverse("lot"))):
        given = {"username": "the-owner", "password": PASSWORD, "next": asked}
        assert client.post(reverse("sign_in"), given)["Location"] == led_to
        client.logout()


def test_unknown_name_wrong_password_and_left_staff_get_the_same_answer(client: Client, owner: Actor) -> None:
    User.objects.filter(pk=owner.id).update(is_active=False)
    answers = {
        text_of(client.post(reverse("sign_in"), {"username": name, "password": password})).split("error-box")[1][:200]
        for name, password in (("the-owner", PASSWORD), ("the-owner", "wrong"), ("nobody", PASSWORD))
    }
    assert len(answers) == 1
    assert "do not match" in answers.pop()


def test_sign_out_by_link_is_refused_and_by_form_ends_the_session(client: Client, owner: Actor) -> None:
    sign_in(client, owner)
    assert client.get(reverse("sign_out")).status_code == 405
    assert client.get(reverse("lot")).status_code == 200
    assert client.post(reverse("sign_out"))["Location"] == reverse("sign_in")
    assert client.get(reverse("lot"))["Location"].startswith(reverse("sign_in"))


def test_own_password_is_changed_logged_and_keeps_this_browser_only(client: Client, sales: Actor) -> None:
    other = sign_in(Client(), sales)
    response = change(sign_in(client, sales))
    assert getattr(response, "status_code", 0) == 302
    assert User.objects.get(pk=sales.id).check_password(NEW)
    assert LogEntry.objects.filter(action="staff.changed", actor_id=sales.id).count() == 1
    assert client.get(reverse("lot")).status_code == 200
    assert other.get(reverse("lot")).status_code == 302


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ({"old": "not mine at all"}, "This is not your password."),
        ({"again": "something else"}, "The two new passwords differ."),
        ({"new": "short", "again": "short"}, "too short"),
        ({"new": "password123", "again": "password123"}, "too common"),
    ],
)
def test_bad_password_change_says_why_and_changes_nothing(
    client: Client, sales: Actor, given: dict[str, str], told: str
) -> None:
    assert told in text_of(change(sign_in(client, sales), **given))
    assert User.objects.get(pk=sales.id).check_password(PASSWORD)


def test_signed_out_visitor_is_led_to_sign_in(client: Client) -> None:
    assert client.get(reverse("change_password"))["Location"].startswith(reverse("sign_in"))


def test_office_program_has_no_password_to_change(owner: Actor, at: datetime) -> None:
    token, _ = staffing.make_token("Bookkeeping", role="sales", by=owner, at=at)
    with pytest.raises(Refused, match="Only a member of staff has a password"):
        staffing.change_own_password(PASSWORD, new=NEW, by=token.as_actor(), at=at)
