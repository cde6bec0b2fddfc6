"""The vehicle taken in trade."""

from dataclasses import replace
from datetime import datetime

from django.db import transaction

from inventory.actions import intake, logbook, owning
from inventory.actions.intake import Arrival
from inventory.actions.writing import change, locked, locked_lot
from inventory.errors import Refused
from inventory.models import Consignment
from inventory.queries import facts
from inventory.rules.floor_words import OwnCostKind
from inventory.rules.roles import Act, Actor, require
from inventory.rules.states import State


@transaction.atomic
def log_trade(consignment_id: int, *, vehicle: Arrival, by: Actor, at: datetime) -> Consignment:
    """The vehicle taken in trade becomes the lot's own, as a stay of its own. The consignor is still owed in money."""
    require(by, Act.LOG_VEHICLE)
    lot = locked_lot()  # before the stay, as whoever counts does: two at once never wait for each other
    stay = locked(consignment_id)
    deal = facts.deal_of(stay)
    if stay.state not in {State.SOLD, State.SETTLED} or not deal.trade_allowance:
        raise Refused(
            "no_trade", f"Nothing was taken in trade for {stay.stock_number} in a sale that stands.", field="year",
            mend="Record the allowance with the sale first.",
        )  # fmt: skip
    if deal.trade_stay is not None:
        raise Refused(
            "done_already", f"The trade is logged as {deal.trade_stay.stock_number}.", field="year",
            got=deal.trade_stay.stock_number,
        )  # fmt: skip
    owner = owning.the_lot_itself(lot, at=at)
    given = replace(vehicle, consignor_id=owner.pk, consignor_name="")
    own = intake.log_vehicle(given, by=by, at=at)
    change(deal, trade_stay=own)
    worth = deal.trade_value or deal.trade_allowance  # where nobody said its worth, what it was taken in for
    cost = owning.Cost(
        kind=OwnCostKind.TRADE, what=f"in the sale of {stay.stock_number}", amount=worth, paid_to=deal.buyer
    )
    owning.append_cost(own, cost=cost, by=by, at=at)
    logbook.record("deal.trade_logged", deal, by=by, at=at, consignment=stay, stock_number=own.stock_number)
    return own
