"""What stands at the door is what the action behind it asks: read off the code itself, whatever is sent."""

import ast
import inspect
import textwrap
from collections.abc import Iterator
from functools import cache
from types import FunctionType, ModuleType
from typing import Any

from django.urls import get_resolver

from inventory.api.views.base import Guarded
from inventory.pages.access import Door
from inventory.rules.roles import GRANTS, Act
from tests.house import routes

ENTRIES = ("inventory.pages", "inventory.api.views")
FOLLOWED = (*ENTRIES, "inventory.actions", "inventory.queries")
BY_WHO = {
    "status_mail",  # staff and consignor choose by one action, each by an act of their own
    "end_other_sessions",  # one's own; those of somebody else ask more
}
BY_THE_MOVE = {"listing"}  # its act stands in the table of moves


@cache
def tree_of(function: FunctionType) -> ast.AST:
    return ast.parse(textwrap.dedent(inspect.getsource(function)))


def acts_behind(entry: Any, *, of: type | None = None) -> set[Act]:
    """Every act that is asked by name, by whatever the entry calls in its own module, in actions and in queries."""
    return {act for function in _reached(entry, of, set()) for act in _asked_in(function)}


def _reached(entry: Any, of: type | None, seen: set[Any]) -> Iterator[FunctionType]:
    function = inspect.unwrap(entry) if callable(entry) else entry
    if not isinstance(function, FunctionType) or function in seen or not function.__module__.startswith(FOLLOWED):
        return
    seen.add(function)
    yield function
    for node in ast.walk(tree_of(function)):
        found = _meant(node, function=function, of=of)
        if getattr(found, "__module__", None) == function.__module__ or function.__module__.startswith(ENTRIES):
            yield from _reached(found, of, seen)


def _meant(node: ast.AST, *, function: FunctionType, of: type | None) -> Any:
    if isinstance(node, ast.Name):
        return function.__globals__.get(node.id)
    if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
        if node.value.id == "self":
            return getattr(of, node.attr, None)
        module = function.__globals__.get(node.value.id)
        return getattr(module, node.attr, None) if isinstance(module, ModuleType) else None
    return None


def _asked_in(function: FunctionType) -> Iterator[Act]:
    for node in ast.walk(tree_of(function)):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "require":
            act = node.args[1]
            if isinstance(act, ast.Attribute) and act.attr in Act.__members__:
                yield Act[act.attr]


def _views() -> list[tuple[str, Any]]:
    return [(str(pattern.name), pattern.callback) for pattern, _ in routes.patterns_below(get_resolver().url_patterns)]


API = [(name, view.view_class) for name, view in _views() if issubclass(getattr(view, "view_class", object), Guarded)]
PAGES = [(name, view) for name, view in _views() if isinstance(getattr(view, "door", None), Door)]


def test_every_view_of_the_api_names_the_act_that_its_action_asks() -> None:
    wrong = []
    for name, view in API:
        for method, act in view.acts.items():
            entries = ("row", "rows") if method == "get" else (method,)
            asked = set[Act]().union(*(acts_behind(getattr(view, entry, None), of=view) for entry in entries))
            stops = {one for one in asked if not GRANTS[act] <= GRANTS[one]}
            is_read = method == "get" and not asked  # the door alone asks
            if stops or not (is_read or act in asked or name in BY_THE_MOVE):
                wrong.append((method, name, act, asked))
    assert wrong == []


def test_nobody_passes_the_door_of_a_page_and_is_stopped_by_its_action() -> None:
    wrong = []
    for name, view in PAGES:
        if name in BY_WHO:
            continue
        writes = {act for method, act in view.door.acts.items() if act and method not in {"GET", "HEAD"}}
        asked = acts_behind(view)
        wrong += [(name, act, one) for act in writes for one in asked if not GRANTS[act] <= GRANTS[one]]
    assert wrong == []
