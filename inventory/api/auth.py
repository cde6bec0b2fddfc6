"""Who is calling: a member of staff by session, or an office program by token."""

from dataclasses import dataclass
from typing import Any

from django.utils import timezone
from rest_framework import exceptions
from rest_framework.authentication import BaseAuthentication, SessionAuthentication
from rest_framework.permissions import SAFE_METHODS, BasePermission, IsAuthenticated
from rest_framework.request import Request

from inventory.actions import staffing
from inventory.errors import NotAllowed
from inventory.queries import people
from inventory.queries.sign_in import owed_by
from inventory.rules import sign_in
from inventory.rules.roles import Actor


@dataclass(frozen=True)
class Program:
    """An office program, in the place of a user."""

    actor: Actor
    is_authenticated: bool = True
    is_active: bool = True

    @property
    def pk(self) -> int | None:
        return self.actor.id

    def as_actor(self) -> Actor:
        return self.actor


def actor_of(request: Request) -> Actor:
    """Whoever calls. Only signed-in staff and programs with a token come this far."""
    caller: Any = request.user
    actor: Actor = caller.as_actor()
    return actor


class StaffSessionAuthentication(SessionAuthentication):
    """The browser session of a signed-in member of staff; writes need the CSRF token."""

    def authenticate(self, request: Request) -> tuple[Any, None] | None:
        found: tuple[Any, None] | None = super().authenticate(request)
        if found is not None and (owed := owed_by(found[0])) is not None:
            raise NotAllowed(
                "sign_in_unfinished", f"Your sign-in still wants {owed.label}.", mend="Finish it in the browser."
            )
        return found

    def authenticate_header(self, request: Request) -> str:
        return "Session"  # answers 401, not 403, to whoever is not signed in


class PasswordTypedLately(BasePermission):
    """For writes about money by a browser's session. Programs type no password: their token is asked every time."""

    def has_permission(self, request: Request, view: Any) -> bool:
        if request.method in SAFE_METHODS or isinstance(request.user, Program):
            return True
        if sign_in.is_fresh(request.session.get(sign_in.STAMP, {}), now=timezone.now()):
            return True
        raise NotAllowed(
            "password_again", "It is a while since you typed your password here.",
            mend="Do it on the vehicle's settlement page, which asks for it.",
        )  # fmt: skip


MOVING_MONEY = [IsAuthenticated, PasswordTypedLately]


class ApiTokenAuthentication(BaseAuthentication):
    """`Authorization: Bearer <token>`."""

    def authenticate(self, request: Request) -> tuple[Any, None] | None:
        scheme, _, token = request.headers.get("Authorization", "").partition(" ")
        if scheme.lower() != "bearer":
            return None
        today = timezone.localdate()
        row = people.live_token(token.strip(), today=today)
        if row is None:
            raise exceptions.AuthenticationFailed("This token is not known, was revoked, or its time is over.")
        if row.reads_only and request.method not in SAFE_METHODS:
            raise NotAllowed(
                "reads_only", "This token reads and never writes.", mend="Ask the owner for one that may write."
            )
        if row.last_used_on != today:
            staffing.note_token_use(row.pk, on=today)
        return Program(row.as_actor()), None

    def authenticate_header(self, request: Request) -> str:
        return "Bearer"
