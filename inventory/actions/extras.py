"""Taxes and fees that a buyer pays beside the price."""

import uuid
from datetime import date, datetime
from decimal import Decimal

from django.db import transaction

from inventory.actions import logbook
from inventory.actions.writing import add, again, change, locked, trade_day
from inventory.errors import NotFound, Refused
from inventory.models import Consignment, DealExtra
from inventory.queries import facts
from inventory.rules import money
from inventory.rules.plausibility import check_not_future
from inventory.rules.roles import Act, Actor, require
from inventory.rules.words import ExtraKind


@transaction.atomic
def add_extra(
    consignment_id: int, *, kind: str, amount: Decimal, label: str = "", on: date | None = None,
    client_key: uuid.UUID | None = None, by: Actor, at: datetime,
) -> DealExtra:  # fmt: skip
    """A tax or fee that the buyer pays beside the price. It is entered, not reckoned: places differ."""
    require(by, Act.MARK_SOLD)
    stay = locked(consignment_id)
    if (known := again(DealExtra, client_key=client_key)) is not None:
        return known
    deal = facts.deal_of(stay)
    _refuse_settled(stay)
    today = trade_day(at)
    row = add(
        DealExtra(
            deal=deal, kind=kind, label=label.strip(),
            amount=money.check_amount(amount, field="amount", minimum=money.CENT),
            on=check_not_future(on or today, today=today, field="on"), client_key=client_key, by=by.name, at=at,
        )
    )  # fmt: skip
    change(stay)
    logbook.record(
        "deal.extra", row, by=by, at=at, consignment=stay, kind=row.get_kind_display(), amount=row.amount,
        label=f", {row.label}" if row.label else "",
    )  # fmt: skip
    return row


@transaction.atomic
def set_extra_aside(extra_id: int, *, by: Actor, at: datetime) -> DealExtra:
    """Take a tax or fee back by a row that names it."""
    require(by, Act.MARK_SOLD)
    wrong = DealExtra.objects.select_related("deal").filter(pk=extra_id, sets_aside__isnull=True).first()
    if wrong is None:
        raise NotFound("not_found", "There is no such tax or fee.", got=extra_id)
    stay = locked(wrong.deal.consignment_id)
    _refuse_settled(stay)
    if DealExtra.objects.filter(sets_aside=wrong).exists():
        raise Refused("done_already", "This is set aside already.", field="extra")
    row = add(
        DealExtra(
            deal=wrong.deal, kind=wrong.kind, label=wrong.label, amount=wrong.amount, sets_aside=wrong,
            on=trade_day(at), by=by.name, at=at,
        )
    )  # fmt: skip
    change(stay)
    logbook.record(
        "deal.extra_aside", row, by=by, at=at, consignment=stay, kind=ExtraKind(row.kind).label, amount=row.amount
    )
    return row


def _refuse_settled(stay: Consignment) -> None:
    if facts.settlement_of(stay) is not None:
        raise Refused(
            "settled_already", f"{stay.stock_number} is settled: what its buyer owes cannot change any more.",
            field="state", got=stay.state, mend="Settle it with the buyer apart.",
        )  # fmt: skip
