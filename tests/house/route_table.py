"""Writes who may open what into DEVELOPERS.md: `python -m tests.house.route_table`."""

import os
from collections import Counter
from collections.abc import Iterator
from itertools import groupby
from pathlib import Path

import django

DEVELOPERS = Path(__file__).resolve().parents[2] / "DEVELOPERS.md"
BEGIN = "<!-- who may open what: written by `python -m tests.house.route_table`, do not edit -->"
END = "<!-- end of who may open what -->"
if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "inventory.settings")
    django.setup()

from inventory.rules.roles import STAFF_ROLES, Role  # noqa: E402  # the settings come first
from tests.house import routes  # noqa: E402
from tests.house.routes import Route  # noqa: E402

ROOMS = {"open": "open to everybody", "link": "by private link", "staff": "screens of the staff", "api": "the API"}
RULE = "|---|---|---|---|"
Row = tuple[str, str, str, str]  # address, methods, acts, who may


def written() -> str:
    """The tables as they ought to be, by what the house says today."""
    found = routes.routes()
    tables = [_table(title, [route for route in found if route.room == room]) for room, title in ROOMS.items()]
    return "\n\n".join([_counted(found), *tables])


def kept() -> str:
    """The tables as they stand."""
    text = DEVELOPERS.read_text()
    return text[text.index(BEGIN) + len(BEGIN) : text.index(END)].strip()


def write() -> None:
    text = DEVELOPERS.read_text()
    before, after = text[: text.index(BEGIN)], text[text.index(END) :]
    DEVELOPERS.write_text(f"{before}{BEGIN}\n\n{written()}\n\n{after}")


def _counted(found: list[Route]) -> str:
    tried = Counter(cell.route.room for cell in routes.cells(found))
    methods = sum(len(set(route.acts) - {"HEAD"}) for route in found)
    cells = ", ".join(f"{tried[room]:,} {title}" for room, title in ROOMS.items())
    return (
        f"{len(found)} addresses, where each deed of an address counts as one, with {methods} methods beside HEAD.\n"
        f"The walk tries {tried.total():,} cells of person × address × method: {cells}."
    )


def _table(title: str, found: list[Route]) -> str:
    """In the order of the URLconf."""
    rows = [f"| {' | '.join(row)} |" for route in found for row in _rows(route)]
    return "\n".join([f"### {title[0].upper()}{title[1:]}", "", "| address | method | acts | who may |", RULE, *rows])


def _rows(route: Route) -> Iterator[Row]:
    """One row for all methods that ask the same."""
    address = f"`/{route.address}`"
    if route.is_nothing:
        yield address, "any", "none: nothing is here", "all staff, who get a 404"
    offered = [method for method in route.acts if method != "HEAD"]
    for acts, some in groupby(offered, key=lambda method: route.acts[method]):
        methods = list(some)
        named = " + ".join(act.value for act in acts) or f"none: {route.why}"
        yield address, " ".join(methods), named, _who(route, method=methods[0])


def _who(route: Route, *, method: str) -> str:
    if route.room == "open":
        return "everybody"
    granted = route.grants(method)
    return "all staff" if granted == set(STAFF_ROLES) else ", ".join(role.value for role in Role if role in granted)


if __name__ == "__main__":
    write()
