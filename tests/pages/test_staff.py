"""Staff, tokens and settings: the owner's page."""

import re
from decimal import Decimal

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from inventory.models import ApiToken, Lot, User
from inventory.queries.people import live_token
from inventory.rules.roles import Actor, Role
from tests import build
from tests.conftest import NOW
from tests.pages.browse import sign_in, text_of

pytestmark = pytest.mark.django_db
NEW = {
    "full_name": "Bo Larkin", "username": "Bo", "email": "bo@example.org", "role": "sales",
    "password": "a fine long phrase",
}  # fmt: skip
SETTINGS = {
    "name": "Tarn Lane", "pay_within_days": "12", "aged_after_days": "60", "coverage_percent": "90",
    "carrying_cost_per_day": "$14.50", "ask_objective": "sell_by", "sell_by_percent": "60",
    "unsold_worth_percent": "75", "pay_clock": "cleared", "phone": "555 0142", "email": "lot@example.org",
    "listing_tone": "plain",
    "keep_licence_copies": "on", "licence_copy_days": "14", "drive_waiver": "I come straight back.",
    "brought_in_percent": "10", "sold_percent": "12.5",
}  # fmt: skip


def member(actor: Actor, **changes: str) -> dict[str, str]:
    row = User.objects.get(pk=actor.id)
    return {"full_name": row.full_name, "email": row.email, "role": row.role, "is_active": "on", **changes}


def test_owner_adds_somebody_who_may_sign_in(client: Client, owner: Actor) -> None:
    response = sign_in(client, owner).post(reverse("staff"), NEW, follow=True)
    assert "Bo Larkin may sign in as bo." in text_of(response)
    assert NEW["password"] not in response.content.decode()
    assert Client().login(username="bo", password=NEW["password"])


@pytest.mark.parametrize(
    ("given", "field", "told"),
    [
        ({"username": "The-Owner"}, "username", "user name already"),
        ({"password": "short"}, "password", "too short"),
        ({"role": "consignor"}, "role", "not one of the available choices"),
        ({"full_name": ""}, "full_name", "required"),
    ],
)
def test_bad_new_member_is_told_on_the_field_and_not_added(
    client: Client, owner: Actor, given: dict[str, str], field: str, told: str
) -> None:
    response = sign_in(client, owner).post(reverse("staff"), {**NEW, **given})
    assert told in " ".join(response.context["forms"]["new"].errors[field])
    assert User.objects.count() == 1
    assert 'value="bo@example.org"' in text_of(response)


def test_deactivated_member_is_signed_out_and_stays_in_the_list(client: Client, owner: Actor, sales: Actor) -> None:
    theirs = sign_in(Client(), sales)
    given = member(sales)
    del given["is_active"]
    sign_in(client, owner).post(reverse("change_staff", args=[sales.id]), given)
    assert theirs.get(reverse("lot")).status_code == 302
    assert "may not sign in" in text_of(client.get(reverse("staff")))


def test_reset_password_works_and_signs_the_old_sessions_out(client: Client, owner: Actor, sales: Actor) -> None:
    theirs = sign_in(Client(), sales)
    given = member(sales, password="another long phrase")
    sign_in(client, owner).post(reverse("change_staff", args=[sales.id]), given)
    assert theirs.get(reverse("lot")).status_code == 302
    assert Client().login(username="the-sales", password="another long phrase")


def test_empty_password_leaves_it_as_it_is(client: Client, owner: Actor, sales: Actor) -> None:
    sign_in(client, owner).post(reverse("change_staff", args=[sales.id]), member(sales, full_name="Sam Seller"))
    row = User.objects.get(pk=sales.id)
    assert (row.full_name, row.check_password(build.PASSWORD)) == ("Sam Seller", True)


def test_only_owner_cannot_step_down_or_lock_out(client: Client, owner: Actor) -> None:
    sign_in(client, owner)
    for given in (member(owner, role="sales"), {**member(owner), "is_active": ""}):
        response = client.post(reverse("change_staff", args=[owner.id]), given)
        assert "is the only owner" in " ".join(response.context["form"].errors["role"])
    assert User.objects.get(pk=owner.id).role == Role.OWNER


def test_owner_who_changes_the_own_password_here_stays_signed_in(client: Client, owner: Actor) -> None:
    given = member(owner, password="another long phrase")
    sign_in(client, owner).post(reverse("change_staff", args=[owner.id]), given)
    assert client.get(reverse("staff")).status_code == 200


def test_unknown_member_is_nothing_here(client: Client, owner: Actor) -> None:
    assert sign_in(client, owner).get(reverse("change_staff", args=[999])).status_code == 404


def test_token_is_shown_once_works_and_is_kept_nowhere(client: Client, owner: Actor) -> None:
    response = sign_in(client, owner).post(reverse("make_token"), {"name": "Bookkeeping", "role": "sales"})
    found = re.search(r'<code class="secret">([^<]+)</code>', response.content.decode())
    assert found is not None
    row = live_token(found[1], today=timezone.localdate())
    actor = row.as_actor() if row else None
    assert actor is not None
    assert actor.role == Role.SALES
    assert "no-store" in response["Cache-Control"]
    assert found[1] not in client.get(reverse("staff")).content.decode()
    assert found[1] not in str(client.session.items()) + str(response.cookies)


def test_revoked_token_is_dead_and_a_second_revoking_finds_nothing(client: Client, owner: Actor) -> None:
    row, token = build.staffing.make_token("Bookkeeping", role="sales", by=owner, at=NOW)
    sign_in(client, owner).post(reverse("revoke_token", args=[row.pk]))
    assert live_token(token, today=timezone.localdate()) is None
    assert client.post(reverse("revoke_token", args=[row.pk])).status_code == 404


def test_token_without_a_role_is_told_and_not_made(client: Client, owner: Actor) -> None:
    response = sign_in(client, owner).post(reverse("make_token"), {"name": "Bookkeeping"})
    assert response.context["forms"]["token"].errors["role"]
    assert not ApiToken.objects.exists()


def test_settings_of_the_lot_are_kept(client: Client, owner: Actor) -> None:
    sign_in(client, owner).post(reverse("change_lot"), SETTINGS)
    lot = Lot.objects.get()
    assert (lot.name, lot.pay_within_days, lot.aged_after_days) == ("Tarn Lane", 12, 60)
    assert (lot.coverage_percent, lot.carrying_cost_per_day) == (90, Decimal("14.50"))
    assert (lot.brought_in_percent, lot.sold_percent) == (10, Decimal("12.5"))
    assert (lot.ask_objective, lot.sell_by_percent, lot.unsold_worth_percent) == ("sell_by", 60, 75)
    assert (lot.pay_clock, lot.phone, lot.email, lot.listing_tone) == (
        "cleared",
        "555 0142",
        "lot@example.org",
        "plain",
    )
    assert (lot.keep_licence_copies, lot.licence_copy_days, lot.drive_waiver) == (True, 14, "I come straight back.")
    assert "Tarn Lane" in text_of(client.get(reverse("lot")))


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"coverage_percent": "96"}, "coverage_percent"),
        ({"coverage_percent": "49"}, "coverage_percent"),
        ({"pay_within_days": "0"}, "pay_within_days"),
        ({"ask_objective": "fastest"}, "ask_objective"),
        ({"pay_clock": "never"}, "pay_clock"),
        ({"email": "at home"}, "email"),
        ({"sell_by_percent": "4"}, "sell_by_percent"),
        ({"sell_by_percent": "96"}, "sell_by_percent"),
        ({"unsold_worth_percent": "101"}, "unsold_worth_percent"),
        ({"carrying_cost_per_day": "-1"}, "carrying_cost_per_day"),
        ({"carrying_cost_per_day": "cheap"}, "carrying_cost_per_day"),
        ({"name": " "}, "name"),
    ],
)
def test_bad_setting_is_told_on_its_field_and_none_is_kept(
    client: Client, owner: Actor, given: dict[str, str], field: str
) -> None:
    response = sign_in(client, owner).post(reverse("change_lot"), {**SETTINGS, **given})
    assert set(response.context["forms"]["lot"].errors) == {field}
    assert not Lot.objects.filter(name="Tarn Lane").exists()


@pytest.mark.parametrize("name", ["staff", "make_token", "change_lot", "change_staff", "revoke_token"])
def test_only_the_owner_may(client: Client, owner: Actor, sales: Actor, intake: Actor, name: str) -> None:
    address = reverse(name, args=[owner.id] if name in {"change_staff", "revoke_token"} else [])
    assert client.post(address)["Location"].startswith(reverse("sign_in"))
    for actor in (sales, intake):
        assert sign_in(client, actor).post(address).status_code == 403


def test_staff_page_takes_as_many_queries_with_more_people(client: Client, owner: Actor) -> None:
    sign_in(client, owner)

    def count() -> int:
        with CaptureQueriesContext(connection) as captured:
            assert client.get(reverse("staff")).status_code == 200
        return len(captured)

    build.staffing.make_token("One", role="sales", by=owner, at=NOW)
    few = count()
    for number in range(6):
        build.staffing.make_token(f"More {number}", role="sales", by=owner, at=NOW)
        User.objects.create(username=f"u{number}", full_name=f"U {number}", role="sales", created_at=NOW)
    assert count() == few
