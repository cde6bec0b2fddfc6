"""Price opinions through the API: given from the last fit, kept, refused where the evidence is too thin."""

from collections.abc import Callable
from decimal import Decimal
from pathlib import Path

import pytest
from rest_framework.test import APIClient

from inventory.actions import pricing
from inventory.actions.importing import import_sales
from inventory.models import Consignment, PriceOpinion
from inventory.rules.roles import Actor
from inventory.rules.states import State
from inventory.sheets import Options
from tests.api.conftest import NOW, said, url

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("learned_once")]
BOOK = Path(__file__).resolve().parents[2] / "fixtures" / "demo" / "past_sales.csv"


def test_opinion_is_given_and_kept_with_parts_that_add_up(
    as_sales: APIClient, stay: Callable[..., Consignment], owner: Actor
) -> None:
    import_sales(BOOK, name=BOOK.name, options=Options(), by=owner, at=NOW)
    fit = pricing.fit_prices(by=owner, at=NOW, refits=0)
    built = stay(State.INSPECTED)
    answer = as_sales.post(url(built, "price/"), {})
    assert answer.status_code == 201, answer.content
    opinion = answer.json()
    assert opinion["fit"] == fit.pk
    assert sum(Decimal(part["amount"]) for part in opinion["parts"]) == Decimal(opinion["likely"])
    assert Decimal(opinion["low"]) < Decimal(opinion["likely"]) < Decimal(opinion["high"])
    assert as_sales.get(url(built, "price/")).json()["results"] == [opinion]


def test_thin_evidence_says_how_much_there_is_and_how_much_is_needed(
    as_sales: APIClient, stay: Callable[..., Consignment]
) -> None:
    answer = as_sales.post(url(stay(State.INSPECTED), "price/"), {})
    assert (answer.status_code, said(answer)["code"], said(answer)["field"]) == (400, "too_little_evidence", "sales")
    assert "There are 0 sold outcomes; a band needs at least 12." in said(answer)["message"]
    assert not PriceOpinion.objects.exists()


def test_comparison_holds_the_figures_of_the_newest_opinion(
    as_sales: APIClient, stay: Callable[..., Consignment], owner: Actor
) -> None:
    import_sales(BOOK, name=BOOK.name, options=Options(), by=owner, at=NOW)
    pricing.fit_prices(by=owner, at=NOW, refits=0)
    built = stay(State.INSPECTED)
    opinion = pricing.give_opinion(built.pk, by=owner, at=NOW)
    answer = as_sales.get(url(built, "comparison/"))
    assert answer.status_code == 200, answer.content
    shown = answer.json()
    assert (shown["opinion"], shown["likely"]) == (opinion.pk, str(opinion.likely))
    assert len(shown["sales"]) == 6
    for place, sale in enumerate(shown["sales"]):
        moved = sum(Decimal(line["amounts"][place]) for line in shown["lines"])
        assert Decimal(sale["sale_price"]) + moved == Decimal(sale["adjusted_price"])
    assert Decimal(shown["low"]) <= Decimal(shown["likely"]) <= Decimal(shown["high"])
    assert shown["inside"] == (Decimal(shown["low"]) <= Decimal(shown["reconciled"]) <= Decimal(shown["high"]))
    assert shown["problem"] == ""


def test_comparison_without_an_opinion_is_not_there(as_sales: APIClient, stay: Callable[..., Consignment]) -> None:
    answer = as_sales.get(url(stay(State.INSPECTED), "comparison/"))
    assert answer.status_code == 404
    assert "No band has been given" in said(answer)["message"]
