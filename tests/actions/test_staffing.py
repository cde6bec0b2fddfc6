"""Staff and tokens: made, changed, revoked; one owner always remains."""

from datetime import datetime

import pytest
from django.utils import timezone

from inventory.actions import staffing
from inventory.errors import NotAllowed, NotFound, Refused
from inventory.models import ApiToken, User
from inventory.queries.people import live_token
from inventory.rules.roles import Actor, Role
from tests import build

pytestmark = pytest.mark.django_db


def add(by: Actor, at: datetime, **changes: str) -> User:
    given = {"full_name": "Ines Quarles", "role": "intake", "password": build.PASSWORD, **changes}
    return staffing.add_staff(given.pop("username", "Ines"), by=by, at=at, **given)  # type: ignore[arg-type]


def test_user_names_do_not_differ_by_case_alone(owner: Actor, at: datetime) -> None:
    assert add(owner, at).username == "ines"
    with pytest.raises(Refused, match="already"):
        add(owner, at, username="INES")


@pytest.mark.parametrize(
    ("change", "field"),
    [({"role": "boss"}, "role"), ({"role": "consignor"}, "role"), ({"password": "short"}, "password")],
)
def test_impossible_staff_is_refused(owner: Actor, at: datetime, change: dict[str, str], field: str) -> None:
    with pytest.raises(Refused) as refusal:
        add(owner, at, **change)
    assert refusal.value.field == field


def test_changes_are_logged_without_the_password(owner: Actor, at: datetime) -> None:
    row = add(owner, at)
    changed = staffing.change_staff(
        row.pk, values={"role": "sales", "password": "another pass phrase"}, by=owner, at=at
    )
    assert changed.role == Role.SALES
    assert changed.check_password("another pass phrase")
    assert staffing.change_staff(row.pk, values={"role": "sales"}, by=owner, at=at).role == Role.SALES


def test_last_owner_stays(owner: Actor, at: datetime) -> None:
    assert owner.id is not None
    for values in ({"is_active": False}, {"role": "sales"}):
        with pytest.raises(Refused) as refusal:
            staffing.change_staff(owner.id, values=values, by=owner, at=at)
        assert refusal.value.code == "last_owner"
    add(owner, at, role="owner")
    assert staffing.change_staff(owner.id, values={"is_active": False}, by=owner, at=at).is_active is False


def test_unknown_member_of_staff_is_not_found(owner: Actor, at: datetime) -> None:
    with pytest.raises(NotFound):
        staffing.change_staff(999, values={}, by=owner, at=at)


def test_token_opens_until_it_is_revoked_and_is_not_stored(owner: Actor, at: datetime) -> None:
    row, token = staffing.make_token("Accounts", role="sales", by=owner, at=at)
    row = live_token(token, today=timezone.localdate())
    actor = row.as_actor() if row else None
    assert actor is not None
    assert (actor.role, actor.name) == (Role.SALES, "Accounts")
    assert token not in str(ApiToken.objects.values().get())
    staffing.revoke_token(row.pk, by=owner, at=at)
    assert live_token(token, today=timezone.localdate()) is None
    with pytest.raises(NotFound):
        staffing.revoke_token(row.pk, by=owner, at=at)


def test_only_owners_make_tokens_and_only_signed_in_ones(sales: Actor, at: datetime) -> None:
    with pytest.raises(NotAllowed):
        staffing.make_token("x", role="owner", by=sales, at=at)
    with pytest.raises(Refused, match="member of staff"):
        staffing.make_token("x", role="owner", by=build.BUILDER, at=at)
