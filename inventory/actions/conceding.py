"""Money off the price after a sale: borne by the lot on the owner's word, by the consignor only when they agreed."""

import uuid
from datetime import date, datetime
from decimal import Decimal

from django.db import transaction

from inventory.actions import logbook, outcomes
from inventory.actions.writing import add, again, change, locked, trade_day
from inventory.errors import Refused
from inventory.models import Concession, ConsentRequest, Consignment, Deal
from inventory.queries import facts
from inventory.rules import money
from inventory.rules.plausibility import check_not_future
from inventory.rules.roles import Act, Actor, require
from inventory.rules.states import State
from inventory.rules.words import BornBy


@transaction.atomic
def concede(
    consignment_id: int, *, amount: Decimal, reason: str, on: date | None = None, client_key: uuid.UUID | None = None,
    by: Actor, at: datetime,
) -> Concession:  # fmt: skip
    """The lot gives the buyer money off after the sale and bears it itself."""
    require(by, Act.CONCEDE)
    stay = locked(consignment_id)
    if (known := again(Concession, client_key=client_key)) is not None:
        return known
    deal = check_concession(stay, amount=amount)
    if not reason.strip():
        raise Refused("reason_missing", "The reason is missing.", field="reason", mend="Say what it is given for.")
    day = check_not_future(on or trade_day(at), today=trade_day(at), field="on")
    row = Concession(
        deal=deal, amount=amount, borne_by=BornBy.LOT, reason=reason.strip(), client_key=client_key, on=day,
        by=by.name, at=at,
    )  # fmt: skip
    return _append(stay, row=row, by=by, at=at)


def append_agreed(request: ConsentRequest, *, by: Actor, at: datetime) -> Concession:
    """Money off that the consignor agreed to bear."""
    stay = request.consignment
    assert request.amount is not None  # noqa: S101  # the database refuses such a question without an amount
    deal = check_concession(stay, amount=request.amount)
    row = Concession(
        deal=deal, amount=request.amount, borne_by=BornBy.CONSIGNOR, reason=request.what, consent=request,
        on=trade_day(at), by=request.by, at=at,
    )  # fmt: skip
    return _append(stay, row=row, by=by, at=at)


def check_concession(stay: Consignment, *, amount: Decimal) -> Deal:
    """The deal it belongs to: sold, and with something left of its price."""
    deal = facts.live_deal(stay)
    if stay.state not in {State.SOLD, State.SETTLED} or deal is None:
        raise Refused(
            "not_sold", f"{stay.stock_number} is {stay.get_state_display()}: there is no sale to give money off.",
            field="amount", got=stay.state, mend="Before the sale the price itself is agreed lower.",
        )  # fmt: skip
    money.check_amount(amount, field="amount", minimum=money.CENT)
    before = money.total(deal.later_concessions.values_list("amount", flat=True))
    left = outcomes.effective_price(deal) - before
    if amount >= left:
        raise Refused(
            "nothing_left", f"{money.show(amount)} off leaves nothing of the {money.show(left)} it was sold for.",
            field="amount", got=str(amount), mend="Check the amount, or unwind the sale.",
        )  # fmt: skip
    return deal


def _append(stay: Consignment, *, row: Concession, by: Actor, at: datetime) -> Concession:
    add(row)
    outcomes.append_lowered(stay, deal=row.deal, by=by, at=at)
    change(stay)
    logbook.record(
        "deal.conceded", row, by=by, at=at, consignment=stay, amount=row.amount, reason=row.reason,
        borne_by=row.get_borne_by_display(),
    )  # fmt: skip
    return row
