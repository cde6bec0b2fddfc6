"""The second factor: set up, asked for, used once, required, reset."""

import re
import time
from typing import Any

import pytest
from django.conf import settings as house
from django.test import Client
from django.urls import reverse
from django_otp.oath import TOTP
from django_otp.plugins.otp_static.models import StaticToken
from django_otp.plugins.otp_totp.models import TOTPDevice

from inventory.models import LogEntry, Lot, User
from inventory.rules.roles import Actor
from tests.build import PASSWORD
from tests.pages.browse import sign_in, text_of

pytestmark = pytest.mark.django_db


def code(actor: Actor, *, steps: int = 0) -> str:
    """What the app shows, so many steps of 30 s from now."""
    totp = TOTP(TOTPDevice.objects.get(user_id=actor.id).bin_key)
    totp.time = time.time() + 30 * steps
    return f"{totp.token():06d}"


def set_up(client: Client, actor: Actor) -> list[str]:
    """Signed in and switched on; the recovery codes that were shown."""
    sign_in(client, actor).post(reverse("begin_factor"))
    answer = client.post(reverse("switch_on_factor"), {"code": code(actor)})
    return re.findall(r'<code class="secret">([a-z2-9]{5}-[a-z2-9]{5})</code>', answer.content.decode())


def typed_password(actor: Actor) -> Client:
    client = Client()
    username = User.objects.get(pk=actor.id).username
    assert client.post(reverse("sign_in"), {"username": username, "password": PASSWORD}).status_code == 302
    return client


def forgive(actor: Actor) -> None:
    """As if the wait after a wrong code were over."""
    TOTPDevice.objects.filter(user_id=actor.id).update(throttling_failure_timestamp=None)


def test_setting_up_shows_secret_and_codes_once_and_keeps_neither_code(client: Client, sales: Actor) -> None:
    sign_in(client, sales).post(reverse("begin_factor"))
    page = client.get(reverse("set_up_factor"))
    assert "data:image/svg+xml" in page.content.decode()
    assert "no-store" in page["Cache-Control"]
    codes = set_up(client, sales)
    assert len(set(codes)) == 8
    assert not {one.replace("-", "") for one in codes} & set(StaticToken.objects.values_list("token", flat=True))
    assert client.get(reverse("lot")).status_code == 200
    assert client.get(reverse("set_up_factor"))["Location"] == reverse("your_sign_in")


def test_password_alone_opens_neither_page_nor_api_until_the_code(client: Client, sales: Actor) -> None:
    set_up(client, sales)
    theirs = typed_password(sales)
    lot = theirs.get(reverse("floor") + "?x=1")
    assert lot["Location"] == reverse("sign_in_code") + "?next=%2Ffloor%2F%3Fx%3D1"
    for name in ("set_up_factor", "your_sign_in", "change_password", "switch_off_factor"):
        assert theirs.get(reverse(name))["Location"].startswith(reverse("sign_in_code")), name
    refused = theirs.get("/api/v1/me/")
    assert (refused.status_code, refused.json()["errors"][0]["code"]) == (403, "sign_in_unfinished")
    key = theirs.cookies[house.SESSION_COOKIE_NAME].value
    led = theirs.post(reverse("sign_in_code"), {"code": code(sales, steps=1), "next": "/floor/"})
    assert led["Location"] == "/floor/"
    assert theirs.cookies[house.SESSION_COOKIE_NAME].value != key
    assert theirs.get(reverse("floor")).status_code == 200
    assert theirs.get("/api/v1/me/").status_code == 200


def test_code_is_good_once_and_wrong_ones_make_wait(client: Client, sales: Actor) -> None:
    set_up(client, sales)
    used, again = code(sales), typed_password(sales)
    assert "used already" in text_of(again.post(reverse("sign_in_code"), {"code": used}))
    right = code(sales, steps=1)
    waiting = text_of(again.post(reverse("sign_in_code"), {"code": right}))
    assert "Too many wrong codes" in waiting
    forgive(sales)
    assert again.post(reverse("sign_in_code"), {"code": right}).status_code == 302
    assert "used already" in text_of(typed_password(sales).post(reverse("sign_in_code"), {"code": right}))


def test_recovery_code_lets_in_once_and_is_logged(client: Client, sales: Actor) -> None:
    recovery = set_up(client, sales)[3]
    spoken = recovery.upper().replace("-", " ")
    assert typed_password(sales).post(reverse("sign_in_code"), {"code": spoken}).status_code == 302
    assert LogEntry.objects.get(action="factor.recovered").data == {"username": "the-sales", "left": 7}
    assert "used already" in text_of(typed_password(sales).post(reverse("sign_in_code"), {"code": recovery}))


def test_code_step_leads_to_no_other_site(client: Client, sales: Actor) -> None:
    set_up(client, sales)
    given = {"code": code(sales, steps=1), "next": "https://elsewhere.example/"}
    assert typed_password(sales).post(reverse("sign_in_code"), given)["Location"] == reverse("lot")


def test_switching_off_wants_password_and_code(client: Client, sales: Actor) -> None:
    set_up(client, sales)
    for given, field in (
        ({"own_password": "wrong", "code": code(sales, steps=1)}, "own_password"),
        ({"own_password": PASSWORD, "code": "000000"}, "code"),
    ):
        answer = client.post(reverse("switch_off_factor"), given)
        assert set(answer.context["form"].errors) == {field}
    forgive(sales)
    given = {"own_password": PASSWORD, "code": code(sales, steps=1)}
    assert client.post(reverse("switch_off_factor"), given)["Location"] == reverse("your_sign_in")
    assert not User.objects.get(pk=sales.id).has_second_factor
    assert not TOTPDevice.objects.exists()


def test_whoever_it_is_asked_of_sets_it_up_before_anything_opens(owner: Actor, sales: Actor) -> None:
    Lot.objects.update_or_create(pk=1, defaults={"second_factor": "owners"})
    theirs, mine = sign_in(Client(), sales), sign_in(Client(), owner)
    assert [theirs.get(path).status_code for path in ("/floor/", "/api/v1/me/")] == [200, 200]
    assert [mine.get(path).status_code for path in ("/floor/", "/api/v1/me/")] == [302, 403]
    assert "The lot asks it of you" in text_of(mine.get(reverse("set_up_factor")))
    set_up(mine, owner)
    assert [mine.get(path).status_code for path in ("/floor/", "/api/v1/me/")] == [200, 200]


def test_owner_sets_the_rule_with_the_password(client: Client, owner: Actor) -> None:
    sign_in(client, owner)
    for word, kept in (("wrong", "nobody"), (PASSWORD, "all")):
        client.post(reverse("change_factor_rule"), {"second_factor": "all", "own_password": word})
        assert getattr(Lot.objects.filter(pk=1).first(), "second_factor", "nobody") == kept


def test_owner_resets_the_factor_of_another_but_not_the_own(client: Client, owner: Actor, sales: Actor) -> None:
    theirs = Client()
    set_up(theirs, sales)
    sign_in(client, owner).post(reverse("reset_factor", args=[sales.id]))
    assert theirs.get(reverse("lot"))["Location"].startswith(reverse("sign_in"))
    assert typed_password(sales).get(reverse("lot")).status_code == 200
    assert LogEntry.objects.filter(action="factor.reset").exists()
    set_up(client, owner)
    answer: Any = client.post(reverse("reset_factor", args=[owner.id]))
    assert "your own second factor" in str(answer.context["reset_form"].errors)


def test_new_recovery_codes_take_the_place_of_the_old(client: Client, sales: Actor) -> None:
    old = set_up(client, sales)[0]
    assert client.post(reverse("renew_recovery_codes"), {"own_password": PASSWORD}).status_code == 200
    assert StaticToken.objects.count() == 8
    assert "not right" in text_of(typed_password(sales).post(reverse("sign_in_code"), {"code": old}))
