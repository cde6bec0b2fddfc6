"""The sentences on the papers of a deal. A lawyer reviews them under local law before a lot uses them."""

from collections.abc import Sequence
from datetime import date
from decimal import Decimal

from inventory.rules import money

TO_BE_REVIEWED = "To be reviewed by a lawyer under local law before use. Title and tax rules differ by place."
BILL_CONDITIONS: Sequence[str] = (
    "Terms of warranty: as written in the buyers-guide notice displayed, if it applies. Any other term the lot writes "
    "here:",
    "_" * 60,
    "The odometer line says what was read and what is stated of it. Where the law asks for a disclosure of the "
    "mileage, that disclosure is a paper of its own.",
    "Money counts as paid once it has cleared. Title and vehicle are handed over after that.",
)


def bill_waits_for(address: str) -> str:
    return "" if address.strip() else "The buyer's address is missing."


def seller_told(lot: str, *, consignor: str, agreement: str) -> str:
    """Who sells, no further than the record goes: it does not say who owns the vehicle under law."""
    if not consignor:
        return f"{lot}, of its own stock"
    if not agreement:
        return f"{lot}, selling for {consignor}; no consignment agreement is recorded"
    return f"{lot}, selling for {consignor} under the consignment agreement, {agreement}"


def given_beside(concessions: Decimal) -> list[str]:
    """What was given with the sale is no part of the money the buyer owes."""
    if not concessions:
        return []
    return [f"Given to the buyer with the sale, beside the price and not taken off it: {money.show(concessions)}."]


def deposit_conditions(*, refundable: bool, hold_until: date | None) -> list[str]:
    until = f"until the end of {hold_until}" if hold_until else "until the lot and the buyer agree otherwise"
    fate = (
        "The deposit goes back to the buyer if the sale does not come about."
        if refundable
        else "The deposit does not go back to the buyer if the buyer does not complete the purchase, as far as local "
        "law allows that."
    )
    return [
        f"The lot holds the vehicle for the buyer {until}.",
        fate,
        "If the sale comes about the deposit counts towards the price.",
        "Back-up offers may be taken while the vehicle is held. When the hold ends, the next one is asked.",
        "A deposit counts once it has cleared.",
    ]
