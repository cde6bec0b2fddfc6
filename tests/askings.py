"""A lot whose fit has learned time to sale: from invented stays, once for each process of the tests."""

from datetime import date, datetime
from decimal import Decimal
from functools import cache
from typing import Any

from inventory import bridge
from inventory.models import ModelFit
from inventory.rules.words import SaleChannel
from valuation.simulate_stays import simulate_stays

LAST = date(2026, 3, 1)
STAYS = 150


@cache
def stays() -> list[dict[str, Any]]:
    frame = simulate_stays(STAYS, ending_on=LAST, seed=11, knowing=0.4).stays
    return [_row(row) for row in frame.astype(object).where(frame.notna(), None).to_dict("records")]


@cache
def learned() -> tuple[bridge.Learned, dict[str, Any]]:
    """What a fit learns of prices and of selling, from the same stays."""
    sold = [row for row in stays() if row["price"] is not None]
    sales = [row | {"id": place, "effective_price": row["price"]} for place, row in enumerate(sold)]
    prices = [row["price"] for row in sales]
    return (
        bridge.learn(sales, prices=prices, coverage_percent=80),
        bridge.learn_selling(stays(), sales=sales, coverage_percent=80),
    )


@cache
def thin_selling() -> dict[str, Any]:
    """What is learned of selling from too few stays."""
    return bridge.learn_selling(stays()[:9], sales=[], coverage_percent=80)


def _row(row: dict[str, Any]) -> dict[str, Any]:
    price = row["price"]
    return {
        **row, "arms_length": True, "channel": SaleChannel.LOT.value,
        "price": None if price is None else Decimal(f"{price:.2f}"),
        "ended_on": _day(row["ended_on"]), "listed_on": _day(row["listed_on"]),
    }  # fmt: skip


def _day(value: Any) -> date:
    return date.fromisoformat(str(value)[:10])


def fitted(at: datetime, **changes: Any) -> ModelFit:
    """The last fit of the lot."""
    prices, selling = learned()
    return ModelFit.objects.create(
        **{
            "learned": prices.state, "selling": selling, "summary": {"coverage_percent": 80},
            "sales_used": prices.sales_used, "sales_hash": prices.sales_hash, "newest_outcome_id": 0, "by": "tests",
            "at": at, **changes,
        }
    )  # fmt: skip
