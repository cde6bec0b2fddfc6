"""What the second factor and the ending of sessions refuse."""

from collections.abc import Callable
from datetime import datetime

import pytest

from inventory.actions import second_factor, sessions, staffing
from inventory.errors import NotAllowed, NotFound, Refused
from inventory.models import User
from inventory.rules.roles import Actor, command

pytestmark = pytest.mark.django_db


def test_code_is_not_asked_of_whoever_has_no_factor(sales: Actor, at: datetime) -> None:
    for code in ("123456", "abcde-fghjk"):
        with pytest.raises(Refused, match="not right"):
            second_factor.check(code, by=sales, at=at)


def test_nothing_is_switched_on_before_it_was_begun_nor_begun_twice(sales: Actor, at: datetime) -> None:
    with pytest.raises(Refused, match="no secret to confirm"):
        second_factor.switch_on("123456", by=sales, at=at)
    User.objects.update(has_second_factor=True)
    with pytest.raises(Refused, match="is on already"):
        second_factor.begin(by=sales, at=at)


def test_no_recovery_codes_without_a_factor(sales: Actor, at: datetime) -> None:
    with pytest.raises(Refused, match="is off"):
        second_factor.renew_recovery_codes(by=sales, at=at)


def test_command_has_no_factor_of_its_own_but_resets_anybodys(owner: Actor, at: datetime) -> None:
    with pytest.raises(Refused, match="Only a member of staff"):
        second_factor.begin(by=command("reset_factor"), at=at)
    User.objects.update(has_second_factor=True)
    second_factor.reset(owner.id or 0, by=command("reset_factor"), at=at)
    assert not User.objects.get().has_second_factor


@pytest.mark.parametrize(
    "deed",
    [
        lambda by, at: second_factor.reset(999, by=by, at=at),
        lambda by, at: staffing.lift_wait(999, by=by, at=at),
        lambda by, at: sessions.end_all_of(999, keep="", by=by, at=at),
        lambda by, at: sessions.end_one(999, keep="", by=by, at=at),
    ],
)
def test_nobody_unknown_is_reset_let_in_or_signed_out(
    owner: Actor, at: datetime, deed: Callable[[Actor, datetime], object]
) -> None:
    with pytest.raises(NotFound):
        deed(owner, at)


def test_only_the_owner_signs_others_out_or_resets_them(owner: Actor, sales: Actor, at: datetime) -> None:
    them = User.objects.get(pk=owner.id)
    with pytest.raises(NotAllowed):
        sessions.end_all(them, by=sales, at=at)
    with pytest.raises(NotAllowed):
        second_factor.reset(them.pk, by=sales, at=at)
