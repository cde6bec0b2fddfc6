"""Who may not see money sees none: not in rows, not in the log."""

import re
from collections.abc import Callable

import pytest
from rest_framework.test import APIClient

from inventory.models import Consignment
from inventory.rules.states import State
from tests.api import rows
from tests.api.conftest import url
from tests.api.test_rights import CASES, address

pytestmark = pytest.mark.django_db

MONEY = re.compile(r"\d{1,3}(,\d{3})+\.\d{2}|\d+\.\d{2}\b|\$")


@pytest.fixture
def settled(stay: Callable[..., Consignment]) -> Consignment:
    built = stay(State.SETTLED)
    rows.priced(built)
    return built


def readable(client: APIClient, stay: Consignment) -> str:
    """Everything that the client may read about a consignment, in one text."""
    answers = [
        client.get(address(case.name, stay, 1))
        for case in CASES
        if case.method == "get" and case.name not in {"answers", "asks"}
    ]
    return "\n".join(answer.content.decode() for answer in answers if answer.status_code == 200)


def test_intake_reads_no_amount_but_the_advertised_ask(as_intake: APIClient, settled: Consignment) -> None:
    text = readable(as_intake, settled)
    asked = '"ask":"48500.00"'
    assert asked in text
    without_ask = re.sub(r"set the ask to \$48,500.00", "", text.replace(asked, ""))
    without_ask = re.sub(r"49 CFR \d+\.\d+", "", without_ask)  # sections of published rules are no amounts
    without_ask = re.sub(r'"(hint|limit)":"[^"]*"', "", without_ask)  # nor are the volts of the catalogue's hints
    assert not MONEY.search(without_ask), MONEY.search(without_ask)
    assert "Bo Larkin" not in without_ask  # the buyer


def test_owner_reads_amounts_there(as_owner: APIClient, settled: Consignment) -> None:
    text = readable(as_owner, settled)
    assert '"due":"44135.00"' in text  # 48,500.00 less 9 % (4,365.00)
    assert '"likely":"45000.00"' in text
    assert "Bo Larkin" in text


def test_log_tells_each_role_what_it_may_know(as_intake: APIClient, as_sales: APIClient, settled: Consignment) -> None:
    def actions(client: APIClient) -> set[str]:
        found = client.get(url(settled, "log/?page_size=200")).json()["results"]
        return {row["action"].partition(".")[0] for row in found}

    assert {"settlement", "outcome", "payment", "terms"} <= actions(as_sales)
    assert actions(as_intake) == {"vehicle", "consignment", "inspection", "identity", "title", "ask"}


def test_log_is_in_sentences(as_sales: APIClient, settled: Consignment) -> None:
    found = as_sales.get(url(settled, "log/?page_size=200")).json()["results"]
    assert f"logged {settled.stock_number}, 1968 Merrow Alder" in [row["sentence"] for row in found]
    assert "recorded terms version 1, signed by Ada Fenwick" in " ".join(row["sentence"] for row in found)
    assert [row["id"] for row in found] == sorted((row["id"] for row in found), reverse=True)


def test_me_says_what_the_role_may(as_intake: APIClient) -> None:
    me = as_intake.get("/api/v1/me/").json()
    assert (me["kind"], me["role"]) == ("token", "intake")
    assert set(me["may"]) == {
        "see_lot", "log_vehicle", "inspect", "record_facts", "set_up_floor", "log_incident", "order_work",
    }  # fmt: skip
