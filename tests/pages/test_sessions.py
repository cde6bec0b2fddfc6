"""Where staff are signed in: listed, ended for good, and the password asked again before money moves."""

from datetime import datetime, timedelta
from typing import Any

import pytest
from django.contrib.sessions.models import Session
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from inventory.actions import sessions
from inventory.models import LogEntry, Settlement, StaffSession
from inventory.rules.roles import Actor, command
from inventory.rules.sign_in import STAMP
from inventory.rules.states import State
from tests import build
from tests.build import PASSWORD
from tests.pages.browse import sign_in, text_of, url

pytestmark = pytest.mark.django_db
FIREFOX = "Mozilla/5.0 (X11; Linux x86_64; rv:140.0) Gecko/20100101 Firefox/140.0"


def signed_in_by_form(actor: Actor, **more: str) -> Client:
    client = Client(**more)
    given = {"username": f"the-{actor.role}", "password": PASSWORD}
    assert client.post(reverse("sign_in"), given).status_code == 302
    return client


def as_of(client: Client, **stamp: float) -> None:
    """What the house remembers in this session, put back in time."""
    session = client.session
    session[STAMP] = {**session[STAMP], **stamp}
    session.save()


def is_out(client: Client) -> bool:
    return bool(client.get(reverse("lot")).status_code == 302)


def test_session_is_listed_without_key_or_address(sales: Actor) -> None:
    client = signed_in_by_form(sales, HTTP_USER_AGENT=FIREFOX, REMOTE_ADDR="192.0.2.44")
    row = StaffSession.objects.get(browser="Firefox on Linux")
    kept = str(vars(row))
    assert client.session.session_key not in kept
    assert "192.0.2" not in kept
    page = text_of(client.get(reverse("your_sign_in")))
    assert "Firefox on Linux" in page
    assert "this one" in page


def test_ended_session_is_gone_from_the_house_and_the_other_stays(sales: Actor) -> None:
    here, there = signed_in_by_form(sales), signed_in_by_form(sales, HTTP_USER_AGENT=FIREFOX)
    key = there.session.session_key
    here.post(reverse("end_session", args=[StaffSession.objects.get(browser="Firefox on Linux").pk]))
    assert (is_out(here), is_out(there)) == (False, True)
    assert not Session.objects.filter(session_key=key).exists()
    assert LogEntry.objects.get(action="sessions.ended").data == {"username": "the-sales", "count": 1}


def test_all_others_end_at_once_and_by_a_new_password(sales: Actor) -> None:
    here, there = signed_in_by_form(sales), signed_in_by_form(sales)
    here.post(reverse("end_other_sessions"))
    assert (is_out(here), is_out(there)) == (False, True)
    there = signed_in_by_form(sales)
    new = "quite another pass phrase"
    here.post(reverse("change_password"), {"old": PASSWORD, "new": new, "again": new})
    assert (is_out(here), is_out(there)) == (False, True)
    assert StaffSession.objects.count() == 1


def test_owner_ends_anybodys_and_others_only_their_own(owner: Actor, sales: Actor) -> None:
    theirs, mine = signed_in_by_form(sales), signed_in_by_form(owner)
    row = StaffSession.objects.get(user_id=owner.id)
    assert theirs.post(reverse("end_session", args=[row.pk])).status_code == 404
    assert "Sign out everywhere" in text_of(mine.get(reverse("change_staff", args=[sales.id])))
    mine.post(reverse("end_staff_sessions", args=[sales.id]))
    assert (is_out(mine), is_out(theirs)) == (False, True)


@pytest.mark.parametrize("change", [{"role": "intake"}, {"is_active": ""}])
def test_another_role_or_leaving_ends_their_sessions(owner: Actor, sales: Actor, change: dict[str, str]) -> None:
    theirs = signed_in_by_form(sales)
    given = {"full_name": "Sam Sales", "email": "", "role": "sales", "is_active": "on", **change}
    signed_in_by_form(owner).post(reverse("change_staff", args=[sales.id]), given)
    assert is_out(theirs)
    assert not StaffSession.objects.filter(user_id=sales.id).exists()


def test_use_is_noted_every_few_minutes_and_lengthens_nothing(sales: Actor) -> None:
    client = signed_in_by_form(sales)
    ends, row = client.session.get_expiry_date(), StaffSession.objects.get()
    client.get(reverse("lot"))
    assert StaffSession.objects.get().seen_at == row.seen_at
    as_of(client, seen=timezone.now().timestamp() - 301)
    client.get(reverse("lot"))
    assert StaffSession.objects.get().seen_at > row.seen_at
    assert client.session.get_expiry_date() == ends
    assert timedelta(days=13, hours=23) < ends - timezone.now() < timedelta(days=14)


def test_lists_of_sessions_take_as_many_queries_with_more(client: Client, owner: Actor, sales: Actor) -> None:
    sign_in(client, owner)
    counts = []
    for number in (1, 5):
        for actor in (owner, sales):
            sessions.note(f"{number}-{actor.id}", user_id=actor.id or 0, browser="x", network="y", at=timezone.now())
        with CaptureQueriesContext(connection) as captured:
            for path in (reverse("your_sign_in"), reverse("change_staff", args=[sales.id])):
                assert client.get(path).status_code == 200
        counts.append(len(captured))
    assert counts[0] == counts[1]


def test_signing_out_takes_the_row_away_and_old_rows_are_cleared(sales: Actor) -> None:
    signed_in_by_form(sales).post(reverse("sign_out"))
    assert not StaffSession.objects.exists()
    signed_in_by_form(sales)
    StaffSession.objects.update(made_at=timezone.now() - timedelta(days=15))
    assert sessions.clear_sessions(by=command("clear_sessions"), at=timezone.now()) == 1


def test_session_from_before_is_taken_over_at_the_next_page(sales: Actor) -> None:
    client = sign_in(Client(), sales)
    session = client.session
    del session[STAMP]
    session.save()
    StaffSession.objects.all().delete()
    assert client.get(reverse("lot")).status_code == 200
    assert StaffSession.objects.count() == 1


def sold_and_paid(at: datetime) -> Any:
    stay = build.consignment(State.SOLD, at=at)
    build.pay_in_full(stay, at=at)
    return stay


def test_settlement_after_a_while_asks_the_password_and_loses_nothing(owner: Actor, at: datetime) -> None:
    stay, client = sold_and_paid(at), sign_in(Client(), owner)
    as_of(client, checked=timezone.now().timestamp() - 31 * 60)
    day = (timezone.localdate() + timedelta(days=2)).isoformat()
    form = client.get(url(stay, "settlement")).context["approve_form"]
    given = {"version": form["version"].value(), "expected_due": form["expected_due"].value(), "pay_on": day}
    asked = client.post(url(stay, "approve_settlement"), given)
    assert set(asked.context["approve_form"].errors) == {"own_password"}
    assert f'value="{day}"' in text_of(asked)
    assert not Settlement.objects.exists()
    client.post(url(stay, "approve_settlement"), {**given, "own_password": PASSWORD})
    assert Settlement.objects.count() == 1
    assert "own_password" not in client.get(reverse("staff")).context["forms"]["token"].fields


def test_api_by_session_moves_no_money_after_a_while(owner: Actor, at: datetime) -> None:
    stay, client = sold_and_paid(at), sign_in(Client(), owner)
    address = f"/api/v1/consignments/{stay.stock_number}/settlement/"
    as_of(client, checked=timezone.now().timestamp() - 31 * 60)
    assert client.get(address).status_code == 200
    answer = client.post(address, {"expected_due": "44135.00"}, content_type="application/json")
    assert (answer.status_code, answer.json()["errors"][0]["code"]) == (403, "password_again")
    as_of(client, checked=timezone.now().timestamp())
    assert client.post(address, {"expected_due": "1.00"}, content_type="application/json").status_code == 400


def test_five_wrong_passwords_end_the_session(owner: Actor) -> None:
    client = sign_in(Client(), owner)
    as_of(client, checked=0)
    given = {"name": "Books", "role": "sales", "own_password": "wrong"}
    answers = [client.post(reverse("make_token"), given) for _ in range(5)]
    assert [answer.status_code for answer in answers] == [200] * 4 + [302]
    assert is_out(client)
