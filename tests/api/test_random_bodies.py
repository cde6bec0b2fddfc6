"""Random JSON sent to every address that writes: refused or done, never a crash."""

import json
from collections import Counter
from dataclasses import dataclass
from typing import Any

import pytest
from django.db import transaction
from hypothesis import HealthCheck, given, seed, settings
from hypothesis import strategies as st
from rest_framework.test import APIClient

from inventory.rules.roles import Role
from tests import build
from tests.api.conftest import NOW, client_of
from tests.api.test_rights import CASES, Case, address

EXAMPLES = 100
EDGES: st.SearchStrategy[Any] = st.sampled_from(
    ["", " ", "0", "-1", "1.005", "9" * 12, "9999999999.99", "1e9", "NaN", "\x00", "\ud800", "9999-12-31", "1886-01-01",
     "2199-12-31", "x" * 5001, 0, -1, 2**31, 2**63, 10**40, 1e308, 0.1, True, None, [], {}, [[]], {"a": 1}]
)  # fmt: skip
ANY_JSON = st.recursive(
    EDGES | st.text(max_size=12) | st.integers() | st.floats(allow_nan=True),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=5,
)
PLAUSIBLE: dict[str, list[Any]] = {
    "decimal": ["0.01", "1", "100.00", "30000.00", "9999999999.99", "-5.00"],
    "date": ["1886-01-01", "2026-03-16", "2026-11-01", "2199-12-31", None],
    "integer": [0, 1, 2, 4, 1968, 2**31 - 1, None],
    "boolean": [True, False], "uuid": ["6f9619ff-8b86-4d01-b42d-00cf4fc964ff"], "email": ["a@example.org", ""],
    "array": [[], [{"up_to": None, "rate": "9"}], [{"up_to": "5.00", "rate": "9"}, {"up_to": None, "rate": "1"}]],
    "string": ["", "Ada", "engine", "tyres.age", "8A17J1", "1M8GDM9AXKP042788", "l\u2019\u00e9t\u00e9 \U0001f697"],
    "object": [{"given_by": "Ada", "how": "by phone", "text": "yes"}, {}],
}  # fmt: skip


@dataclass(frozen=True)
class Target:
    """One write: its address, a body that works there, and for every field values of the right kind."""

    method: str
    way: str
    good: dict[str, Any]
    fields: dict[str, list[Any]]


def targets(schema: Any) -> list[Target]:
    return [target(case, schema) for case in CASES if case.method in {"post", "patch"}]


def target(case: Case, schema: Any) -> Target:
    stay = build.consignment(case.state, at=NOW)
    row = case.before(stay)
    stay.refresh_from_db()
    way = address(case.name, stay, row)
    operation = next(
        methods[case.method]
        for path, methods in schema["paths"].items()
        if case.method in methods and fits(path, way=way)
    )
    fields = fields_of(schema, operation)
    good = case.body(stay) if callable(case.body) else case.body
    return Target(case.method, way, good, fields)


def fits(template: str, *, way: str) -> bool:
    """Whether an address is one of the template's: `{…}` stands for any one part."""
    ours, theirs = template.split("/"), way.split("/")
    pairs = zip(ours, theirs, strict=False)
    return len(ours) == len(theirs) and all(one == other or one.startswith("{") for one, other in pairs)


def fields_of(schema: Any, operation: Any) -> dict[str, list[Any]]:
    shapes = schema["components"]["schemas"]

    def named(part: Any) -> Any:
        inner = [part, *part.get("oneOf", []), *part.get("allOf", [])]
        found = next(one for one in inner if "$ref" in one or "type" in one)
        return shapes[found["$ref"].rpartition("/")[2]] if "$ref" in found else found

    if "requestBody" not in operation:
        return {}
    body = named(operation["requestBody"]["content"]["application/json"]["schema"])
    kinds = {name: named(part) for name, part in body.get("properties", {}).items()}
    return {
        name: kind.get("enum") or PLAUSIBLE.get(kind.get("format", "")) or PLAUSIBLE[kind["type"]]
        for name, kind in kinds.items()
    }


@pytest.mark.django_db
def test_random_bodies_are_refused_or_done_and_never_crash() -> None:
    client, seen = client_of(Role.OWNER), Counter[int]()
    every = targets(client.get("/api/schema/?format=json").json())

    @seed(20260316)
    @settings(max_examples=EXAMPLES, deadline=None, database=None, suppress_health_check=list(HealthCheck))
    @given(data=st.data())
    def send(data: st.DataObject) -> None:
        chosen = data.draw(st.sampled_from(every))
        status = sent(client, chosen, data.draw(bodies(chosen)))
        assert status < 500
        seen[status] += 1

    send()
    assert sum(seen.values()) >= EXAMPLES
    assert seen[201] > EXAMPLES // 10, seen  # it reaches past the serializers
    assert seen[400] > EXAMPLES // 4, seen


def bodies(chosen: Target) -> st.SearchStrategy[Any]:
    """Mostly the body that works with some fields changed, to what is plausible or to anything; else any JSON."""
    if not chosen.fields:
        return st.just({}) | ANY_JSON
    names = st.sampled_from(sorted(chosen.fields))
    likely = names.flatmap(lambda name: st.tuples(st.just(name), st.sampled_from(chosen.fields[name])))
    odd = st.tuples(names, ANY_JSON)
    changes = st.lists(likely, max_size=4) | st.lists(likely, max_size=6) | st.lists(odd, max_size=2)
    return changes.map(lambda pairs: chosen.good | dict(pairs)) | ANY_JSON


def sent(client: APIClient, chosen: Target, body: Any) -> int:
    """Send one request and take back what it wrote; a crash raises here, in the test."""
    raw: Any = json.dumps(body).encode()
    with transaction.atomic():
        answer = client.generic(chosen.method.upper(), chosen.way, raw, "application/json")
        transaction.set_rollback(True)
    return int(answer.status_code)
