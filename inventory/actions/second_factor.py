"""The second factor: an authenticator app (RFC 6238, by django-otp) and recovery codes for the day the phone is lost.

Trying a code commits by itself, also where it is wrong: the wait after wrong codes and the used-up code must be kept
when the deed around it is refused.
"""

import secrets
from datetime import datetime

from django.db import transaction
from django.utils import timezone
from django.utils.crypto import salted_hmac
from django_otp import verify_token
from django_otp.models import Device
from django_otp.plugins.otp_static.models import StaticDevice, StaticToken
from django_otp.plugins.otp_totp.models import TOTPDevice

from inventory.actions import logbook, sessions
from inventory.actions.writing import change
from inventory.errors import NotFound, Refused
from inventory.models import User
from inventory.queries.sign_in import pending_device, recovery_codes_left
from inventory.rules import sign_in
from inventory.rules.roles import Act, Actor, ActorKind, require

AT_SIGN_IN = "Type the one that the app shows now, or a recovery code that you have not used yet."
SETTING_UP = "Type the one that the app shows now. If it stays wrong, set the clock of the phone right."


@transaction.atomic
def begin(*, by: Actor, at: datetime) -> TOTPDevice:
    """A new secret; it opens nothing and asks for nothing until a code of it was typed."""
    user = _own(by)
    if user.has_second_factor:
        raise Refused("factor_on", "Your second factor is on already.", mend="Switch it off first.")
    TOTPDevice.objects.filter(user=user, confirmed=False).delete()
    return TOTPDevice.objects.create(user=user, name="authenticator app", confirmed=False)


def switch_on(code: str, *, keep: str = "", by: Actor, at: datetime) -> list[str]:
    """The app shows the right code: from now on one is asked at each sign-in. Returns the recovery codes, once."""
    require(by, Act.SEE_LOT)
    device = pending_device(by.id or 0)
    if device is None:
        raise Refused("not_begun", "There is no secret to confirm.", field="code", mend="Begin again.")
    _refuse_wrong(device, code=sign_in.plain_code(code), mend=SETTING_UP)
    return _switch_on(device, keep=keep, by=by, at=at)


@transaction.atomic
def _switch_on(device: TOTPDevice, *, keep: str, by: Actor, at: datetime) -> list[str]:
    user = _own(by)
    _drop(user, but=device)
    TOTPDevice.objects.filter(pk=device.pk).update(confirmed=True)
    codes = _new_recovery_codes(user)
    change(user, has_second_factor=True)
    sessions.end_all(user, keep=keep, by=by, at=at)
    logbook.record("factor.switched_on", user, by=by, at=at, username=user.username)
    return codes


def check(code: str, *, by: Actor, at: datetime) -> Device:
    """The step after the password: the device that took the code. A code from the app or for recovery serves once."""
    require(by, Act.SEE_LOT)
    typed = sign_in.plain_code(code)
    devices = TOTPDevice if sign_in.is_from_app(typed) else StaticDevice
    device = devices.objects.filter(user_id=by.id, confirmed=True).first()
    if device is None:
        raise _wrong()
    if isinstance(device, StaticDevice):
        _refuse_wrong(device, code=_mark_of(typed))
        _log_recovery(by=by, at=at)
    else:
        _refuse_wrong(device, code=typed)
    return device


def switch_off(code: str, *, keep: str = "", by: Actor, at: datetime) -> User:
    """By oneself, with a code; the page has asked for the password."""
    check(code, by=by, at=at)
    return _switch_off(keep=keep, by=by, at=at)


@transaction.atomic
def _switch_off(*, keep: str, by: Actor, at: datetime) -> User:
    user = _own(by)
    _drop(user)
    change(user, has_second_factor=False)
    sessions.end_all(user, keep=keep, by=by, at=at)
    logbook.record("factor.switched_off", user, by=by, at=at, username=user.username)
    return user


@transaction.atomic
def reset(user_id: int, *, by: Actor, at: datetime) -> User:
    """The owner, for somebody who lost the phone and the recovery codes. They are signed out everywhere."""
    require(by, Act.MANAGE_STAFF)
    user = User.objects.select_for_update().filter(pk=user_id).first()
    if user is None:
        raise NotFound("not_found", "There is no such member of staff.", got=user_id)
    if by.kind == ActorKind.STAFF and user.pk == by.id:
        raise Refused("own_factor", "This is your own second factor.", mend="Switch it off at “Your sign-in”.")
    _drop(user)
    change(user, has_second_factor=False)
    sessions.end_all(user, by=by, at=at)
    logbook.record("factor.reset", user, by=by, at=at, username=user.username)
    return user


@transaction.atomic
def renew_recovery_codes(*, by: Actor, at: datetime) -> list[str]:
    """New ones; those until now open nothing any more."""
    user = _own(by)
    if not user.has_second_factor:
        raise Refused("factor_off", "Your second factor is off.", mend="Switch it on first.")
    StaticDevice.objects.filter(user=user).delete()
    logbook.record("factor.new_codes", user, by=by, at=at, username=user.username)
    return _new_recovery_codes(user)


def _own(by: Actor) -> User:
    require(by, Act.SEE_LOT)
    if by.kind != ActorKind.STAFF or by.id is None:
        raise Refused("no_factor", "Only a member of staff has a second factor.", mend="Sign in to set up yours.")
    return User.objects.select_for_update().get(pk=by.id)


def _drop(user: User, *, but: TOTPDevice | None = None) -> None:
    TOTPDevice.objects.filter(user=user).exclude(pk=but.pk if but else None).delete()
    StaticDevice.objects.filter(user=user).delete()


def _new_recovery_codes(user: User) -> list[str]:
    """31 letters, 10 of them: 49 bits each. Only a keyed mark of each is kept."""
    codes = [
        "".join(secrets.choice(sign_in.RECOVERY_LETTERS) for _ in range(sign_in.RECOVERY_LENGTH))
        for _ in range(sign_in.RECOVERY_CODES)
    ]
    device = StaticDevice.objects.create(user=user, name="recovery codes")
    StaticToken.objects.bulk_create(StaticToken(device=device, token=_mark_of(code)) for code in codes)
    return [sign_in.shown_code(code) for code in codes]


def _mark_of(code: str) -> str:
    return salted_hmac("inventory.recovery", code, algorithm="sha256").hexdigest()[:16]


def _refuse_wrong(device: Device, *, code: str, mend: str = AT_SIGN_IN) -> None:
    """Try a code under the row's own lock; after wrong ones each next has to wait twice as long."""
    allowed, why = device.verify_is_allowed()
    if not allowed:
        until = timezone.localtime(why["locked_until"])
        raise Refused(
            "wait", f"Too many wrong codes. The next is tried from {until:%H:%M:%S} on.", field="code",
            mend="Wait, then type the code that the app shows then.",
        )  # fmt: skip
    if verify_token(device.user, device.persistent_id, code) is None:
        raise _wrong(mend)


def _wrong(mend: str = AT_SIGN_IN) -> Refused:
    return Refused("code_wrong", "This code is not right, too old, or used already.", field="code", mend=mend)


@transaction.atomic
def _log_recovery(*, by: Actor, at: datetime) -> None:
    user = User.objects.get(pk=by.id or 0)
    left = recovery_codes_left(user.pk)
    logbook.record("factor.recovered", user, by=by, at=at, username=user.username, left=left)
