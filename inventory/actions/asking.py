"""The ask is set and the vehicle listed: the owner decides, beside the band."""

from datetime import datetime
from decimal import Decimal

from django.db import transaction

from inventory.actions import logbook
from inventory.actions.moving import move
from inventory.actions.writing import add, change, locked, trade_day
from inventory.errors import Refused
from inventory.models import AskChange, Consignment, PriceOpinion
from inventory.queries import facts
from inventory.rules import money
from inventory.rules.roles import Act, Actor, require
from inventory.rules.states import State

ASKABLE = (State.BOOKED, State.ON_LOT, State.INSPECTED, State.LISTED)


@transaction.atomic
def set_ask(
    consignment_id: int, *, amount: Decimal, reason: str = "", by: Actor, at: datetime, version: int | None = None
) -> AskChange:  # fmt: skip
    """Append one ask. It may not be below the floor the consignor agreed to."""
    require(by, Act.SET_ASK)
    stay = locked(consignment_id, version=version)
    if stay.state not in ASKABLE:
        raise Refused(
            "not_askable", f"{stay.stock_number} is {stay.get_state_display()}: its ask cannot change now.",
            field="state", got=stay.state, mend="The ask changes before or while the vehicle is listed.",
        )  # fmt: skip
    money.check_amount(amount, field="ask", minimum=money.CENT)
    _refuse_below_floor(stay, amount=amount, at=at)
    opinion = PriceOpinion.objects.filter(consignment=stay).order_by("-pk").first()
    row = add(
        AskChange(
            consignment=stay, amount=amount, reason=reason.strip(), opinion=opinion, on=trade_day(at),
            by=by.name, at=at,
        )
    )  # fmt: skip
    change(stay)
    logbook.record("ask.set", row, by=by, at=at, consignment=stay, amount=amount, because=logbook.because(reason))
    return row


def _refuse_below_floor(stay: Consignment, *, amount: Decimal, at: datetime) -> None:
    today = trade_day(at)
    floor = facts.floor_price(facts.terms_of(stay), charges=facts.live_charges(stay), on=today)
    if floor is not None and amount < floor:
        raise Refused(
            "ask_below_floor",
            f"The ask {money.show(amount)} is below the floor {money.show(floor)}.",
            field="ask", got=str(amount),
            mend="Set an ask at or above the floor, or agree a lower floor with the consignor.",
        )  # fmt: skip


@transaction.atomic
def list_vehicle(consignment_id: int, *, by: Actor, at: datetime, version: int | None = None) -> Consignment:
    """Offer an inspected vehicle for sale."""
    return move(consignment_id, to=State.LISTED, by=by, at=at, version=version)
