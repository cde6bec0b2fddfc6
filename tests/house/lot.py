"""One lot with something behind the doors, and everybody who may knock."""

import uuid
from collections.abc import Callable
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import connection, transaction
from django.test import Client
from PIL import Image

from inventory.actions import filming, linking, recording, releasing, staffing
from inventory.actions.releasing import ReleaseReceipt
from inventory.models import Clip, Consignment, Photo, User
from inventory.pages.by_link import cookie_name
from inventory.rules.roles import STAFF_ROLES, Role
from inventory.rules.signatures import Signature
from inventory.rules.states import State
from inventory.uploads import CleanPicture, clean_clip
from tests import build, receipts
from tests.api import rows
from tests.api.conftest import NOW
from tests.house import routes
from tests.house.routes import Cell
from tests.uploads import films

WRITES = ("INSERT", "UPDATE", "DELETE", "REPLACE")
# A session's end, counted tries and the day a token was last used are no records.
NOT_OURS = ("django_session", "inventory_cache", 'UPDATE "inventory_apitoken" SET "last_used_on"')


@dataclass(frozen=True)
class Caller:
    """A browser or a program. What an answer does to its cookies is undone before the next try."""

    client: Client
    cookies: dict[str, str]


@dataclass(frozen=True)
class Lot:
    callers: dict[str, Caller]
    found: dict[str, Any]  # what stands for a name in an address; `route.name` where a route has its own

    def address(self, cell: Cell) -> str:
        """With real rows in it, wherever there are some."""
        first, *parts = cell.route.address.replace("…", "no-such-thing/").split("<")
        pairs = [part.split(">", 1) for part in parts]
        return "/" + first + "".join(f"{self._value(cell, name)}{rest}" for name, rest in pairs)

    def _value(self, cell: Cell, name: str) -> Any:
        return self.found.get(f"{cell.route.name}.{name}", self.found.get(name, 1))

    def ask(self, cell: Cell) -> tuple[Any, list[str]]:
        """What comes back, and each write to the lot's records on the way. Nothing of it stays."""
        caller, written = self.callers[cell.who], list[str]()
        caller.client.cookies.clear()
        caller.client.cookies.load(caller.cookies)
        with transaction.atomic(), connection.execute_wrapper(_noting(written)):
            response = caller.client.generic(cell.method, self.address(cell))
            if response.streaming:  # a file is closed when it is read to its end
                b"".join(response.streaming_content)
            transaction.set_rollback(True)
        return response, written


def built() -> Lot:
    states = (State.LISTED, State.SETTLED, State.WITHDRAWN, State.LISTED)
    here, paid, back, other = (build.consignment(state, at=NOW) for state in states)
    hands = ReleaseReceipt(collector="consignor", signature=Signature(typed=True), handed_over_by="Ines Quarles")
    releasing.release(back.pk, signed_for_by="Ada Fenwick", receipt=hands, by=build.BUILDER, at=NOW)
    return Lot(_callers(own=(here, paid, back), other=other), _found(here, paid=paid, back=back))


def _found(here: Consignment, *, paid: Consignment, back: Consignment) -> dict[str, Any]:
    photo, clip, asked = _photo(here), _clip(here), rows.asked_consent(here)
    receipt = receipts.signed(here, at=NOW)
    found = {
        "stock_number": here.stock_number, "code": uuid.uuid4(), "token": "x" * 22, "photo": photo.code,
        "clip": clip.code, "receipt": receipt.code, "asked": asked.code, "request_id": asked.pk,
        "release": back.release.code, "status_statement.number": paid.settlements.get().number,
        "offer_id": rows.offered(here).pk, "charge_id": rows.charged(here).pk, "key": rows.flagged(here),
        "station": "front", "component": "engine", "section": "tyres", "figure": "condition", "deed": "cost",
        "kind": "arrived", "vehicle.code": here.vehicle.code, "consignor.code": here.consignor.code,
    }  # fmt: skip
    named = {"photo": photo, "clip": clip, "receipt": receipt, "release": back.release}
    owners = {"status_statement": paid, "status_release": back}
    for route in routes.routes():
        if route.room == "link" or route.name.startswith("for_sale"):
            found[f"{route.name}.code"] = owners.get(route.name, here).code
        elif "/people/" in f"/{route.address}":
            found |= {f"{route.name}.kind": "consignor", f"{route.name}.code": here.consignor.code}
        else:
            rows_named = [row for name, row in named.items() if name in route.name]
            found |= {f"{route.name}.code": row.code for row in rows_named}
    return found


def _photo(stay: Consignment) -> Photo:
    kept = BytesIO()
    Image.new("RGB", (4, 4)).save(kept, format="JPEG")
    picture = CleanPicture(kept.getvalue(), "jpg", None)
    return recording.add_photo(stay.pk, picture=picture, by=build.BUILDER, at=NOW)


def _clip(stay: Consignment) -> Clip:
    path = Path(settings.MEDIA_ROOT) / "walk.mp4"
    path.write_bytes(films.mp4())
    clip = clean_clip(path, name=path.name)
    said = {"name": path.name, "kind": "walk_round", "public": True}
    return filming.add_clip(stay.pk, clip=clip, **said, by=build.BUILDER, at=NOW)


def _callers(*, own: tuple[Consignment, ...], other: Consignment) -> dict[str, Caller]:
    """The other consignor's token also stands under the names that belong to this one's."""
    kept = {cookie_name(stay.code): _token(stay) for stay in own}
    strange = _token(other)
    callers = {
        routes.STRANGER: Caller(Client(raise_request_exception=False), {}),
        routes.OWN_LINK: Caller(Client(raise_request_exception=False), kept),
        routes.OTHER_LINK: Caller(
            Client(raise_request_exception=False), dict.fromkeys([*kept, cookie_name(other.code)], strange)
        ),
    }
    for role, by_session, by_token in zip(STAFF_ROLES, routes.STAFF, routes.PROGRAMS, strict=True):
        client = Client(raise_request_exception=False)
        client.force_login(User.objects.get(pk=build.staff(role, at=NOW).id))
        callers[by_session] = Caller(client, {name: morsel.value for name, morsel in client.cookies.items()})
        _, token = staffing.make_token(by_token, role=role, by=build.staff(Role.OWNER, at=NOW), at=NOW)
        callers[by_token] = Caller(
            Client(raise_request_exception=False, headers={"Authorization": f"Bearer {token}"}), {}
        )
    return callers


def _token(stay: Consignment) -> str:
    return linking.make_link(stay.pk, by=build.BUILDER, at=NOW)[1]


def _noting(written: list[str]) -> Callable[..., Any]:
    def note(execute: Callable[..., Any], sql: str, params: Any, many: bool, context: Any) -> Any:
        if sql.lstrip().upper().startswith(WRITES) and not any(table in sql for table in NOT_OURS):
            written.append(sql)
        return execute(sql, params, many, context)

    return note
