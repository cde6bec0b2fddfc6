"""Fits and opinions: what is learned, what is kept, and when there is no band."""

import json
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path

import pytest

from inventory.actions import pricing
from inventory.actions.importing import import_sales
from inventory.errors import NotAllowed, NotFound, Refused
from inventory.models import ModelFit, PriceOpinion, SaleOutcome
from inventory.queries.pricing_desk import is_stale
from inventory.rules.money import total
from inventory.rules.roles import Actor
from inventory.rules.states import State
from inventory.sheets import Options
from tests import build

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 11, 25, 15, 0, tzinfo=UTC)
BOOK = Path(__file__).resolve().parents[2] / "fixtures" / "demo" / "past_sales.csv"


@pytest.fixture
def fit(owner: Actor) -> ModelFit:
    import_sales(BOOK, name=BOOK.name, options=Options(), by=owner, at=NOW)
    return pricing.fit_prices(by=owner, at=NOW, refits=0)


def test_fit_uses_every_sold_outcome(fit: ModelFit) -> None:
    assert fit.sales_used == SaleOutcome.objects.filter(result="sold").count() == 240
    assert json.loads(json.dumps(fit.learned, allow_nan=False)) == fit.learned


def test_parts_add_up_to_likely_to_the_cent(fit: ModelFit, owner: Actor) -> None:
    stay = build.consignment(State.INSPECTED, at=NOW)
    opinion = pricing.give_opinion(stay.pk, by=owner, at=NOW)
    assert total(Decimal(part["amount"]) for part in opinion.parts) == opinion.likely
    assert opinion.low < opinion.likely < opinion.high
    assert opinion.evidence["sales_used"] == 240


def test_sale_makes_the_fit_stale_and_the_next_fit_uses_it(fit: ModelFit, owner: Actor) -> None:
    assert not is_stale(fit)
    build.consignment(State.SOLD, at=NOW)
    assert is_stale(fit)
    assert pricing.fit_prices(by=owner, at=NOW, refits=0).sales_used == 241


def test_outcomes_set_aside_are_not_learned_from(fit: ModelFit, owner: Actor) -> None:
    stay = build.consignment(State.SOLD, at=NOW)
    build.selling.unwind_sale(stay.pk, reason="loan refused", by=owner, at=NOW)
    assert pricing.fit_prices(by=owner, at=NOW, refits=0).sales_used == 240


def test_the_same_rows_give_the_same_fit(fit: ModelFit, owner: Actor) -> None:
    again = pricing.fit_prices(by=owner, at=NOW, refits=0)
    assert again.learned == fit.learned
    assert again.sales_hash == fit.sales_hash


def test_no_sales_means_no_fit_and_says_how_many_are_needed(owner: Actor) -> None:
    with pytest.raises(Refused, match="There are 0 sold outcomes; a band needs at least 12"):
        pricing.fit_prices(by=owner, at=NOW, refits=0)


def test_eleven_sales_give_no_band(owner: Actor, tmp_path: Path) -> None:
    lines = BOOK.read_text().splitlines()
    sold = [lines[0], *[line for line in lines if ",sold," in line][:11]]
    path = tmp_path / "few.csv"
    path.write_text("\n".join(sold))
    import_sales(path, name=path.name, options=Options(), by=owner, at=NOW)
    pricing.fit_prices(by=owner, at=NOW, refits=0)
    stay = build.consignment(State.INSPECTED, at=NOW)
    with pytest.raises(Refused) as refusal:
        pricing.give_opinion(stay.pk, by=owner, at=NOW)
    assert refusal.value.code == "too_little_evidence"
    assert "11" in str(refusal.value)
    assert "12" in str(refusal.value)


def test_sales_without_a_fit_are_told(owner: Actor) -> None:
    import_sales(BOOK, name=BOOK.name, options=Options(), by=owner, at=NOW)
    stay = build.consignment(State.INSPECTED, at=NOW)
    with pytest.raises(Refused) as refusal:
        pricing.give_opinion(stay.pk, by=owner, at=NOW)
    assert refusal.value.code == "no_fit"


def test_opinion_of_nothing_is_refused(fit: ModelFit, owner: Actor) -> None:
    with pytest.raises(NotFound):
        pricing.give_opinion(999_999, by=owner, at=NOW)


def test_intake_sees_no_band(fit: ModelFit, intake: Actor) -> None:
    stay = build.consignment(State.INSPECTED, at=NOW)
    with pytest.raises(NotAllowed):
        pricing.give_opinion(stay.pk, by=intake, at=NOW)


def test_opinions_are_kept_side_by_side(fit: ModelFit, owner: Actor) -> None:
    stay = build.consignment(State.INSPECTED, at=NOW)
    first, second = (pricing.give_opinion(stay.pk, by=owner, at=NOW) for _ in range(2))
    assert (first.low, first.likely, first.high) == (second.low, second.likely, second.high)
    assert PriceOpinion.objects.filter(consignment=stay).count() == 2
    assert first.inputs["ended_on"] == str(date(2026, 11, 25))
