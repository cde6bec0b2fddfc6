"""The comparison grid as it leaves the library: money that adds up, and never the subject itself."""

from dataclasses import replace
from decimal import Decimal
from functools import cache
from typing import Any

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.bridge import Learned, Part, compare, learn, percent
from inventory.bridge.comparison import adjusted
from inventory.errors import Refused
from inventory.rules.money import total
from tests.valuation.histories import drawn_lot


@cache
def history() -> tuple[tuple[dict[str, Any], ...], Learned]:
    """Sixty invented sales as rows of the history, and what is learned from them."""
    lot = drawn_lot(90, seed=5)
    rows = [
        {name: None if pd.isna(value) else value for name, value in row.items()}
        | {"id": 1000 + place, "effective_price": Decimal(f"{price:.2f}")}
        for place, (row, price) in enumerate(zip(lot.inputs.to_dict("records"), lot.price, strict=True))
    ][:60]
    return tuple(rows), learn(rows, prices=[row["effective_price"] for row in rows], coverage_percent=80)


def test_worked_example_of_practice_adds_up_in_money() -> None:
    # Worked example of the sales comparison grid: 42,000; market +3 %, condition, originality, mileage → 43,860.
    lines = {"ended_on": "1260.00", "condition": "-1500.00", "originality": "2400.00", "mileage": "-300.00"}
    found = adjusted(
        7, likeness=Decimal("0.90"), sale_price=Decimal("42000.00"),
        lines=tuple(Part(name, Decimal(amount)) for name, amount in lines.items()),
    )  # fmt: skip
    assert found.adjusted_price == Decimal("43860.00")
    assert (found.net, found.gross) == (Decimal("4.43"), Decimal("13.00"))


@settings(max_examples=25, deadline=None)
@given(
    place=st.integers(0, 59), mileage=st.none() | st.integers(0, 400_000), year=st.integers(1930, 1990),
    points=st.none() | st.integers(0, 100),
)  # fmt: skip
def test_price_and_lines_are_the_adjusted_price_exactly(
    place: int, mileage: int | None, year: int, points: int | None
) -> None:
    rows, learned = history()
    subject = {**rows[place], "mileage": mileage, "year": year, "condition_low": points, "condition_high": points}
    found = compare(subject, sales=rows, state=learned.state)
    assert len(found.comparables) == 6
    for sale in found.comparables:
        moved = total(line.amount for line in sale.lines)
        assert sale.sale_price + moved == sale.adjusted_price
        assert sale.net == percent(moved, of=sale.sale_price)
        assert sale.gross == percent(total(abs(line.amount) for line in sale.lines), of=sale.sale_price)
        assert -1 <= sale.likeness <= 1
        assert sale.sale_price == next(row["effective_price"] for row in rows if row["id"] == sale.outcome)
    assert min(sale.adjusted_price for sale in found.comparables) <= (found.reconciled or 0)
    assert max(sale.adjusted_price for sale in found.comparables) >= (found.reconciled or 0)


def test_nearest_come_first_and_a_twin_needs_no_adjustment() -> None:
    rows, learned = history()
    found = compare(rows[10], sales=rows, state=learned.state)
    assert found.comparables[0].outcome == rows[10]["id"]
    assert found.comparables[0].adjusted_price == rows[10]["effective_price"]
    assert [sale.likeness for sale in found.comparables] == sorted(
        (sale.likeness for sale in found.comparables), reverse=True
    )


@pytest.mark.parametrize("sale_id", [0, 1, 1000])
def test_place_of_a_sale_never_makes_it_the_subject(sale_id: int) -> None:
    """A frame's own labels begin with 0, for the subject as for the sales: only ids may be labels."""
    rows, learned = history()
    sales = [{**rows[10], "id": sale_id}, *rows[20:30]]
    assert compare(rows[10], sales=sales, state=learned.state).comparables[0].outcome == sale_id


def test_fewer_sales_than_asked_for_give_fewer() -> None:
    rows, learned = history()
    assert len(compare(rows[0], sales=rows[:3], state=learned.state).comparables) == 3
    none = compare(rows[0], sales=[], state=learned.state)
    assert (none.comparables, none.reconciled) == ((), None)


def test_order_of_the_sales_does_not_matter() -> None:
    rows, learned = history()
    assert compare(rows[5], sales=rows, state=learned.state) == compare(rows[5], sales=rows[::-1], state=learned.state)


def test_fit_of_another_version_is_refused_with_its_mend() -> None:
    rows, learned = history()
    strange = replace(learned, state={**learned.state, "version": -1})
    with pytest.raises(Refused, match="another version"):
        compare(rows[0], sales=rows, state=strange.state)
