"""Sales elsewhere are recorded by hand, corrected and taken out: each time by a row that follows the one before."""

import uuid
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import transaction

from inventory.actions import logbook
from inventory.actions.writing import add, again, trade_day
from inventory.errors import NotFound, Refused, TooLate
from inventory.models import MarketSale, SalesImport
from inventory.queries.elsewhere import tellings
from inventory.rules import identity, money
from inventory.rules.elsewhere import told_before
from inventory.rules.roles import Act, Actor, require
from inventory.sheets import ELSEWHERE, Elsewhere


@transaction.atomic
def add_sale(
    said: Elsewhere, *, sure: bool = False, client_key: uuid.UUID | None = None, by: Actor, at: datetime
) -> MarketSale:
    """Record one. What looks like a sale that is there already is questioned; `sure` says that it is another."""
    require(by, Act.RECORD_ELSEWHERE)
    if (known := again(MarketSale, client_key=client_key)) is not None:
        return known
    _check(said, at=at)
    if not sure:
        _question_twice(said)
    row = add(MarketSale(**columns(said), client_key=client_key, by=by.name, at=at))
    return _logged("elsewhere.recorded", row, by=by, at=at)


@transaction.atomic
def correct_sale(
    sale_id: int, *, said: Elsewhere, reason: str, client_key: uuid.UUID | None = None, by: Actor, at: datetime
) -> MarketSale:
    """Write a new row in the place of one; the old one stays to be read."""
    require(by, Act.RECORD_ELSEWHERE)
    if (known := again(MarketSale, client_key=client_key)) is not None:
        return known
    old = _locked(sale_id)
    _check(said, at=at)
    row = MarketSale(
        **columns(said), follows=old, reason=_given(reason), client_key=client_key, by=by.name, at=at
    )  # fmt: skip
    return _logged("elsewhere.corrected", add(row), by=by, at=at)


@transaction.atomic
def drop_sale(sale_id: int, *, reason: str, by: Actor, at: datetime) -> MarketSale:
    """Take one out, by a last row that says why."""
    require(by, Act.RECORD_ELSEWHERE)
    old = _locked(sale_id)
    kept = {name: getattr(old, name) for name in _COLUMNS}
    row = add(MarketSale(**kept, follows=old, dropped=True, reason=_given(reason), by=by.name, at=at))
    return _logged("elsewhere.dropped", row, by=by, at=at)


def columns(said: Elsewhere) -> dict[str, Any]:
    """A sale as its columns."""
    return {
        **{name: getattr(said, name) or "" for name in _TEXTS},
        **{name: getattr(said, name) for name in _VALUES},
        "modifications": None if said.modifications is None else list(said.modifications),
        "mileage": said.mileage_mi,
        "price": money.round_money(said.price),
    }


def imported(said: Elsewhere, *, content_hash: str, kept: SalesImport, by: Actor, at: datetime) -> MarketSale:
    """The row of an imported sale, not saved yet."""
    return MarketSale(**columns(said), imported_with=kept, content_hash=content_hash, by=by.name, at=at)


_TEXTS = (
    "source", "channel", "premium", "make", "model", "trim", "body", "engine", "transmission", "color",
    "build_class", "title_brand", "vin", "odometer_status", "note",
)  # fmt: skip
_VALUES = (
    "ended_on", "sold", "year", "condition_low", "condition_high", "originality_low", "originality_high",
)  # fmt: skip
_COLUMNS = (*_TEXTS, *_VALUES, "modifications", "mileage", "price")


def _check(said: Elsewhere, *, at: datetime) -> None:
    """The same as a spreadsheet is held to."""
    today = trade_day(at)
    identity.check_year(said.year, today=today)
    money.check_amount(said.price, field="price", minimum=Decimal("0.01"))
    for field, why in ELSEWHERE.contradictions(said, today=today):
        raise Refused("elsewhere_contradicts", why, field=field, got=str(getattr(said, field)))


def _question_twice(said: Elsewhere) -> None:
    known = told_before(said.telling(), among=tellings(on=said.ended_on, price=said.price))
    if known is not None:
        raise Refused(
            "told_twice",
            f"A {known.year} {known.make} {known.model} at {money.show(known.price)} on {known.ended_on} is here "
            f"already, told by {known.source}.",
            field="sure", got=known.source,
            mend="If this is another sale, say so below; if it is the same, leave it.",
        )  # fmt: skip


def _given(reason: str) -> str:
    if not reason.strip():
        raise Refused("reason_missing", "It is not said why.", field="reason", mend="Give the reason.")
    return reason.strip()


def _locked(sale_id: int) -> MarketSale:
    """A sale that still counts, locked: two corrections of one would both count."""
    row = MarketSale.objects.select_for_update(of=("self",)).filter(pk=sale_id).first()
    if row is None:
        raise NotFound("not_found", "There is no such sale elsewhere.", got=sale_id)
    after = MarketSale.objects.filter(follows=row).first()
    if row.dropped or after is not None:
        raise TooLate(
            "sale_is_past",
            f"{(after or row).by} corrected or took out this sale on {trade_day((after or row).at)}.",
            mend="Look at the list again.",
        )
    return row


def _logged(action: str, row: MarketSale, *, by: Actor, at: datetime) -> MarketSale:
    logbook.record(
        action, row, by=by, at=at, vehicle=f"{row.year} {row.make} {row.model}", price=row.price, source=row.source,
        reason=row.reason,
    )  # fmt: skip
    return row
