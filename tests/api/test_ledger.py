"""The ledger, build dates, modifications and the decoder table, by the API."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from rest_framework.test import APIClient

from inventory.actions import decoding
from inventory.models import ComponentRecord, Consignment, Modification
from inventory.rules.components import EMBLEM_TOLD
from inventory.rules.states import State
from tests import build
from tests.actions.test_decoding import SAID
from tests.api.conftest import NOW, said, url

pytestmark = pytest.mark.django_db
ENGINE = {
    "component": "engine", "standing": "original", "basis": "seen", "as_found": "straight six", "number": "3A-77120",
    "number_basis": "measured", "date_code": "C147", "earliest_on": "1967-06-01", "latest_on": "1967-06-01",
    "date_basis": "measured", "note": "pad clean",
}  # fmt: skip


@pytest.fixture
def here(stay: Callable[..., Consignment]) -> Consignment:
    return stay(State.ON_LOT)


def test_line_is_taken_and_shown_with_all_its_fields(as_intake: APIClient, here: Consignment) -> None:
    answer = as_intake.post(url(here, "components/"), ENGINE)
    assert answer.status_code == 201, answer.content
    body = answer.json()
    assert {name: body[name] for name in ENGINE} == ENGINE
    assert (body["judgement"], body["notes"], body["not_fitted"]) == (None, [], False)
    assert as_intake.get(url(here, "components/")).json()["results"][0] == body


def test_judgement_and_notes_come_with_the_answer(as_intake: APIClient, here: Consignment) -> None:
    built = {"earliest_on": "1967-05-01", "latest_on": "1967-05-31", "basis": "seen", "source": "cowl stamp"}
    answer = as_intake.post(url(here, "build-dates/"), built)
    assert {name: answer.json()[name] for name in built} == built
    body = as_intake.post(url(here, "components/"), ENGINE).json()
    assert body["judgement"] == "not_factory"
    assert body["notes"][0].startswith("Recorded as original, and shown as a contradiction.")
    badge = {"component": "engine", "standing": "original", "basis": "seen"}
    assert as_intake.post(url(here, "components/"), badge).json()["notes"] == [EMBLEM_TOLD]


@pytest.mark.parametrize(
    ("changes", "field", "code"),
    [
        ({"latest_on": None}, "earliest_on", "half_a_span"),
        ({"latest_on": "1967-05-31"}, "earliest_on", "span_upside_down"),
        ({"number_basis": "not_established"}, "number_basis", "basis_missing"),
        ({"not_fitted": True}, "not_fitted", "never_had_one"),
        ({"component": "wings"}, "component", "no_such_component"),
        ({"earliest_on": "1967-13-01"}, "earliest_on", "invalid"),
        ({"number": "7" * 61}, "number", "max_length"),
        ({"casting": "77"}, "casting", "unknown"),
    ],
)
def test_line_that_makes_no_sense_is_refused_by_name(
    as_intake: APIClient, here: Consignment, changes: dict[str, Any], field: str, code: str
) -> None:
    answer = as_intake.post(url(here, "components/"), {**ENGINE, **changes})
    assert (answer.status_code, said(answer)["field"], said(answer)["code"]) == (400, field, code)
    assert not ComponentRecord.objects.exists()


def test_line_decided_on_an_older_one_is_409(as_intake: APIClient, here: Consignment) -> None:
    build.write_line(here, at=NOW)
    answer = as_intake.post(url(here, "components/"), {**ENGINE, "after": 0})
    assert (answer.status_code, said(answer)["code"]) == (409, "stale_line")


def test_modification_is_taken_and_shown_with_all_its_fields(as_intake: APIClient, here: Consignment) -> None:
    given = {
        "kind": "engine", "what": "larger valves", "where": "both heads", "fitting": "cut_or_welded",
        "material": "bronze", "workmanship": 3, "era": "period", "papers": True, "cost_told": "1850.00",
        "basis": "told", "components": ["heads", "engine"],
    }  # fmt: skip
    answer = as_intake.post(url(here, "modifications/"), given)
    assert answer.status_code == 201, answer.content
    assert {name: answer.json()[name] for name in given} == given
    assert as_intake.get(url(here, "modifications/")).json()["results"] == [answer.json()]


@pytest.mark.parametrize(
    ("changes", "field"),
    [({"components": ["wings"]}, "components"), ({"era": "soon"}, "era"), ({"cost_told": "-1.00"}, "cost_told")],
)
def test_modification_that_makes_no_sense_is_refused(
    as_intake: APIClient, here: Consignment, changes: dict[str, Any], field: str
) -> None:
    given = {"kind": "engine", "what": "larger valves", "fitting": "bolt_on", "basis": "seen", **changes}
    answer = as_intake.post(url(here, "modifications/"), given)
    assert (answer.status_code, said(answer)["field"]) == (400, field)
    assert not Modification.objects.exists()


@pytest.fixture
def table() -> None:
    for meaning in (
        SAID,
        replace(SAID, written="6B", match="prefix", meaning="February"),
        replace(SAID, make="Tarn", meaning="no such month"),
        replace(SAID, component="data_plate", from_year=1970, meaning="paint six"),
    ):
        decoding.add_meaning(meaning, by=build.BUILDER, at=NOW)
    gone = decoding.add_meaning(replace(SAID, meaning="10 June"), by=build.BUILDER, at=NOW)
    decoding.retire_meaning(gone.pk, by=build.BUILDER, at=NOW)


@pytest.mark.parametrize(
    ("query", "found"),
    [
        ("", ["paint six", "no such month", "February", "10 February"]),
        ("code=6b-10&make=merrow&component=engine&year=1967", ["February", "10 February"]),
        ("code=6B99", ["February"]),
        ("year=1965&component=data_plate", []),
        ("ordering=from_year&make=Merrow", ["February", "10 February", "paint six"]),
    ],
)
@pytest.mark.usefixtures("table")
def test_decoder_table_is_read_and_narrowed(as_sales: APIClient, query: str, found: list[str]) -> None:
    rows = as_sales.get(f"/api/v1/decoder/?{query}").json()["results"]
    assert [row["meaning"] for row in rows] == found


@pytest.mark.parametrize(("query", "field"), [("year=many", "year"), ("maker=x", "maker"), ("code=%00", "code")])
def test_parameter_of_the_decoder_table_that_cannot_be_is_refused(as_sales: APIClient, query: str, field: str) -> None:
    answer = as_sales.get(f"/api/v1/decoder/?{query}")
    assert (answer.status_code, said(answer)["field"]) == (400, field)


def test_decoder_table_asks_as_often_with_30_rows_as_with_3(as_sales: APIClient) -> None:
    def asked(count: int) -> int:
        for _ in range(count):
            decoding.add_meaning(SAID, by=build.BUILDER, at=NOW)
        with CaptureQueriesContext(connection) as captured:
            assert as_sales.get("/api/v1/decoder/").status_code == 200
        return len(captured)

    assert asked(3) == asked(27)
