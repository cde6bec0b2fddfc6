"""The API describes itself, to signed-in staff only."""

from typing import Any

import pytest
from django.core.management import call_command
from rest_framework.test import APIClient

from inventory.api.urls import first_version
from inventory.models import User
from inventory.rules.roles import Role
from tests import build
from tests.api.conftest import NOW
from tests.api.test_rights import offered

pytestmark = pytest.mark.django_db


@pytest.fixture
def browser() -> APIClient:
    client = APIClient()
    build.staff(Role.INTAKE, at=NOW)
    client.force_login(User.objects.get(username="the-intake"))
    return client


def schema_of(client: APIClient) -> dict[str, Any]:
    answer = client.get("/api/schema/?format=json")
    assert answer.status_code == 200
    schema: dict[str, Any] = answer.json()
    return schema


def test_schema_is_made_without_a_warning_and_is_valid(tmp_path: Any) -> None:
    made = tmp_path / "schema.yml"
    call_command("spectacular", "--validate", "--fail-on-warn", "--file", str(made))
    assert made.read_text().startswith("openapi: 3.")


def test_schema_holds_every_address_and_method(browser: APIClient) -> None:
    paths = schema_of(browser)["paths"]
    assert sum(len(methods) for methods in paths.values()) == len(offered(first_version))


def test_schema_says_what_money_words_and_refusals_are(browser: APIClient) -> None:
    schema = schema_of(browser)
    offers = schema["paths"]["/api/v1/consignments/{stock_number}/offers/"]["post"]
    assert {"201", "400", "401", "403", "404", "409", "415", "422"} <= set(offers["responses"])
    assert "application/problem+json" in offers["responses"]["409"]["content"]
    assert [parameter["name"] for parameter in offers["parameters"]] == ["Idempotency-Key", "stock_number"]
    shapes = schema["components"]["schemas"]
    assert shapes["OfferGiven"]["properties"]["amount"]["type"] == "string"
    assert {shapes["HeldShown"]["properties"][name]["type"] for name in ("bank", "consignor_held")} == {"string"}
    assert shapes["StandingShown"]["properties"]["consignor"]["type"] == "string"
    assert shapes["PaymentMethod"]["enum"] == ["wire", "cheque", "cash", "card", "lender", "draft", "other"]
    assert shapes["ConsignmentChange"]["required"] == ["version"]
    assert schema["components"]["securitySchemes"]["token"] == {"type": "http", "scheme": "bearer"}


def test_strangers_see_neither_schema_nor_documentation() -> None:
    assert APIClient().get("/api/schema/").status_code == 401
    answer = APIClient().get("/api/docs/")
    assert (answer.status_code, answer["Location"]) == (302, "/sign-in/?next=/api/docs/")


def test_documentation_comes_from_this_machine_under_its_own_policy(browser: APIClient) -> None:
    page = browser.get("/api/docs/")
    text = page.content.decode()
    assert page.status_code == 200
    assert "http://" not in text
    assert "https://" not in text
    assert "/static/drf_spectacular_sidecar/swagger-ui-dist/swagger-ui-bundle" in text
    policy = {part.strip() for part in page["Content-Security-Policy"].split(";")}  # in whatever order
    assert {"style-src 'self' 'unsafe-inline'", "script-src 'self'", "default-src 'none'"} <= policy  # no inline script
    script = browser.get("/api/docs/?script=")
    assert (script.status_code, "/api/schema/" in script.content.decode()) == (200, True)


def test_other_answers_keep_the_strict_policy(browser: APIClient) -> None:
    assert "unsafe-inline" not in browser.get("/api/v1/me/")["Content-Security-Policy"]
