"""What is put right on a deal: the buyer's name as the papers need it, and the address."""

from datetime import datetime

from django.db import transaction

from inventory.actions import logbook
from inventory.actions.writing import change, locked
from inventory.errors import NotFound, Refused
from inventory.models import Deal
from inventory.queries import facts
from inventory.rules.roles import Act, Actor, require


@transaction.atomic
def correct_buyer(
    consignment_id: int, *, buyer: str, address: str, by: Actor, at: datetime, version: int | None = None
) -> Deal:
    """The buyer's legal name and address on the deal that stands. The log keeps what it was."""
    require(by, Act.RECORD_PAYMENT)
    stay = locked(consignment_id, version=version)
    deal = facts.live_deal(stay)
    if deal is None:
        raise NotFound("no_deal", f"There is no deal on {stay.stock_number}.", field="deal")
    for name, value in (("buyer", buyer), ("address", address)):
        if not value.strip():
            raise Refused(f"no_{name}", f"The buyer's {_CALLED[name]} is missing.", field=name, mend="Give it in full.")
    was = f"{deal.buyer}, {' '.join(deal.address.split()) or 'no address'}"
    change(deal, buyer=buyer.strip(), address=address.strip())
    change(stay)
    logbook.record("deal.buyer_corrected", deal, by=by, at=at, consignment=stay, was=was, buyer=deal.buyer)
    return deal


_CALLED = {"buyer": "name", "address": "address"}
