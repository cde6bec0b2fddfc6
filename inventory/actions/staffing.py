"""Staff and tokens are added, changed and revoked, by the owner."""

import secrets
from datetime import date, datetime
from typing import Any

from axes.handlers.proxy import AxesProxyHandler
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import transaction

from inventory.actions import logbook, sessions
from inventory.actions.writing import add, change, trade_day
from inventory.errors import NotFound, Refused
from inventory.models import ApiToken, User
from inventory.queries.people import digest_of
from inventory.rules.roles import STAFF_ROLES, Act, Actor, ActorKind, Role, require


@transaction.atomic
def add_staff(
    username: str, *, full_name: str, role: str, password: str, email: str = "", by: Actor, at: datetime
) -> User:
    require(by, Act.MANAGE_STAFF)
    row = User(
        username=username.strip().lower(), full_name=full_name.strip(), email=email.strip(),
        role=_staff_role(role), created_at=at,
    )  # fmt: skip
    _set_password(row, password)
    add(row)
    logbook.record("staff.added", row, by=by, at=at, username=row.username, role=row.get_role_display())
    return row


@transaction.atomic
def change_staff(user_id: int, *, values: dict[str, Any], keep: str = "", by: Actor, at: datetime) -> User:
    """Change name, role, password or whether somebody may sign in. One owner always remains.

    Another role, another password and leaving end their sessions, but the one that the owner changes their own in.
    """
    require(by, Act.MANAGE_STAFF)
    row = User.objects.select_for_update().filter(pk=user_id).first()
    if row is None:
        raise NotFound("not_found", "There is no such member of staff.", got=user_id)
    values = dict(values)
    password = values.pop("password", "")
    if "role" in values:
        _staff_role(values["role"])
    changed = {name: value for name, value in values.items() if getattr(row, name) != value}
    _keep_one_owner(row, changed=changed)
    names = sorted(changed)
    if password:
        _set_password(row, password)
        changed["password"] = row.password
        names.append("password")
    if changed:
        change(row, **changed)
        logbook.record("staff.changed", row, by=by, at=at, username=row.username, fields=", ".join(names))
    if {"role", "is_active", "password"} & set(changed):
        sessions.end_all(row, keep=keep, by=by, at=at)
    return row


@transaction.atomic
def change_own_password(old: str, *, new: str, keep: str = "", by: Actor, at: datetime) -> User:
    """Whoever is signed in changes the password they sign in with, knowing the one until now."""
    require(by, Act.SEE_LOT)
    if by.kind != ActorKind.STAFF or by.id is None:
        raise Refused("no_password", "Only a member of staff has a password.", mend="Sign in to change yours.")
    row = User.objects.select_for_update().get(pk=by.id)
    if not row.check_password(old):
        raise Refused("password_wrong", "This is not your password.", field="old", mend="Type the one you use now.")
    _set_password(row, new, field="new")
    change(row, password=row.password)
    logbook.record("staff.changed", row, by=by, at=at, username=row.username, fields="password")
    sessions.end_all(row, keep=keep, by=by, at=at)
    return row


@transaction.atomic
def make_token(
    name: str, *, role: str, reads_only: bool = False, expires_on: date | None = None, by: Actor, at: datetime
) -> tuple[ApiToken, str]:
    """A key for an office program; it is shown only now."""
    require(by, Act.MANAGE_STAFF)
    if by.id is None:
        raise Refused("no_maker", "A token is made by a member of staff.", mend="Sign in to make it.")
    if expires_on is not None and expires_on < trade_day(at):
        raise Refused(
            "expired", f"{expires_on} is over.", field="expires_on", got=expires_on, mend="Give a day to come."
        )
    token = secrets.token_urlsafe(32)
    row = add(
        ApiToken(
            name=name.strip(), role=_staff_role(role), prefix=token[:8], digest=digest_of(token),
            made_by_id=by.id, made_at=at, reads_only=reads_only, expires_on=expires_on,
        )
    )  # fmt: skip
    limits = (", to read only" if reads_only else "") + (f", until {expires_on}" if expires_on else "")
    logbook.record("token.made", row, by=by, at=at, prefix=row.prefix, role=row.get_role_display(), limits=limits)
    return row, token


def note_token_use(token_id: int, *, on: date) -> None:
    """The day a token was last used on, for whoever wonders which are still needed. It leaves no line in the log."""
    ApiToken.objects.filter(pk=token_id).update(last_used_on=on)


@transaction.atomic
def revoke_token(token_id: int, *, by: Actor, at: datetime) -> ApiToken:
    require(by, Act.MANAGE_STAFF)
    row = ApiToken.objects.select_for_update().filter(pk=token_id, revoked_at__isnull=True).first()
    if row is None:
        raise NotFound("not_found", "There is no such live token.", got=token_id)
    change(row, revoked_at=at)
    logbook.record("token.revoked", row, by=by, at=at, prefix=row.prefix)
    return row


@transaction.atomic
def lift_wait(user_id: int, *, by: Actor, at: datetime) -> User:
    """Too many wrong passwords, and the one they belong to stands at the desk: they may try again at once."""
    require(by, Act.MANAGE_STAFF)
    row = User.objects.filter(pk=user_id).first()
    if row is None:
        raise NotFound("not_found", "There is no such member of staff.", got=user_id)
    AxesProxyHandler.reset_attempts(username=row.username)
    logbook.record("sign_in.lifted", row, by=by, at=at, username=row.username)
    return row


def _staff_role(role: str) -> str:
    if role not in STAFF_ROLES:
        raise Refused(
            "role_unknown", f"“{role}” is no role of staff.", field="role", got=role,
            mend=f"Give one of {', '.join(STAFF_ROLES)}.",
        )  # fmt: skip
    return Role(role).value


def _set_password(row: User, password: str, *, field: str = "password") -> None:
    try:
        validate_password(password, user=row)
    except ValidationError as problem:
        raise Refused(
            "password_weak", " ".join(problem.messages), field=field, mend="Choose a longer one."
        ) from problem
    row.set_password(password)


def _keep_one_owner(row: User, *, changed: dict[str, Any]) -> None:
    loses = changed.get("is_active") is False or changed.get("role", Role.OWNER) != Role.OWNER
    if row.role != Role.OWNER or not loses:
        return
    others = User.objects.filter(role=Role.OWNER, is_active=True).exclude(pk=row.pk)
    if not others.exists():
        raise Refused(
            "last_owner", f"{row} is the only owner.", field="role", mend="Make somebody else an owner first."
        )
