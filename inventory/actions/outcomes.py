"""Outcomes are appended with a frozen snapshot of what the vehicle was."""

from datetime import date, datetime
from decimal import Decimal
from typing import Any, Protocol

from inventory.actions.writing import add
from inventory.errors import Refused
from inventory.models import Consignment, Deal, SaleOutcome
from inventory.queries.history import live_outcome, snapshot
from inventory.rules import money, terms
from inventory.rules.roles import Actor
from inventory.rules.words import Result

SNAPSHOT = (
    "stock_number", "vin", "year", "make", "model", "trim", "body", "engine", "transmission", "build_class",
    "color", "mileage", "odometer_status", "condition_low", "condition_high", "originality_low",
    "originality_high", "title_brand", "modifications", "arrived_on", "listed_on", "first_ask", "last_ask",
)  # fmt: skip


class Priced(Protocol):
    """A bargain or a deal: whatever has a price and what lowers it."""

    @property
    def price(self) -> Decimal: ...
    @property
    def concessions(self) -> Decimal: ...
    @property
    def trade_allowance(self) -> Decimal: ...
    @property
    def trade_value(self) -> Decimal: ...


def over_allowance(priced: Priced) -> Decimal:
    """What a trade was taken in for above its worth."""
    return terms.over_allowance(priced.trade_allowance, value=priced.trade_value)


def effective_price(priced: Priced) -> Decimal:
    """The price less concessions and trade over-allowance: what the history learns from."""
    return priced.price - priced.concessions - over_allowance(priced)


def append_sale(
    stay: Consignment, *, deal: Deal, on: date, channel: str, arms_length: bool, by: Actor, at: datetime
) -> SaleOutcome:
    return _append(
        stay, result=Result.SOLD, deal=deal, ended_on=on, channel=channel, arms_length=arms_length,
        price=deal.price, concessions=deal.concessions, over_allowance=over_allowance(deal),
        effective_price=effective_price(deal), by=by.name, at=at,
    )  # fmt: skip


def append_lowered(stay: Consignment, *, deal: Deal, by: Actor, at: datetime) -> SaleOutcome:
    """The sale as it stands after money off: what the vehicle was stays as it was frozen, the effective price falls."""
    last = live_outcome(stay)
    if last is None:
        raise Refused("not_sold", f"{stay.stock_number} has no sale.", field="state", got=stay.state)
    off = money.total(deal.later_concessions.values_list("amount", flat=True))
    kept = {name: getattr(last, name) for name in (*SNAPSHOT, *_OF_SALE)}
    return add(
        SaleOutcome(
            **{**kept, "concessions": deal.concessions + off, "effective_price": effective_price(deal) - off},
            consignment=stay, follows=last, by=by.name, at=at,
        )
    )  # fmt: skip


_OF_SALE = ("result", "deal", "ended_on", "channel", "arms_length", "price", "over_allowance")


def append_withdrawal(stay: Consignment, *, reason: str, detail: str, on: date, by: Actor, at: datetime) -> SaleOutcome:
    return _append(stay, result=Result.WITHDRAWN, reason=reason, detail=detail.strip(), ended_on=on, by=by.name, at=at)


def append_void(stay: Consignment, *, reason: str, on: date, by: Actor, at: datetime) -> SaleOutcome:
    """Set the outcome that stands aside, by a row that follows it."""
    return _append(stay, result=Result.VOID, detail=reason.strip()[:200], ended_on=on, by=by.name, at=at)


def _append(stay: Consignment, **columns: Any) -> SaleOutcome:
    return add(SaleOutcome(consignment=stay, follows=live_outcome(stay), **snapshot(stay), **columns))
