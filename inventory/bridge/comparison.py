"""The nearest past sales of one vehicle under a stored fit, each adjusted to it line by line, in money."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

import pandas as pd

from inventory.bridge.bands import Part, read_back
from inventory.bridge.elsewhere import elsewhere_of, id_of
from inventory.bridge.frames import frame_of, money_of
from inventory.rules.money import round_money, total
from valuation.comparables import nearest_sales
from valuation.schema import check

NEAREST = 6
SUBJECT = "subject"  # never the label of a sale: those are numbers


@dataclass(frozen=True)
class Comparable:
    """One past sale: `sale_price` and the lines add up to `adjusted_price`; net and gross in percent of the first.

    `outcome` is the id of one of the lot's own, `elsewhere` that of a sale elsewhere: one of them is None.
    """

    outcome: int | None
    elsewhere: int | None
    likeness: Decimal
    sale_price: Decimal
    lines: tuple[Part, ...]
    adjusted_price: Decimal
    net: Decimal
    gross: Decimal


@dataclass(frozen=True)
class Comparison:
    """The nearest sales, the nearest first, and the median of their adjusted prices weighted by likeness."""

    comparables: tuple[Comparable, ...]
    reconciled: Decimal | None


def compare(
    subject: Mapping[str, Any],
    *,
    sales: Sequence[Mapping[str, Any]],
    state: dict[str, Any],
    elsewhere: Sequence[Mapping[str, Any]] = (),
    count: int = NEAREST,
) -> Comparison:
    """Hold one vehicle against past sales: rows of the history with their `id` and `effective_price`.

    `elsewhere` are candidates too where the fit learned from such: else it cannot tell how far they stand apart.
    """
    model = read_back(state)
    others = elsewhere_of(elsewhere) if model.elsewhere_ is not None and model.elsewhere_.used else None
    if not sales and others is None:
        return Comparison((), None)
    here, there = _labelled([subject], labels=[SUBJECT]), _labelled(sales, labels=[row["id"] for row in sales])
    price = [float(row["effective_price"]) for row in sales]
    grid = nearest_sales(model, here, sales=there, price=price, elsewhere=others, count=count)
    told = zip(grid.sales.to_dict("records"), grid.adjustments.to_dict("records"), strict=True)
    found = tuple(_comparable(sale, adjustments=lines) for sale, lines in told)
    return Comparison(found, money_of(grid.reconciled["reconciled"].iloc[0]) if found else None)


def _labelled(rows: Sequence[Mapping[str, Any]], *, labels: list[Any]) -> pd.DataFrame:
    """A frame whose rows are known by name: a sale with the subject's label would count as the subject itself."""
    frame = frame_of(rows)
    check(frame)
    return frame.set_axis(pd.Index(labels, dtype=object))


def _comparable(sale: Mapping[Any, Any], *, adjustments: Mapping[Any, Any]) -> Comparable:
    lines = tuple(Part(str(name), money_of(amount)) for name, amount in adjustments.items())
    other = id_of(sale["sale"])
    found = adjusted(
        int(sale["sale"]) if other is None else None, elsewhere=other, sale_price=money_of(sale["sale_price"]),
        likeness=round_money(Decimal(repr(float(sale["likeness"])))), lines=lines,
    )  # fmt: skip
    if found.adjusted_price != money_of(sale["adjusted_price"]):
        raise ArithmeticError(f"The lines add up to {found.adjusted_price}, not to {sale['adjusted_price']}.")
    return found


def adjusted(
    outcome: int | None,
    *,
    likeness: Decimal,
    sale_price: Decimal,
    lines: tuple[Part, ...],
    elsewhere: int | None = None,
) -> Comparable:
    """One sale with its lines added up: exact to the cent, the percentages to two places."""
    change = total(line.amount for line in lines)
    moved = total(abs(line.amount) for line in lines)
    return Comparable(
        outcome, elsewhere, likeness, sale_price, lines, sale_price + change, percent(change, of=sale_price),
        percent(moved, of=sale_price),
    )  # fmt: skip


def percent(amount: Decimal, *, of: Decimal) -> Decimal:
    """One amount in percent of another, to two places."""
    return round_money(100 * amount / of)
