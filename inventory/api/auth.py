"""Who is calling: a member of staff by session, or an office program by token."""

from dataclasses import dataclass
from typing import Any

from rest_framework import exceptions
from rest_framework.authentication import BaseAuthentication, SessionAuthentication
from rest_framework.request import Request

from inventory.queries import people
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

    def authenticate_header(self, request: Request) -> str:
        return "Session"  # answers 401, not 403, to whoever is not signed in


class ApiTokenAuthentication(BaseAuthentication):
    """`Authorization: Bearer <token>`."""

    def authenticate(self, request: Request) -> tuple[Any, None] | None:
        scheme, _, token = request.headers.get("Authorization", "").partition(" ")
        if scheme.lower() != "bearer":
            return None
        actor = people.actor_of_token(token.strip())
        if actor is None:
            raise exceptions.AuthenticationFailed("This token is not known or was revoked.")
        return Program(actor), None

    def authenticate_header(self, request: Request) -> str:
        return "Bearer"
