"""Who is signed in where, what they still owe, and who has to wait."""

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from axes.models import AccessAttempt
from django.db.models import Max, Sum
from django_otp.plugins.otp_static.models import StaticToken
from django_otp.plugins.otp_totp.models import TOTPDevice

from inventory.models import Lot, StaffSession, User
from inventory.queries.facts import the_lot
from inventory.rules import sign_in, throttle
from inventory.rules.sign_in import Owed

WAIT = timedelta(seconds=throttle.SIGN_IN_WAIT)


def digest_of_session(key: str) -> str:
    """What is kept of a session's key. It has more than 128 bits of its own, so a plain hash is enough."""
    return hashlib.sha256(f"session:{key}".encode()).hexdigest()


def owed_by(user: Any, *, lot: Lot | None = None) -> Owed | None:
    """What a signed-in member of staff still owes. The one place that says so, for pages and API."""
    rule = "nobody" if user.has_second_factor else (lot or the_lot()).second_factor
    return sign_in.owed(
        has_factor=user.has_second_factor, is_verified=user.is_verified(), role=user.role, rule=rule
    )  # fmt: skip


@dataclass(frozen=True)
class Seen:
    """A session as a list shows it."""

    row: StaffSession
    is_this: bool
    same_network: bool


def sessions_of(user_id: int, *, this: str, network: str, at: datetime) -> list[Seen]:
    rows = StaffSession.objects.filter(user_id=user_id, made_at__gt=at - sign_in.SESSION_LIFE)
    return [Seen(row, row.digest == this, row.network == network) for row in rows.order_by("-seen_at", "-pk")]


def pending_device(user_id: int) -> TOTPDevice | None:
    """A second factor that was begun and no code has confirmed yet."""
    return TOTPDevice.objects.filter(user_id=user_id, confirmed=False).order_by("-pk").first()


def recovery_codes_left(user_id: int) -> int:
    count: int = StaticToken.objects.filter(device__user_id=user_id, device__confirmed=True).count()
    return count


def waits(at: datetime) -> dict[str, datetime]:
    """Until when a name has to wait, in browsers that are not known for it or in one that is, for all that have to."""
    counted = AccessAttempt.objects.filter(attempt_time__gt=at - WAIT).order_by().values("username", "user_agent")
    found = counted.annotate(count=Sum("failures_since_start"), last=Max("attempt_time")).order_by("last")
    return {row["username"]: row["last"] + WAIT for row in found if row["count"] >= throttle.ACCOUNT_FAILED}


def passwords_of(user_ids: Iterable[int]) -> dict[int, tuple[str, str]]:
    """User name and a keyed hash of the password, which is another one as soon as the password is."""
    rows = User.objects.filter(pk__in=list(user_ids)).only("username", "password")
    return {row.pk: (row.username, row.get_session_auth_hash()) for row in rows}


def id_of(username: str) -> int | None:
    found = User.objects.filter(username=username.strip().lower()).values_list("pk", flat=True)
    return found.first()
