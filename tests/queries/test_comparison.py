"""The sales of a grid: those the opinion's own fit learned from, never an outcome of the very stay."""

import csv
import io
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from inventory import bridge
from inventory.actions import pricing, selling
from inventory.actions.importing import import_sales
from inventory.models import Consignment, ModelFit, PriceOpinion, SaleOutcome
from inventory.queries import comparison
from inventory.queries.comparison import Grid, grid_of
from inventory.queries.comparison_file import as_csv
from inventory.queries.pricing_desk import desk, stay_by_number
from inventory.rules.money import total
from inventory.rules.roles import Actor
from inventory.rules.states import State
from inventory.sheets import Options
from tests import build
from tests.actions.test_pricing import BOOK, NOW

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("learned_once")]


@pytest.fixture
def book(owner: Actor) -> None:
    import_sales(BOOK, name=BOOK.name, options=Options(), by=owner, at=NOW)


def fit(owner: Actor) -> ModelFit:
    return pricing.fit_prices(by=owner, at=NOW, refits=0)


def priced(stay: Consignment, *, by: Actor) -> PriceOpinion:
    return pricing.give_opinion(stay.pk, by=by, at=NOW)


@pytest.fixture
def grid(book: None, owner: Actor) -> Grid:
    fit(owner)
    return grid_of(priced(build.consignment(State.INSPECTED, at=NOW), by=owner))


def test_inputs_as_kept_are_priced_as_they_were(grid: Grid) -> None:
    """The grid is held against what the opinion keeps as JSON: read back, it is the same vehicle."""
    band = bridge.band_of(grid.opinion.inputs, state=ModelFit.objects.get().learned)
    assert isinstance(band, bridge.Band)
    assert (band.low, band.likely, band.high) == (grid.opinion.low, grid.opinion.likely, grid.opinion.high)


def test_lines_shown_add_up_to_the_cent(grid: Grid) -> None:
    assert len(grid.sales) == 6
    for place, sale in enumerate(grid.sales):
        assert sale.sale_price + total(line.cells[place].amount for line in grid.lines) == sale.adjusted_price
        moved = total(abs(line.cells[place].amount) for line in grid.lines)
        assert abs(sale.gross - 100 * moved / sale.sale_price) <= Decimal("0.005")
    assert grid.reconciled is not None
    assert grid.inside == (grid.opinion.low <= grid.reconciled <= grid.opinion.high)


def test_every_line_differs_for_some_sale(grid: Grid) -> None:
    assert {"Year", "The market on the day"} <= {line.label for line in grid.lines}
    for line in grid.lines:
        assert any(cell.amount or cell.told != line.subject for cell in line.cells), line.label


def test_modifications_that_a_sale_does_not_tell_share_one_line(grid: Grid) -> None:
    unsaid = [line for line in grid.lines if line.label == "Modifications, where not known"]
    assert len(unsaid) == 1
    for sale, cell in zip(grid.sales, unsaid[0].cells, strict=True):
        known = SaleOutcome.objects.get(pk=sale.outcome).modifications is not None
        assert cell.told == ("as this vehicle" if known else "not known")
        assert not (known and cell.amount)


def test_days_listed_are_counted_from_the_row(grid: Grid) -> None:
    for sale in grid.sales:
        row = SaleOutcome.objects.get(pk=sale.outcome)
        assert sale.ended_on == row.ended_on
        assert sale.days_listed == ((row.ended_on - row.listed_on).days if row.listed_on else None)
        assert not sale.own_stay


def test_own_earlier_outcome_is_no_comparable_of_the_same_stay(book: None, owner: Actor) -> None:
    stay = build.consignment(State.SOLD, at=NOW)
    fit(owner)  # learned from the sale that is about to be unwound
    selling.unwind_sale(stay.pk, reason="loan refused", by=owner, at=NOW)
    own = SaleOutcome.objects.filter(consignment=stay).values_list("pk", flat=True)
    found = grid_of(priced(stay, by=owner))
    assert len(found.sales) == 6
    assert not {sale.outcome for sale in found.sales} & set(own)


def test_earlier_sale_of_the_vehicle_and_one_set_aside_are_marked(book: None, owner: Actor) -> None:
    sold = build.consignment(State.SOLD, at=NOW)
    fit(owner)
    twin = build.consignment(State.INSPECTED, at=NOW)
    opinion = priced(twin, by=owner)
    opinion.inputs = {**opinion.inputs, "vin": sold.vehicle.serial}
    nearest = grid_of(opinion).sales[0]
    assert (nearest.stock_number, nearest.own_stay) == (sold.stock_number, True)
    assert nearest.marks == ("This very vehicle, sold before.",)
    selling.unwind_sale(sold.pk, reason="loan refused", by=owner, at=NOW)
    again = grid_of(opinion).sales[0]
    assert again.marks == ("This very vehicle, sold before.", "Set aside since the fit.")


def test_older_opinion_keeps_the_sales_of_its_own_fit(book: None, owner: Actor) -> None:
    fit(owner)
    stay = build.consignment(State.INSPECTED, at=NOW)
    first = priced(stay, by=owner)
    before = grid_of(first)
    twin = build.consignment(State.SOLD, at=NOW)
    assert replace(grid_of(first), opinion=before.opinion) == before
    fit(owner)
    outcome = SaleOutcome.objects.get(consignment=twin)
    assert outcome.pk in {sale.outcome for sale in grid_of(priced(stay, by=owner)).sales}
    assert outcome.pk not in {sale.outcome for sale in grid_of(first).sales}


def test_desk_asks_as_often_with_more_sales(book: None, owner: Actor) -> None:
    fit(owner)
    stay = build.consignment(State.INSPECTED, at=NOW)
    priced(stay, by=owner)
    few = queries_of(stay, by=owner)
    for _ in range(4):
        build.consignment(State.SOLD, at=NOW)
    fit(owner)
    priced(stay, by=owner)
    assert queries_of(stay, by=owner) == few


def queries_of(stay: Consignment, *, by: Actor) -> int:
    seen = stay_by_number(stay.stock_number)
    with CaptureQueriesContext(
        connection,
    ) as captured:
        assert desk(seen, by=by, today=timezone.localdate(NOW) + timedelta(days=1)).comparison
    return len(captured)


def test_grid_asks_for_its_sales_alone_where_the_fit_is_known(grid: Grid) -> None:
    state = ModelFit.objects.get().learned
    with CaptureQueriesContext(
        connection,
    ) as captured:
        assert grid_of(grid.opinion, state=state) == grid
    assert len(captured) == 4


def test_file_holds_the_figures_of_the_grid(grid: Grid) -> None:
    text = as_csv(grid)
    assert text.startswith("\ufeff")
    head, *rows = csv.reader(io.StringIO(text.removeprefix("\ufeff")))
    assert "Year ($)" in head
    assert "net adjustment (% of price)" in head
    sales = [dict(zip(head, row, strict=True)) for row in rows]
    for shown, sale in zip(sales, grid.sales, strict=False):
        lines = total(Decimal(shown[f"{line.label} ($)"]) for line in grid.lines)
        assert Decimal(shown["price ($)"]) + lines == Decimal(shown["adjusted price ($)"]) == sale.adjusted_price
        assert shown["sale date"] == sale.ended_on.isoformat()
    assert [row["row"] for row in sales[6:]] == ["reconciled", "low", "likely", "high"]
    assert Decimal(sales[6]["adjusted price ($)"]) == grid.reconciled
    assert Decimal(sales[8]["adjusted price ($)"]) == grid.opinion.likely


@pytest.mark.parametrize("ugly", ["=HYPERLINK(1)", "+1", "-1+1", "@x", "\tx"])
def test_text_that_would_run_as_a_formula_is_escaped(grid: Grid, ugly: str) -> None:
    changed = replace(grid, sales=tuple(replace(sale, vehicle=ugly, stock_number=ugly) for sale in grid.sales))
    _, *rows = csv.reader(io.StringIO(as_csv(changed)))
    assert all(row[2:4] == [f"'{ugly}", f"'{ugly}"] for row in rows[:6])
    assert any(cell.startswith("-") for row in rows for cell in row)  # amounts below zero stay numbers


def test_fit_that_cannot_be_read_says_so_instead_of_a_grid(grid: Grid) -> None:
    found = grid_of(grid.opinion, state={"version": 0})
    assert not found.sales
    assert "another version" in found.problem


def test_of_a_long_history_the_latest_of_the_model_are_looked_at(grid: Grid, monkeypatch: pytest.MonkeyPatch) -> None:
    for name, most in (("MOST_OF_MODEL", 3), ("MOST_OF_MAKE", 1), ("MOST_OF_ALL", 2)):
        monkeypatch.setattr(comparison, name, most)
    bounded = grid_of(grid.opinion)
    model = grid.opinion.inputs["model"]
    assert 3 <= len(bounded.sales) <= 6
    assert sum(model in sale.vehicle for sale in bounded.sales) >= min(3, sum(model in s.vehicle for s in grid.sales))
