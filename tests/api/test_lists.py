"""Lists: a fixed number of queries, filters, order and pages; what is not known is refused by name."""

from collections.abc import Callable
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from rest_framework.test import APIClient

from inventory.actions import offering, selling
from inventory.models import Consignment
from inventory.rules.states import State
from tests.api import rows
from tests.api.conftest import said, url
from tests.api.rows import DEED, MORE

pytestmark = pytest.mark.django_db

FEW, MANY = 3, 30


def queries_of(client: APIClient, address: str) -> tuple[int, int]:
    with CaptureQueriesContext(
        connection,
    ) as captured:
        answer = client.get(address)
    assert answer.status_code == 200, answer.content
    told = answer.json()
    return len(captured), told["count"] if "count" in told else len(told["results"])


@pytest.mark.parametrize("name", MORE)
def test_list_of_consignment_asks_as_often_with_30_rows_as_with_3(
    as_owner: APIClient, stay: Callable[..., Consignment], name: str
) -> None:
    state, more = MORE[name]
    built = stay(state)
    for _ in range(FEW):
        more(built)
    few, first_count = queries_of(as_owner, url(built, name))
    for _ in range(MANY - FEW):
        more(built)
    many, last_count = queries_of(as_owner, url(built, name))
    assert few == many
    assert last_count >= first_count + MANY - FEW


LOT_LISTS = ("consignments", "vehicles", "consignors", "outcomes")


def test_lists_of_lot_ask_as_often_with_30_rows_as_with_3(
    as_owner: APIClient, stay: Callable[..., Consignment]
) -> None:
    def asked(count: int) -> dict[str, int]:
        for _ in range(count - Consignment.objects.count()):
            stay(State.WITHDRAWN)
        found = {name: queries_of(as_owner, f"/api/v1/{name}/") for name in LOT_LISTS}
        assert {rows for _, rows in found.values()} == {count}
        return {name: queries for name, (queries, _) in found.items()}

    assert asked(FEW) == asked(MANY)


def test_fits_ask_as_often_with_30_rows_and_leave_out_what_they_learned(as_owner: APIClient) -> None:
    for _ in range(FEW):
        rows.fitted()
    few = queries_of(as_owner, "/api/v1/fits/")
    for _ in range(MANY - FEW):
        rows.fitted()
    assert queries_of(as_owner, "/api/v1/fits/") == (few[0], MANY)
    assert "secret" not in as_owner.get("/api/v1/fits/").content.decode()


def test_answers_of_offer_ask_as_often_with_30_rows(as_owner: APIClient, stay: Callable[..., Consignment]) -> None:
    built = stay(State.LISTED)
    offer = rows.offered(built)

    def more(count: int) -> None:
        for _ in range(count):
            offering.answer_offer(offer.pk, answer="refused", **DEED)

    more(FEW)
    few = queries_of(as_owner, url(built, f"offers/{offer.pk}/answers/"))
    more(MANY - FEW)
    assert queries_of(as_owner, url(built, f"offers/{offer.pk}/answers/")) == (few[0], MANY)


@pytest.fixture
def three(stay: Callable[..., Consignment]) -> list[Consignment]:
    return [
        stay(State.LISTED, year=1968, model="Alder", consignor_name="Ada Fenwick"),
        stay(State.ON_LOT, year=1971, model="Birch", consignor_name="Cy Aldous"),
        stay(State.BOOKED, year=1957, make="Harrow", model="Comet", consignor_name="Dee Marsh"),
    ]


def numbers(answer: Any) -> list[str]:
    assert answer.status_code == 200, answer.content
    return [row["stock_number"] for row in answer.json()["results"]]


@pytest.mark.parametrize(
    ("query", "found"),
    [
        ("state=listed", [0]), ("state=listed&state=booked", [2, 0]), ("make=merrow", [1, 0]), ("model=comet", [2]),
        ("year_min=1968", [1, 0]), ("year_max=1968", [2, 0]), ("year_min=1960&year_max=1970", [0]), ("q=fenwick", [0]),
        ("q=merrow birch", [1]), ("q=100002", [1]), ("here=true", [2, 1, 0]), ("here=false", []),
        ("ordering=year", [2, 0, 1]), ("ordering=-year", [1, 0, 2]), ("ordering=make,-year", [2, 1, 0]),
        ("ordering=ask", [0, 2, 1]), ("ordering=-ask", [0, 2, 1]), ("ordering=arrived_on,year", [0, 1, 2]),
    ],
)  # fmt: skip
def test_consignments_are_narrowed_and_sorted(
    as_sales: APIClient, three: list[Consignment], query: str, found: list[int]
) -> None:
    answer = as_sales.get(f"/api/v1/consignments/?{query}")
    assert numbers(answer) == [three[place].stock_number for place in found]


def test_consignments_of_one_consignor_and_by_stock_number(as_sales: APIClient, three: list[Consignment]) -> None:
    code = three[1].consignor.code
    assert numbers(as_sales.get(f"/api/v1/consignments/?consignor={code}")) == [three[1].stock_number]
    wanted = three[2].stock_number
    assert numbers(as_sales.get(f"/api/v1/consignments/?stock_number={wanted}")) == [wanted]


def test_outcomes_that_were_set_aside_are_left_out(as_sales: APIClient, stay: Callable[..., Consignment]) -> None:
    sold, unwound = stay(State.SOLD), stay(State.SOLD)
    selling.unwind_sale(unwound.pk, reason="no loan", **DEED)
    withdrawn = stay(State.WITHDRAWN)
    listed = as_sales.get("/api/v1/outcomes/?ordering=stock_number")
    assert numbers(listed) == [sold.stock_number, withdrawn.stock_number]
    only = as_sales.get("/api/v1/outcomes/?result=sold&make=merrow&year_min=1960&ended_from=2020-01-01")
    assert numbers(only) == [sold.stock_number]
    assert only.json()["results"][0]["effective_price"] == "48500.00"


def test_pages_are_cut_and_linked(as_sales: APIClient, three: list[Consignment]) -> None:
    answer = as_sales.get("/api/v1/consignments/?page_size=2&ordering=stock_number")
    assert numbers(answer) == [row.stock_number for row in three[:2]]
    assert set(answer.json()) == {"next", "previous", "results"}
    rest = as_sales.get(answer.json()["next"])
    assert (numbers(rest), rest.json()["next"]) == ([three[2].stock_number], None)
    assert numbers(as_sales.get(rest.json()["previous"])) == [row.stock_number for row in three[:2]]
    assert as_sales.get("/api/v1/consignments/?cursor=x").status_code == 404
    assert as_sales.get("/api/v1/consignments/?page=2").status_code == 400


@pytest.mark.parametrize(
    ("query", "field"),
    [
        ("stat=listed", "stat"), ("state=gone", "state"), ("year_min=abc", "year_min"), ("year_min=1e400", "year_min"),
        ("year_max=99999999999999999999", "year_max"), ("consignor=7", "consignor"), ("ordering=colour", "ordering"),
        ("ordering=vehicle__serial", "ordering"), ("page_size=0", "page_size"), ("page_size=201", "page_size"),
        ("page_size=many", "page_size"), ("q=%00", "q"), ("year_min=nan", "year_min"),
    ],
)  # fmt: skip
def test_parameter_that_cannot_be_is_refused_by_name(as_sales: APIClient, query: str, field: str) -> None:
    answer = as_sales.get(f"/api/v1/consignments/?{query}")
    assert answer.status_code == 400
    assert said(answer)["field"] == field


def test_list_without_filters_refuses_parameters_too(as_sales: APIClient, stay: Callable[..., Consignment]) -> None:
    answer = as_sales.get(url(stay(), "offers/?ordering=amount"))
    assert (answer.status_code, said(answer)["field"]) == (400, "ordering")
