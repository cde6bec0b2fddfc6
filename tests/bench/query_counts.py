"""Counts the queries of each list with 10 and with 1,000 consignments.

`python -m pytest -n 0 -s tests/bench/query_counts.py`
"""

from datetime import datetime
from decimal import Decimal

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from inventory.actions import incidents, inquiring, prospecting, recording, showing_places, working
from inventory.actions.prospecting import Person, ToldOf
from inventory.actions.working import NewOrder
from inventory.models import CareRule, Consignment, MarketSale
from inventory.rules.roles import Role
from inventory.rules.states import State
from tests import build

LISTS = (
    "/",
    "/?state=listed",
    "/past-sales/",
    "/staff/",
    "/floor/",
    "/floor/care/",
    "/floor/work-orders/",
    "/floor/incidents/",
    "/floor/inquiries/",
    "/floor/shown/",
    "/own-stock/",
    "/prospects/",
    "/people/",
    "/elsewhere/",
    "/pay/",
    "/api/v1/consignments/",
    "/api/v1/vehicles/",
    "/api/v1/consignors/",
    "/api/v1/outcomes/",
    "/api/v1/fits/",
)
STATES = (State.LISTED, State.SOLD, State.DEPOSIT, State.INSPECTED, State.ON_LOT)


def counts(client: Client) -> dict[str, int]:
    found = {}
    for path in LISTS:
        with CaptureQueriesContext(
            connection,
        ) as captured:
            assert client.get(path).status_code == 200, path
        found[path] = len(captured)
    return found


def happen(stay: Consignment, *, number: int, at: datetime) -> None:
    """Something of every kind that the floor's lists hold, for one vehicle."""
    who = {"by": build.BUILDER, "at": at}
    recording.record_place(stay.pk, place=f"Bay {number % 12}", keys=f"Hook {number}", **who)
    if stay.state in {State.LISTED, State.ON_LOT, State.INSPECTED}:
        working.open_order(stay.pk, order=NewOrder(what="Clean it", borne_by="lot", estimate=Decimal(50)), **who)
        incidents.log_incident(stay.pk, kind="damage", what="a scratch", **who)
    if stay.state == State.LISTED:
        inquiring.log_inquiry(stay.pk, way="phone", who=f"Caller {number}", phone=f"555 {number:07d}", **who)
        showing_places.show_at(stay.pk, place="The window", **who)
    told = ToldOf(year=1968, make="Merrow", model="Alder", serial=f"8M{number:06d}")
    prospecting.log_prospect(told, person=Person(name=f"Owner {number}", phone=f"555 1{number:06d}"), **who)
    MarketSale.objects.create(
        source="the county hall", ended_on=at.date(), price=Decimal(1000 + number), year=1968, make="Merrow",
        model="Alder", by="x", at=at,
    )  # fmt: skip


@pytest.mark.django_db
def test_lists_need_as_many_queries_for_1000_as_for_10(client: Client, at: datetime) -> None:
    build.staff(Role.OWNER, at=at)
    build.sign_in(client, username="the-owner")
    CareRule.objects.create(kind="battery", every_days=1)
    for number in range(10):
        happen(build.consignment(STATES[number % len(STATES)], at=at), number=number, at=at)
    few = counts(client)
    for number in range(990):
        state = STATES[number % len(STATES)] if number < 40 else State.ON_LOT
        happen(build.consignment(state, at=at), number=10 + number, at=at)
    many = counts(client)
    for path in LISTS:
        print(f"{path:<32} {few[path]:>3} {many[path]:>3}")
    # Fewer is no growth: with 1,000 consignors the first page of people holds no contact, and none is looked up.
    assert not [path for path in LISTS if many[path] > few[path]]
