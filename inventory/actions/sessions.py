"""Browsers in which staff are signed in: noted, ended, cleared.

Noting one is bookkeeping, as the pieces of an upload are: it leaves no line in the log, ending one does.
"""

from collections.abc import Collection
from datetime import datetime

from axes.models import AccessAttempt
from django.contrib.sessions.models import Session
from django.db import transaction
from django.db.models import F

from inventory.actions import logbook
from inventory.errors import NotFound
from inventory.models import StaffSession, User
from inventory.queries.sign_in import WAIT, digest_of_session
from inventory.rules import sign_in
from inventory.rules.roles import Act, Actor, may, require


@transaction.atomic
def note(digest: str, *, was: str = "", user_id: int, browser: str, network: str, at: datetime) -> None:
    """Somebody signed in here, or is still here. A key that was changed for a new one goes on in the same row."""
    seen = {"digest": digest, "seen_at": at, "browser": browser, "network": network}
    for known in filter(None, (digest, was)):
        if StaffSession.objects.filter(digest=known, user_id=user_id).update(**seen):
            return
    row = StaffSession(user_id=user_id, made_at=at, **seen)
    StaffSession.objects.bulk_create([row], ignore_conflicts=True)  # two requests at once are one session


def forget(digest: str) -> None:
    """Somebody signed out."""
    StaffSession.objects.filter(digest=digest).delete()


def count_wrong(digest: str) -> int:
    """One more wrong password by somebody who is signed in; how many that makes since the last right one."""
    StaffSession.objects.filter(digest=digest).update(wrong_tries=F("wrong_tries") + 1)
    return StaffSession.objects.filter(digest=digest).values_list("wrong_tries", flat=True).first() or 0


def count_right(digest: str) -> None:
    StaffSession.objects.filter(digest=digest).update(wrong_tries=0)


@transaction.atomic
def end_one(session_id: int, *, keep: str, by: Actor, at: datetime) -> User:
    """Sign one browser out, but never the one it is done in: one's own, or by the owner anybody's. Returns whose."""
    require(by, Act.SEE_LOT)
    row = StaffSession.objects.select_related("user").filter(pk=session_id).exclude(digest=keep).first()
    if row is None or (row.user_id != by.id and not may(by, Act.MANAGE_STAFF)):
        raise NotFound("not_found", "There is no such session.", got=session_id)
    _end([row.digest], user=row.user, by=by, at=at)
    return row.user


@transaction.atomic
def end_all(user: User, *, keep: str = "", by: Actor, at: datetime) -> int:
    """Sign somebody out everywhere but in the one browser that is kept; how many that were."""
    if user.pk != by.id:
        require(by, Act.MANAGE_STAFF)
    digests = list(StaffSession.objects.filter(user=user).exclude(digest=keep).values_list("digest", flat=True))
    _end(digests, user=user, by=by, at=at)
    return len(digests)


@transaction.atomic
def end_others(*, keep: str, by: Actor, at: datetime) -> int:
    """One's own, everywhere else."""
    require(by, Act.SEE_LOT)
    return end_all(User.objects.get(pk=by.id or 0), keep=keep, by=by, at=at)


@transaction.atomic
def end_all_of(user_id: int, *, keep: str, by: Actor, at: datetime) -> int:
    """By the owner: a member of staff, everywhere."""
    require(by, Act.MANAGE_STAFF)
    user = User.objects.filter(pk=user_id).first()
    if user is None:
        raise NotFound("not_found", "There is no such member of staff.", got=user_id)
    return end_all(user, keep=keep, by=by, at=at)


def _end(digests: Collection[str], *, user: User, by: Actor, at: datetime) -> None:
    """The key itself is nowhere but in Django's own table: it is looked for among those that are still good."""
    if not digests:
        return
    ended = set(digests)
    live = Session.objects.filter(expire_date__gt=at).values_list("session_key", flat=True)
    keys = [key for key in live.iterator() if digest_of_session(key) in ended]
    Session.objects.filter(session_key__in=keys).delete()
    StaffSession.objects.filter(digest__in=ended).delete()
    logbook.record("sessions.ended", user, by=by, at=at, username=user.username, count=len(ended))


def clear_sessions(*, by: Actor, at: datetime) -> int:
    """Rows of sessions that are too old to open anything, and wrong passwords that count no more."""
    require(by, Act.MANAGE_STAFF)
    AccessAttempt.objects.filter(attempt_time__lt=at - WAIT).delete()
    return StaffSession.objects.filter(made_at__lt=at - sign_in.SESSION_LIFE).delete()[0]
