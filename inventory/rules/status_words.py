"""What a consignor is told of the state of their vehicle and of what they agreed to, in plain words."""

from inventory.rules.states import State
from inventory.rules.words import ConsentKind, ConsentResult

STATE_TOLD: dict[State, str] = {
    State.BOOKED: "expected at the lot",
    State.ON_LOT: "at the lot",
    State.INSPECTED: "inspected",
    State.LISTED: "for sale",
    State.DEPOSIT: "held for a buyer",
    State.SOLD: "sold",
    State.SETTLED: "sold and settled",
    State.WITHDRAWN: "withdrawn from sale",
    State.RELEASED: "handed back",
}
NEXT: dict[State, str] = {
    State.BOOKED: "The lot waits for the vehicle to arrive.",
    State.ON_LOT: "Next, the lot inspects the vehicle.",
    State.INSPECTED: "Next, the ask is set and the vehicle is offered for sale.",
    State.LISTED: "It is offered for sale. Every offer that is passed on is shown here.",
    State.DEPOSIT: "A buyer has paid a deposit. Further offers are still taken in case the deal falls through.",
    State.SOLD: "Next, the buyer's money has to clear; then your settlement is approved and paid.",
    State.SETTLED: "Your settlement is approved; what has been paid is shown below.",
    State.WITHDRAWN: "Next, charges that are open are paid and the vehicle is handed back.",
    State.RELEASED: "The vehicle has been handed back.",
}
TITLE: dict[ConsentKind, str] = {
    ConsentKind.FLOOR: "Agree to a lower price",
    ConsentKind.TERMS: "Agree to new terms",
    ConsentKind.CHARGE: "Agree to a charge",
    ConsentKind.ASK: "Agree to an asking price",
    ConsentKind.CONCESSION: "Agree to money off after the sale",
}
_EFFECT: dict[ConsentKind, str] = {
    ConsentKind.FLOOR: "With that the lowest price agreed was changed.",
    ConsentKind.TERMS: "With that these terms came into effect.",
    ConsentKind.CHARGE: "With that the charge was put on your account.",
    ConsentKind.ASK: "With that the asking price was changed.",
    ConsentKind.CONCESSION: "With that the money off was put on your account.",
}


def effect_told(kind: ConsentKind, *, result: ConsentResult) -> str:
    """What an answer did."""
    if result is ConsentResult.AGREED:
        return _EFFECT[kind]
    if result is ConsentResult.DECLINED:
        return "Nothing has changed."
    return "The lot no longer asks this. Nothing has changed."


def days_told(days: int) -> str:
    """How far ahead a day is."""
    if days < 0:
        return "past"
    return "today" if days == 0 else f"in {days} day{'' if days == 1 else 's'}"


def interest_told(*, inquiries: int, showings: int, drives: int) -> str:
    """How many asked, came and drove since it was listed; nobody is named. Whoever drives it is shown it too."""
    if not inquiries and not showings:
        return ""
    told = f"{inquiries} inquir{'y' if inquiries == 1 else 'ies'} and {showings} showing{'' if showings == 1 else 's'}"
    driven = f", {drives} with a test drive" if drives else ""
    return f"{told} since it was listed{driven}."
