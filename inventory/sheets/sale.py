"""One past sale as plain values, and what must hold between them."""

import hashlib
import json
from collections.abc import Iterator
from dataclasses import dataclass, fields, replace
from datetime import date
from decimal import Decimal
from itertools import pairwise
from typing import Any

from inventory.rules.identity import FIRST_YEAR
from inventory.rules.words import Result
from inventory.sheets.options import Options
from inventory.sheets.told import ScoredTold

YEARS_AHEAD = 2
"""A model year may run ahead of the calendar by this much."""


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong with one cell: canonical column, its header in the file, the value, why with the mend."""

    column: str
    header: str
    value: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Sale(ScoredTold):
    """A past sale or withdrawal. None means unknown; money is in the lot's currency, mileage in miles."""

    ended_on: date
    result: str = Result.SOLD.value
    price: Decimal | None = None
    stock_number: str | None = None
    arrived_on: date | None = None
    listed_on: date | None = None
    first_ask: Decimal | None = None
    last_ask: Decimal | None = None
    reason: str | None = None
    channel: str | None = None

    def content_hash(self) -> str:
        return hash_of(self)


def hash_of(record: Any) -> str:
    """SHA-256 over all values; the same for the same facts however file, case and spacing write them."""
    parts = [[field.name, _canonical(getattr(record, field.name))] for field in fields(record)]
    parts = sorted(part for part in parts if part[1] is not None)
    return hashlib.sha256(json.dumps(parts, separators=(",", ":")).encode()).hexdigest()


def make(values: dict[str, Any], *, options: Options) -> Sale:
    """A sale from the values of a row; without a result the vehicle was sold."""
    return Sale(**{**values, "result": values.get("result") or Result.SOLD.value})


def kept(sale: Sale) -> Sale:
    """A reason beside a sale is not kept."""
    return replace(sale, reason=None) if sale.result == Result.SOLD and sale.reason is not None else sale


def stock_key(stock_number: str) -> str:
    """What two spellings of one stock number share."""
    return stock_number.casefold()


def contradictions(sale: Sale, *, today: date) -> Iterator[tuple[str, str]]:
    """Column and reason for each fact that cannot stand beside the others."""
    yield from _about_the_end(sale)
    yield from _about_dates(sale, today=today)
    if sale.year > sale.ended_on.year + YEARS_AHEAD:
        yield "year", f"A {sale.year} model cannot have left in {sale.ended_on.year}. Check both."


def oddities(sale: Sale) -> Iterator[tuple[str, str]]:
    """Column and remark for what is imported but worth a look."""
    if sale.result == Result.SOLD and sale.reason is not None:
        yield "reason", "A reason belongs to withdrawn rows; beside a sale it is not kept."
    if sale.last_ask is not None and sale.first_ask is not None and sale.last_ask > sale.first_ask:
        yield "last_ask", "The last ask is above the first."
    if sale.price is not None and sale.first_ask is not None and not _near(sale.price, ask=sale.first_ask):
        yield "price", "Price and first ask differ more than fivefold: check for a missing or extra figure."


def _about_the_end(sale: Sale) -> Iterator[tuple[str, str]]:
    if sale.result == Result.SOLD and sale.price is None:
        yield "price", "A sold vehicle needs its price. Enter it, or set result to withdrawn."
    if sale.result == Result.WITHDRAWN and sale.price is not None:
        yield "price", "A withdrawn vehicle has no price. Empty the cell, or set result to sold."


def _about_dates(sale: Sale, *, today: date) -> Iterator[tuple[str, str]]:
    dated = (("arrived_on", sale.arrived_on), ("listed_on", sale.listed_on), ("ended_on", sale.ended_on))
    known = [(column, day) for column, day in dated if day is not None]
    for column, day in known:
        yield from impossible_day(day, column=column, today=today)
    for (earlier, before), (column, day) in pairwise(known):
        if day < before:
            yield column, f"{day} is before {earlier} {before}. Correct one of them."


def impossible_day(day: date, *, column: str, today: date) -> Iterator[tuple[str, str]]:
    """Why something that has happened cannot have happened on that day."""
    if day > today:
        yield column, f"{day} lies in the future. Check the date."
    if day.year < FIRST_YEAR:
        yield column, f"{day} is before there were motor cars. Check the year."


def _near(price: Decimal, *, ask: Decimal) -> bool:
    return ask <= price * 5 and price <= ask * 5


def _canonical(value: object) -> object:
    if isinstance(value, Decimal):
        return format(value.normalize(), "f")
    if isinstance(value, str):
        return value.casefold()
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, tuple):
        return [part.casefold() for part in value]
    return value
