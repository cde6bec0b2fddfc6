"""What a place that shows a vehicle must correct: the ask it shows, or that it shows it at all."""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from enum import Enum

from inventory.rules.money import show
from inventory.rules.states import State


class Wrong(Enum):
    """Why a place must be corrected."""

    ASK = "ask"
    HELD = "held"
    SOLD = "sold"
    WITHDRAWN = "withdrawn"
    FREE_AGAIN = "free_again"


@dataclass(frozen=True, kw_only=True)
class Facts:
    """What a place shows since when, and what is so now.

    `sold_at` is the moment of the sale that stands, `dealt_at` of the latest deal that came to nothing.
    """

    state: State
    state_at: datetime
    ask: Decimal | None
    shown: Decimal | None
    told_at: datetime
    sold_at: datetime | None = None
    dealt_at: datetime | None = None


def wrong_with(facts: Facts) -> Wrong | None:
    """What must be corrected, the gravest first. A place that shows no ask cannot show the wrong one."""
    if facts.state in {State.WITHDRAWN, State.RELEASED}:
        return Wrong.WITHDRAWN
    if facts.state in {State.SOLD, State.SETTLED}:
        return None if facts.told_at >= (facts.sold_at or facts.state_at) else Wrong.SOLD
    if facts.state == State.DEPOSIT and facts.told_at < facts.state_at:
        return Wrong.HELD
    if facts.dealt_at is not None and facts.dealt_at <= facts.told_at < facts.state_at:
        return Wrong.FREE_AGAIN
    return Wrong.ASK if facts.shown is not None and facts.shown != facts.ask else None


def told(wrong: Wrong, *, shown: Decimal | None, ask: Decimal | None) -> str:
    """What to do at that place, in a sentence."""
    if wrong is Wrong.ASK:
        now = "no ask is set" if ask is None else f"the ask is {show(ask)}"
        return f"It shows {show(shown) if shown is not None else 'no ask'}; {now}."
    return _TOLD[wrong]


_TOLD: dict[Wrong, str] = {
    Wrong.HELD: "It is under deposit: mark it as held there.",
    Wrong.SOLD: "It is sold: take it down, or mark it as sold there.",
    Wrong.WITHDRAWN: "It is withdrawn: take it down.",
    Wrong.FREE_AGAIN: "It is for sale again: take the mark “held” or “sold” off.",
}


def can_be_set_right(wrong: Wrong) -> bool:
    """A vehicle that is withdrawn is not the lot's to show any more."""
    return wrong is not Wrong.WITHDRAWN


def warning(wrongs: list[Wrong], *, places: list[str]) -> str:
    """What is said right after the deed that made them wrong."""
    count = len(places)
    where = f"Shown at {count} place{'' if count == 1 else 's'}"
    what = "with the old ask" if set(wrongs) == {Wrong.ASK} else "as it was before"
    return f"{where} {what}: {', '.join(places)}. Set {'it' if count == 1 else 'them'} right or take it down."
