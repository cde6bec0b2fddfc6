"""Counts the queries of each list with 10 and with 1,000 consignments.

`python -m pytest -n 0 -s tests/bench/query_counts.py`
"""

from datetime import datetime

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from inventory.rules.roles import Role
from inventory.rules.states import State
from tests import build

LISTS = (
    "/",
    "/?state=listed",
    "/past-sales/",
    "/staff/",
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


@pytest.mark.django_db
def test_lists_need_as_many_queries_for_1000_as_for_10(client: Client, at: datetime) -> None:
    build.staff(Role.OWNER, at=at)
    client.login(username="the-owner", password=build.PASSWORD)
    for number in range(10):
        build.consignment(STATES[number % len(STATES)], at=at)
    few = counts(client)
    for number in range(990):
        build.consignment(STATES[number % len(STATES)] if number < 40 else State.ON_LOT, at=at)
    many = counts(client)
    for path in LISTS:
        print(f"{path:<32} {few[path]:>3} {many[path]:>3}")
    assert few == many
