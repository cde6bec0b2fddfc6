"""Every address of the house with what stands at its door, read from the URLconf: nothing here is listed by hand."""

import inspect
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, NamedTuple

from django.urls import URLPattern, URLResolver, get_resolver
from django.urls.resolvers import RegexPattern

from inventory.api.views.base import Guarded
from inventory.pages.access import Door
from inventory.rules.roles import GRANTS, STAFF_ROLES, Act, Role

METHODS = ("GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS")
Acts = tuple[Act, ...]  # all of them are needed; none at all: it is open


class Unnamed(AssertionError):
    """An address that does not say who may open it."""


@dataclass(frozen=True)
class Route:
    """One address, or one deed of it. `acts` has the methods that it takes and no other."""

    name: str
    address: str
    acts: dict[str, Acts]
    room: str  # "open", "link", "staff", "api"
    why: str = ""
    deed: str = ""
    is_nothing: bool = False  # the answer to whatever has no address in the API
    signs_in: bool = False  # of the API, but made for a browser: sends people to sign in

    def __str__(self) -> str:
        return self.address

    def grants(self, method: str) -> frozenset[Role]:
        """Roles to which all acts are granted."""
        return frozenset(role for role in Role if all(role in GRANTS[act] for act in self.acts[method]))


class Cell(NamedTuple):
    """One try: somebody, one method, one address."""

    who: str
    method: str
    route: Route


STAFF = tuple(f"{role.value} by session" for role in STAFF_ROLES)
PROGRAMS = tuple(f"{role.value} by token" for role in STAFF_ROLES)
STRANGER, OWN_LINK, OTHER_LINK = "stranger", "consignor by link", "consignor of another"


def routes() -> list[Route]:
    return of_patterns(get_resolver().url_patterns)


def of_patterns(patterns: list[URLPattern | URLResolver]) -> list[Route]:
    return [route for pattern, address in patterns_below(patterns) for route in _of(pattern, address)]


def cells(found: list[Route]) -> Iterator[Cell]:
    """All that the walk tries."""
    return (
        Cell(who, method, route) for route in found for method in METHODS for who in _tried_by(route, method=method)
    )


def _tried_by(route: Route, *, method: str) -> tuple[str, ...]:
    """Everybody, by what is offered. What is not offered is the same to all, and so is HEAD: some will do."""
    programs = PROGRAMS if route.room == "api" else ()
    if method not in route.acts:
        return STRANGER, OWN_LINK, [*STAFF, *programs][-1]
    if method == "HEAD":
        return STRANGER, OWN_LINK, STAFF[0]
    return STRANGER, OWN_LINK, OTHER_LINK, *STAFF, *programs


def patterns_below(patterns: list[URLPattern | URLResolver], before: str = "") -> Iterator[tuple[URLPattern, str]]:
    for one in patterns:
        address = before + _plain(one)
        if isinstance(one, URLResolver):
            yield from patterns_below(one.url_patterns, address)
        else:
            yield one, address


def _plain(one: URLPattern | URLResolver) -> str:
    """As people write it; what an expression stands for becomes an ellipsis."""
    text = str(one.pattern)
    if isinstance(one.pattern, RegexPattern):
        return re.split(r"[.\[(\\$]", text.removeprefix("^"))[0] + "…"
    return re.sub(r"<(?:\w+:)?(\w+)>", r"<\1>", text)


def _of(pattern: URLPattern, address: str) -> list[Route]:
    view: Any = pattern.callback
    name = str(pattern.name or "")
    if issubclass(getattr(view, "view_class", object), Guarded):
        return [_of_api(view.view_class, name=name, address=address)]
    door = getattr(view, "door", None)
    if not isinstance(door, Door):
        raise Unnamed(f"/{address} does not say who may open it: see inventory/pages/access.py.")
    taken = [method for method in METHODS if method in door.acts and method in _narrowed(view)]
    room = "open" if door.why else "link" if door.by_link else "staff"
    return [
        Route(
            name, address.replace("<deed>", deed or "<deed>"), {one: door.asks(one, deed=deed) for one in taken},
            room, why=door.why, deed=deed,
        )
        for deed in door.deeds or [""]
    ]  # fmt: skip


def _of_api(view: type[Guarded], *, name: str, address: str) -> Route:
    acts = {method.upper(): (act,) for method, act in view.acts.items()}
    if "GET" in acts:
        acts["HEAD"] = acts["GET"]
    acts = {method: acts[method] for method in METHODS if method in acts}
    return Route(name, address, acts, "api", is_nothing=not acts, signs_in=view.signs_in)


def _narrowed(view: Callable[..., Any]) -> set[str]:
    """What Django's own method decorators let through: they keep their list to themselves."""
    left, layer = set(METHODS), view
    while layer is not None:
        kept = inspect.getclosurevars(layer).nonlocals.get("request_method_list")
        left &= set(METHODS if kept is None else kept)
        layer = getattr(layer, "__wrapped__", None)  # type: ignore[assignment]
    return left
