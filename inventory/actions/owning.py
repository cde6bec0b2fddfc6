"""Vehicles of the lot's own: bought, what they cost, and a sale that nobody else is paid for."""

import uuid
from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import Decimal

from django.db import transaction

from inventory.actions import intake, logbook
from inventory.actions.intake import Arrival
from inventory.actions.moving import move
from inventory.actions.writing import add, again, locked, locked_lot, trade_day
from inventory.errors import NotFound, Refused
from inventory.models import Consignment, Consignor, Lot, OwnCost
from inventory.rules import money
from inventory.rules.floor_words import OwnCostKind
from inventory.rules.plausibility import check_not_future
from inventory.rules.roles import Act, Actor, require
from inventory.rules.states import State


@dataclass(frozen=True, kw_only=True)
class Cost:
    """What was paid for, or into, a vehicle of the lot's own."""

    kind: str = OwnCostKind.OTHER
    what: str = ""
    amount: Decimal
    paid_to: str = ""
    on: date | None = None


def the_lot_itself(lot: Lot, *, at: datetime) -> Consignor:
    """The lot among the consignors, so that its own vehicles stand on the same screens; apart in every money report."""
    known = Consignor.objects.filter(is_lot=True).first()
    return known or add(Consignor(name=lot.name, is_lot=True, created_at=at))


@transaction.atomic
def buy_vehicle(
    arrival: Arrival, *, price: Decimal, paid_to: str, on: date | None = None, client_key: uuid.UUID | None = None,
    by: Actor, at: datetime,
) -> Consignment:  # fmt: skip
    """The lot buys a vehicle: it arrives as any other, and what was paid is the first of its costs."""
    require(by, Act.OWN_STOCK)
    lot = locked_lot()
    if (known := again(OwnCost, client_key=client_key)) is not None:
        return known.consignment
    if not paid_to.strip():
        raise Refused("no_seller", "The seller is missing.", field="paid_to", mend="Say from whom it was bought.")
    given = replace(arrival, consignor_id=the_lot_itself(lot, at=at).pk, consignor_name="")
    stay = intake.log_vehicle(given, by=by, at=at)
    cost = Cost(kind=OwnCostKind.PURCHASE, what=str(stay.vehicle), amount=price, paid_to=paid_to, on=on)
    append_cost(stay, cost=cost, client_key=client_key, by=by, at=at)
    return stay


@transaction.atomic
def add_cost(
    consignment_id: int, *, cost: Cost, client_key: uuid.UUID | None = None, by: Actor, at: datetime
) -> OwnCost:
    """A further cost, also one whose bill comes after the sale."""
    require(by, Act.OWN_STOCK)
    stay = locked(consignment_id)
    if (known := again(OwnCost, client_key=client_key)) is not None:
        return known
    return append_cost(stay, cost=cost, client_key=client_key, by=by, at=at)


def append_cost(
    stay: Consignment, *, cost: Cost, client_key: uuid.UUID | None = None, by: Actor, at: datetime
) -> OwnCost:
    """Inside the caller's transaction."""
    refuse_of_others(stay)
    today = trade_day(at)
    row = add(
        OwnCost(
            consignment=stay, kind=cost.kind, what=cost.what.strip(), paid_to=cost.paid_to.strip(),
            amount=money.check_amount(cost.amount, field="amount", minimum=money.CENT),
            on=check_not_future(cost.on or today, today=today, field="on"), client_key=client_key, by=by.name, at=at,
        )
    )  # fmt: skip
    logbook.record(
        "own.cost", row, by=by, at=at, consignment=stay, amount=row.amount, what=str(row),
        to=f", paid to {row.paid_to}" if row.paid_to else "",
    )  # fmt: skip
    return row


@transaction.atomic
def set_cost_aside(cost_id: int, *, reason: str, by: Actor, at: datetime) -> OwnCost:
    """Take a cost back by a row that names it; both stay."""
    require(by, Act.OWN_STOCK)
    wrong = OwnCost.objects.filter(pk=cost_id, sets_aside__isnull=True).first()
    if wrong is None:
        raise NotFound("not_found", "There is no such cost.", got=cost_id)
    stay = locked(wrong.consignment_id)
    if OwnCost.objects.filter(sets_aside=wrong).exists():
        raise Refused("done_already", "This cost is set aside already.", field="cost")
    if not reason.strip():
        raise Refused("reason_missing", "The reason is missing.", field="reason", mend="Say why.")
    row = add(
        OwnCost(
            consignment=stay, kind=wrong.kind, what=reason.strip()[:200], amount=wrong.amount, paid_to=wrong.paid_to,
            on=trade_day(at), sets_aside=wrong, by=by.name, at=at,
        )
    )  # fmt: skip
    logbook.record(
        "own.cost_aside", row, by=by, at=at, consignment=stay, amount=wrong.amount, what=str(wrong),
        because=logbook.because(reason),
    )  # fmt: skip
    return row


@transaction.atomic
def close_sale(consignment_id: int, *, by: Actor, at: datetime, version: int | None = None) -> Consignment:
    """The buyer's money has cleared and is the lot's: the sale is settled, with no statement and nobody to be paid."""
    require(by, Act.OWN_STOCK)
    stay = locked(consignment_id, version=version)
    refuse_of_others(stay)
    return move(stay.pk, to=State.SETTLED, by=by, at=at)


def refuse_of_others(stay: Consignment) -> None:
    """A vehicle that somebody else owns has charges, not costs of the lot."""
    if not stay.consignor.is_lot:
        raise Refused(
            "not_own", f"{stay.stock_number} belongs to {stay.consignor.name}, not to the lot.", field="kind",
            got=stay.stock_number, mend="Add a charge on its terms page instead.",
        )  # fmt: skip


def refuse_own(stay: Consignment, *, what: str) -> None:
    """What is agreed with a consignor, charged to them or settled with them is not for the lot's own."""
    if stay.consignor.is_lot:
        raise Refused(
            "own_stock", f"{stay.stock_number} is the lot's own: {what}.", field="state", got=stay.stock_number,
            mend="Its costs and its profit are on the page of own stock.",
        )  # fmt: skip
