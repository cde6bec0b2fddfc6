"""What a device sends, over the wire: whole parcels, bad parcels, other people's parcels."""

import json
import uuid
from typing import Any

import pytest
from django.test import Client
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from inventory.models import CheckResult, Consignment, User
from inventory.rules.roles import Actor
from tests import build
from tests.conftest import NOW
from tests.pages.browse import sign_in, url

pytestmark = pytest.mark.django_db
MOMENT = "2026-03-16T15:00:00Z"


@pytest.fixture
def stay() -> Consignment:
    return build.consignment(at=NOW)


@pytest.fixture
def walking(client: Client, intake: Actor, stay: Consignment) -> Client:
    sign_in(client, intake).post(url(stay, "begin_walk"))
    return client


def one(**changes: Any) -> dict[str, Any]:
    said = {"key": str(uuid.uuid4()), "inspection": 1, "made_at": MOMENT, "check_code": "front.hood", "answer": "3"}
    return {**said, **changes}


def parcel(*taps: Any, **changes: Any) -> dict[str, Any]:
    user = User.objects.get(username="the-intake").pk
    return {"device": "d1", "user": user, "sent_at": MOMENT, "taps": list(taps), **changes}


def post(client: Client, stay: Consignment, body: Any) -> Any:
    content = body if isinstance(body, str) else json.dumps(body)
    return client.post(url(stay, "taps"), content, content_type="application/json")


def test_house_says_whom_it_takes_the_device_for(walking: Client, stay: Consignment) -> None:
    said = walking.get(url(stay, "taps")).json()
    assert said["user"] == User.objects.get(username="the-intake").pk
    assert (said["inspection"], bool(said["csrf"])) == (1, True)


def test_tap_is_taken_with_its_reading_and_note(walking: Client, stay: Consignment) -> None:
    tread = one(check_code="tyres.tread_left_front", answer="1", reading="1.5", note="inner edge", basis="measured")
    (answer,) = post(walking, stay, parcel(tread)).json()["answers"]
    assert answer["fate"] == "counts"
    row = CheckResult.objects.get()
    assert (str(row.reading), row.note, row.basis, row.device) == ("1.500", "inner edge", "measured", "d1")


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"answer": "7"}, "answer"),
        ({"answer": ""}, "answer is missing"),
        ({"reading": "wet"}, "reading"),
        ({"made_at": "yesterday"}, "made_at"),
        ({"made_at": "2026-02-30T25:00:00Z"}, "made_at"),
        ({"inspection": 0}, "inspection"),
        ({"note": "x" * 501}, "note"),
        ({"check_code": "roof.tent"}, "roof.tent"),
    ],
)
def test_bad_tap_is_told_with_its_key(walking: Client, stay: Consignment, change: dict[str, Any], told: str) -> None:
    bad, good = one(**change), one(check_code="front.lamps")
    answers = {row["key"]: row for row in post(walking, stay, parcel(bad, good)).json()["answers"]}
    assert answers[bad["key"]]["fate"] == "refused"
    assert told in answers[bad["key"]]["told"]
    assert answers[good["key"]]["fate"] == "counts"


@pytest.mark.parametrize(
    "body",
    ["{", "[]", "7", '{"taps": 3}', '{"taps": [], "device": "", "user": 1, "sent_at": "2026-03-16T15:00:00Z"}',
     '{"taps": [], "device": "d", "user": true, "sent_at": "2026-03-16T15:00:00Z"}',
     '{"taps": [], "device": "d", "user": 1, "sent_at": "noon"}',
     '{"taps": [{"key": 3}], "device": "d", "user": 1, "sent_at": "2026-03-16T15:00:00Z"}'],
)  # fmt: skip
def test_parcel_that_is_none_is_refused_with_what_is_wrong(walking: Client, stay: Consignment, body: str) -> None:
    response = post(walking, stay, body)
    assert response.status_code == 409
    assert response.json()["problem"]


def test_too_many_taps_at_once_are_refused(walking: Client, stay: Consignment) -> None:
    response = post(walking, stay, parcel(*[one() for _ in range(201)]))
    assert "at most 200" in response.json()["problem"]


def test_nobody_sends_what_somebody_else_tapped(walking: Client, owner: Actor, stay: Consignment) -> None:
    body = parcel(one())
    sign_in(walking, owner)
    response = post(walking, stay, body)
    assert (response.status_code, response.json()["code"]) == (409, "other_user")
    assert not CheckResult.objects.exists()


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(said=st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=12),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(
        st.sampled_from(["key", "taps", "answer", "check_code", "reading", "made_at", "note", "station", "inspection"]),
        inner, max_size=5),
    max_leaves=12,
))  # fmt: skip
def test_no_parcel_breaks_the_house(walking: Client, stay: Consignment, said: Any) -> None:
    for body in (said, parcel(said), parcel({**one(), **said} if isinstance(said, dict) else said)):
        assert post(walking, stay, json.dumps(body)).status_code in {200, 409}


def test_worker_is_a_script_that_is_never_stale(client: Client) -> None:
    answer = client.get("/walk-worker.js")
    assert answer["Content-Type"] == "text/javascript"
    assert answer["Cache-Control"] == "no-cache"
    assert b"inventory-walk" in b"".join(answer.streaming_content)  # type: ignore[arg-type]
