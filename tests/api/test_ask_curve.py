"""The curve for programs: the API and the command say the same."""

import json
from collections.abc import Callable
from decimal import Decimal
from io import StringIO
from typing import Any

import pytest
from django.core.management import call_command
from rest_framework.test import APIClient

from inventory.actions import pricing
from inventory.models import Consignment, PriceOpinion
from inventory.rules.states import State
from tests import askings, build
from tests.api.conftest import NOW, said, url

pytestmark = pytest.mark.django_db


@pytest.fixture
def priced(stay: Callable[..., Consignment]) -> Consignment:
    askings.fitted(NOW)
    row = stay(State.LISTED, price="42000.00")
    pricing.give_opinion(row.pk, by=build.BUILDER, at=NOW)
    return row


def command(*given: str) -> Any:
    out = StringIO()
    call_command("ask", *given, stdout=out, stderr=StringIO())
    return out.getvalue()


def test_api_tells_the_curve_with_amounts_as_text(as_sales: APIClient, priced: Consignment) -> None:
    body = as_sales.get(url(priced, "ask-curve/")).json()
    assert {"asks", "suggested", "check_next"} <= set(body)
    row = next(row for row in body["asks"] if row["ask"] == "42000.00")
    assert set(row) == {"ask", "ask_ratio", "chance", "expected_price", "consignor_net", "lot_gross"}
    assert set(row["chance"]) == {"30", "60", "90", "end"}
    assert 0 < row["chance"]["30"] <= row["chance"]["60"] <= row["chance"]["90"] <= row["chance"]["end"] < 1
    assert Decimal(row["ask_ratio"]) == Decimal(f"{42000 / Decimal(body['band']['likely']):.4f}")
    assert body["suggested"]["objective"] == "consignor_net"
    assert body["suggested"]["ask"] in {row["ask"] for row in body["asks"]}
    assert {"question", "worth"} == set(body["check_next"][0])


def test_api_is_refused_to_intake_and_without_evidence(
    as_intake: APIClient, as_owner: APIClient, priced: Consignment
) -> None:
    assert as_intake.get(url(priced, "ask-curve/")).status_code == 403
    askings.fitted(NOW, selling=askings.thin_selling())
    answer = as_owner.get(url(priced, "ask-curve/"))
    assert answer.status_code == 400
    assert said(answer)["code"] == "too_little_evidence"


def test_command_says_the_same_in_numbers(as_owner: APIClient, priced: Consignment) -> None:
    told, shown = json.loads(command(priced.stock_number, "--json")), as_owner.get(url(priced, "ask-curve/")).json()
    assert [row["ask"] for row in told["asks"]] == [float(row["ask"]) for row in shown["asks"]]
    assert [row["consignor_net"] for row in told["asks"]] == [float(row["consignor_net"]) for row in shown["asks"]]
    assert [row["chance"] for row in told["asks"]] == [row["chance"] for row in shown["asks"]]
    assert set(told["suggested"]) == {"ask", "objective", "reason"}
    assert isinstance(told["suggested"]["ask"], float)
    assert [row["question"] for row in told["check_next"]] == [row["question"] for row in shown["check_next"]]


def test_command_takes_an_objective_and_prints_a_table(priced: Consignment) -> None:
    assert json.loads(command(priced.stock_number, "--json", "--objective", "sell_by"))["suggested"]["objective"] == (
        "sell_by"
    )
    table = command(priced.stock_number)
    assert "ask/likely" in table
    assert "$42,000" in table
    assert "Suggested: $" in table
    assert "check next:" in table


def test_command_prices_what_was_not_priced_yet_and_keeps_nothing(stay: Callable[..., Consignment]) -> None:
    askings.fitted(NOW)
    row = stay(State.ON_LOT)
    body = json.loads(command(row.stock_number, "--json"))
    assert len(body["asks"]) >= 30
    assert {(ask["consignor_net"], ask["lot_gross"]) for ask in body["asks"]} == {(None, None)}
    assert body["suggested"]["ask"] is None
    assert "No terms are agreed" in body["suggested"]["reason"]
    assert not PriceOpinion.objects.exists()


@pytest.mark.parametrize(("thin", "code", "ends_with"), [(True, "too_little_evidence", 3), (False, "no_stock", 2)])
def test_command_ends_as_the_evidence_is(
    stay: Callable[..., Consignment], capsys: Any, thin: bool, code: str, ends_with: int
) -> None:
    askings.fitted(NOW, selling=askings.thin_selling())
    number, out = stay(State.ON_LOT).stock_number if thin else "99-0001", StringIO()
    with pytest.raises(SystemExit) as ended:
        call_command("ask", number, "--json", stdout=out, stderr=StringIO())
    assert ended.value.code == ends_with
    assert json.loads(out.getvalue())["error"]["code"] == (code if thin else "not_found")
