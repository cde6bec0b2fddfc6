"""Sales elsewhere in a fit and in the grid of an opinion: marked on the page, in the file and on the paper."""

import io
from datetime import timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from pypdf import PdfReader

from inventory.actions import pricing
from inventory.actions.importing import import_sales
from inventory.actions.writing import add
from inventory.models import Consignment, MarketSale, ModelFit, PriceOpinion, SaleOutcome
from inventory.papers.price_opinion import price_opinion
from inventory.queries.comparison import Grid, SaleSeen, grid_of
from inventory.queries.comparison_file import as_csv
from inventory.queries.history import elsewhere_for_fit
from inventory.queries.opinion_paper import opinion_paper
from inventory.queries.track_record import track_record_of
from inventory.rules.elsewhere_words import BID
from inventory.rules.money import total
from inventory.rules.roles import Actor
from inventory.rules.states import State
from inventory.sheets import Options
from tests import build
from tests.actions.test_pricing import BOOK, NOW
from tests.pages.browse import sign_in, text_of, url

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("learned_once")]

FACTS = (
    "year", "make", "model", "body", "transmission", "build_class", "mileage", "condition_low", "condition_high",
    "ended_on",
)  # fmt: skip


def told(row: SaleOutcome, **changes: Any) -> MarketSale:
    """What was told of such a vehicle elsewhere: a fifth more, or a bid of what it brought here."""
    facts = {name: getattr(row, name) for name in FACTS}
    price = (row.effective_price or Decimal(0)) * Decimal("1.2")
    given = {"source": "the county hall", "price": price.quantize(Decimal(1)), "by": "Ada", "at": NOW}
    return add(MarketSale(**(facts | given | changes)))


@pytest.fixture
def book(tmp_path: Path, owner: Actor) -> list[SaleOutcome]:
    """The first 40 rows of the book: an own history that sales elsewhere can add to."""
    short = tmp_path / BOOK.name
    short.write_text("".join(BOOK.read_text(encoding="utf-8").splitlines(keepends=True)[:41]), encoding="utf-8")
    import_sales(short, name=BOOK.name, options=Options(), by=owner, at=NOW)
    return list(SaleOutcome.objects.for_fit().order_by("pk"))


@pytest.fixture
def elsewhere(book: list[SaleOutcome]) -> list[MarketSale]:
    """Sales and bids elsewhere, two of a vehicle like each of the own ones."""
    return [
        told(
            row,
            sold=place % 3 > 0,
            premium=("included", "not_said")[place % 2],
            price=(row.effective_price or Decimal(0)) * (90 + 7 * place % 61) / 100,
        )
        for place, row in enumerate([*book, *book])
    ]


@pytest.fixture
def grid(elsewhere: list[MarketSale], owner: Actor) -> Grid:
    pricing.fit_prices(by=owner, at=NOW, refits=0)
    return grid_of(priced(build.consignment(State.INSPECTED, at=NOW), by=owner))


def priced(stay: Consignment, *, by: Actor) -> PriceOpinion:
    return pricing.give_opinion(stay.pk, by=by, at=NOW)


def like(row: MarketSale, opinion: PriceOpinion) -> PriceOpinion:
    """The same opinion, of a vehicle with the facts of one sale elsewhere: it stands first in the grid."""
    opinion.inputs = opinion.inputs | {name: getattr(row, name) for name in FACTS if name != "ended_on"}
    return opinion


def test_fit_grid_file_paper_and_page_tell_them_from_own_sales(
    grid: Grid, elsewhere: list[MarketSale], client: Client, owner: Actor
) -> None:
    _check_fit(grid, count=len(elsewhere))
    opinion = like(elsewhere[0], grid.opinion)
    with CaptureQueriesContext(connection) as asked:
        found = grid_of(opinion)
    assert len(asked) == 6
    others = [sale for sale in found.sales if sale.elsewhere is not None]
    assert others
    assert all(sale.outcome is None and "county hall" in sale.marks[0] for sale in others)
    for place, sale in enumerate(found.sales):
        assert sale.sale_price + total(line.cells[place].amount for line in found.lines) == sale.adjusted_price
    where = next(line for line in found.lines if line.name == "elsewhere")
    assert (where.label, where.subject) == ("Where it was sold", "by the lot")
    assert others[0].marks[0] in as_csv(found)
    paper = "".join(page.extract_text() for page in PdfReader(io.BytesIO(price_opinion(opinion_paper(opinion)))).pages)
    assert f"And from {len(elsewhere)} sales elsewhere" in " ".join(paper.split())
    page = text_of(sign_in(client, owner).get(url(_stay(opinion), "pricing_desk")))
    assert f"and from {len(elsewhere)} sales elsewhere" in page
    _check_taken_out(opinion, seen=others[0], count=len(elsewhere))


def _check_fit(grid: Grid, *, count: int) -> None:
    summary = ModelFit.objects.get().summary
    assert (summary["elsewhere"]["used"], summary["elsewhere"]["count"]) == (True, count)
    assert summary["elsewhere_newest"] == MarketSale.objects.order_by("-pk").values_list("pk", flat=True).first()
    assert {kind["kind"] for kind in summary["elsewhere"]["kinds"]} == {BID, "sold_included", "sold_not_said"}
    assert grid.opinion.evidence["sales_elsewhere"] == count
    assert track_record_of(None).elsewhere[0] == f"{count} sales elsewhere count in it."


def _check_taken_out(opinion: PriceOpinion, *, seen: SaleSeen, count: int) -> None:
    """One that was taken out since stays in the grid of its fit, marked, and is not in the next fit."""
    row = MarketSale.objects.get(pk=seen.elsewhere)
    copied = {name: getattr(row, name) for name in (*FACTS, "source", "price", "sold", "premium")}
    add(MarketSale(**copied, follows=row, dropped=True, reason="told twice", by="Ada", at=NOW + timedelta(days=1)))
    after = next(sale for sale in grid_of(opinion).sales if sale.elsewhere == row.pk)
    assert after.marks == (*seen.marks, "Taken out since the fit.")
    assert len(elsewhere_for_fit()) == count - 1


def _stay(opinion: PriceOpinion) -> Consignment:
    assert opinion.consignment is not None
    return opinion.consignment


def test_told_since_the_fit_they_wait_for_the_next(book: list[SaleOutcome], owner: Actor) -> None:
    fit = pricing.fit_prices(by=owner, at=NOW, refits=0)
    assert (fit.summary["elsewhere"], fit.summary["elsewhere_newest"]) == ({}, 0)
    told(book[0])
    opinion = priced(build.consignment(State.INSPECTED, at=NOW), by=owner)
    with CaptureQueriesContext(connection) as asked:
        assert all(sale.elsewhere is None for sale in grid_of(opinion).sales)
    assert len(asked) == 5
