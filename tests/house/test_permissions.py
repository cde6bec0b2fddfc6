"""Everybody at every address by every method. What is expected comes from the doors and the grants alone."""

import logging
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings as house
from django.core.exceptions import ImproperlyConfigured
from django.http import HttpResponse
from django.urls import path
from pytest_django import Settings
from rest_framework.response import Response

from inventory.api.views.base import Answering
from inventory.errors import NotAllowed
from inventory.models import LogEntry
from inventory.rules.roles import GRANTS, Act, Actor, ActorKind, Role, command, may, require
from tests.house import lot as lots
from tests.house import route_table, routes
from tests.house.lot import Lot
from tests.house.routes import Cell, Unnamed

FOUND = routes.routes()
SAFE = {"GET", "HEAD", "OPTIONS"}
NOTES_THAT_IT_WAS_OPENED = {"open_link"}


@pytest.fixture
def lot(settings: Settings, tmp_path: Path, db: None) -> Iterator[Lot]:
    Path(house.STATIC_ROOT).mkdir(parents=True, exist_ok=True)
    settings.MEDIA_ROOT = tmp_path
    built = lots.built()
    logging.disable()  # thousands of refusals
    yield built
    logging.disable(logging.NOTSET)


def expected(cell: Cell) -> str:
    """In one word, from the table."""
    who, method, route = cell
    is_staff = who in routes.STAFF or (who in routes.PROGRAMS and not route.signs_in)
    if route.room == "api" and not is_staff and not route.signs_in:
        return "unknown"
    if route.is_nothing:
        return "nothing"
    if method not in route.acts:
        return "no method"
    if route.room == "open":
        return "in"
    if route.room == "link":
        return "in" if who == routes.OWN_LINK else "nothing"
    if not is_staff:
        return "sign in"
    return "in" if Role(who.split()[0]) in route.grants(method) else "refused"


def got(response: Any) -> str:
    if response.status_code == 302 and response["Location"].startswith("/sign-in/?next="):
        return "sign in"
    return {401: "unknown", 403: "refused", 405: "no method"}.get(response.status_code, "in")


@pytest.mark.parametrize("rooms", ["open link", "staff", "api"])
def test_everybody_gets_what_the_table_says(lot: Lot, rooms: str) -> None:
    wrong: list[str] = []
    for cell in routes.cells([route for route in FOUND if route.room in rooms.split()]):
        wrong += [f"{cell.who}, {cell.method} {cell.route}: {fault}" for fault in faults(cell, lot=lot)]
    assert not wrong, "\n".join(wrong)


def faults(cell: Cell, *, lot: Lot) -> Iterator[str]:
    response, written = lot.ask(cell)
    wanted, status = expected(cell), response.status_code
    told = "nothing" if wanted == "nothing" and status == 404 else got(response)
    if told != wanted or status >= 500:
        yield f"{wanted}, got {status}"
    # What was refused leaves every row as it was, and so does whatever is only looked at.
    if written and (wanted != "in" or cell.method in SAFE) and cell.route.name not in NOTES_THAT_IT_WAS_OPENED:
        yield f"writes, and may not: {written[0][:60]}"
    if cell.route.room == "link" and wanted == "in" and cell.method == "GET" and status != 200:
        yield f"its own consignor is not let in: {status}"


def test_the_walk_sees_what_is_written_and_undoes_it(lot: Lot) -> None:
    before = LogEntry.objects.count()
    (begin,) = [route for route in FOUND if route.name == "start_rota"]
    _, written = lot.ask(Cell(routes.STAFF[-1], "POST", begin))
    assert [sql for sql in written if "inventory_logentry" in sql]
    assert LogEntry.objects.count() == before


def test_an_address_that_names_nothing_fails() -> None:
    with pytest.raises(Unnamed, match="/nobody/knows/ does not say who may open it"):
        routes.of_patterns([path("nobody/knows/", lambda request: HttpResponse())])


def test_a_method_without_an_act_stops_the_start() -> None:
    class Forgotten(Answering):
        acts = {"get": Act.SEE_LOT}

        def get(self, request: Any) -> Response:
            return Response()

        post = get

    with pytest.raises(ImproperlyConfigured, match=r"Forgotten must name one act for each method, see \['post'\]"):
        Forgotten.as_view()


@pytest.mark.parametrize("act", list(Act))
def test_every_act_is_granted_to_somebody(act: Act) -> None:
    assert GRANTS[act]


def test_a_refusal_says_whom_to_ask() -> None:
    ines = Actor(kind=ActorKind.STAFF, role=Role.INTAKE, name="Ines")
    with pytest.raises(NotAllowed, match=r"Intake staff may not set the ask\. Ask owner\."):
        require(ines, Act.SET_ASK)


def test_a_command_acts_as_owner() -> None:
    assert may(command("fit"), Act.APPROVE_SETTLEMENT)
    assert not may(command("fit"), Act.SEE_STATUS)


def test_the_table_for_developers_is_up_to_date() -> None:
    assert route_table.kept() == route_table.written(), "Run: python -m tests.house.route_table"
