"""Random JSON sent to every address that writes: refused or done, never a crash."""

import json
from collections import Counter
from typing import Any

import pytest
from django.db import transaction
from drf_spectacular.generators import SchemaGenerator
from hypothesis import HealthCheck, given, seed, settings
from hypothesis import strategies as st
from rest_framework.test import APIClient

from inventory.rules.roles import Role
from tests import build
from tests.api.conftest import NOW, client_of
from tests.api.test_rights import CASES, Case, address

EXAMPLES = 6000
EDGES = st.sampled_from(
    ["", " ", "0", "-1", "1.005", "9" * 12, "9999999999.99", "1e9", "NaN", "\x00", "\ud800", "9999-12-31", "1886-01-01",
     "2026-03-16", "x" * 5001, 0, -1, 2**31, 2**63, 10**40, 1e308, 0.1, True, None, [], {}, [[]], {"a": 1}]
)  # fmt: skip
ANY_JSON = st.recursive(
    EDGES | st.text(max_size=12) | st.integers() | st.floats(allow_nan=True),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=5,
)
Target = tuple[str, str, dict[str, Any]]


def targets() -> list[Target]:
    """Each write with its address and a body that works there, every field that the schema names included."""
    fields = {
        (path, method): list(_properties(schema, operation))
        for schema in [SchemaGenerator().get_schema(request=None, public=True)]
        for path, methods in schema["paths"].items()
        for method, operation in methods.items()
    }
    return [_target(case, fields) for case in CASES if case.method in {"post", "patch"}]


def _properties(schema: Any, operation: Any) -> Any:
    content = operation.get("requestBody", {}).get("content", {}).get("application/json", {}).get("schema", {})
    shape = schema["components"]["schemas"].get(content.get("$ref", "").rpartition("/")[2], {})
    return shape.get("properties", {})


def _target(case: Case, fields: dict[tuple[str, str], list[str]]) -> Target:
    stay = build.consignment(case.state, at=NOW)
    row = case.before(stay)
    stay.refresh_from_db()
    way = address(case.name, stay, row)
    body = case.body(stay) if callable(case.body) else case.body
    names = next(names for (path, method), names in fields.items() if method == case.method and _fits(path, way))
    return case.method, way, dict.fromkeys(names) | body


def _fits(template: str, way: str) -> bool:
    """Whether an address is one of the template's: `{…}` stands for any one part."""
    parts = list(zip(template.split("/"), way.split("/"), strict=False))
    return template.count("/") == way.count("/") and all(a == b or a.startswith("{") for a, b in parts)


@pytest.mark.django_db
def test_random_bodies_are_refused_or_done_and_never_crash() -> None:
    all_targets, client, seen = targets(), client_of(Role.OWNER), Counter[int]()

    @seed(20260316)
    @settings(max_examples=EXAMPLES, deadline=None, database=None, suppress_health_check=list(HealthCheck))
    @given(data=st.data())
    def send(data: st.DataObject) -> None:
        method, way, good = data.draw(st.sampled_from(all_targets))
        kept = {name: value for name, value in good.items() if value is not None}
        changed = data.draw(st.dictionaries(st.sampled_from(sorted(good)), ANY_JSON, max_size=3)) if good else {}
        body = data.draw(st.just(kept | changed) | ANY_JSON) if data.draw(st.integers(0, 9)) else data.draw(ANY_JSON)
        status = sent(client, method, way, json.dumps(body))
        assert status < 500
        seen[status] += 1

    send()
    print(sorted(seen.items()))
    assert sum(seen.values()) >= EXAMPLES
    assert seen[201] > EXAMPLES // 50, seen  # it reaches past the serializers
    assert seen[400] > EXAMPLES // 4, seen


def sent(client: APIClient, method: str, way: str, body: str) -> int:
    """Send one request and take back what it wrote; a crash raises here, in the test."""
    with transaction.atomic():
        answer = client.generic(method.upper(), way, body.encode("utf-8", "surrogatepass"), "application/json")
        transaction.set_rollback(True)
    return int(answer.status_code)
