"""The one state change."""

from datetime import datetime
from decimal import Decimal

from django.db import transaction

from inventory.actions import logbook
from inventory.actions.writing import change, locked, trade_day
from inventory.models import Consignment
from inventory.queries.facts import facts_of
from inventory.rules import states
from inventory.rules.roles import Actor, require
from inventory.rules.states import State


@transaction.atomic
def move(
    consignment_id: int,
    *,
    to: State,
    by: Actor,
    at: datetime,
    reason: str = "",
    version: int | None = None,
    sale_price: Decimal | None = None,
    consent_down_to: Decimal | None = None,
    signed_for_by: str = "",
) -> Consignment:
    """Make one move of the table. Raises Refused; when somebody was faster, it says who and when."""
    row = locked(consignment_id, version=version)  # lock, then read
    was = State(row.state)
    planned = states.move_of(was, to)
    if planned is not None:
        require(by, planned.act)
    facts = facts_of(
        row,
        today=trade_day(at),
        by=by,
        to=to,
        sale_price=sale_price,
        consent_down_to=consent_down_to,
        signed_for_by=signed_for_by,
    )
    states.check(facts, to=to, reason=reason)
    change(row, state=to, state_at=at, state_by=by.name, **_dates(row, to=to, at=at, signed=signed_for_by))
    logbook.record("consignment.moved", row, by=by, at=at, was=was, now=to, because=logbook.because(reason))
    return row


def _dates(row: Consignment, *, to: State, at: datetime, signed: str) -> dict[str, object]:
    """The dates of trade that a move sets."""
    today = trade_day(at)
    if to == State.ON_LOT and row.arrived_on is None:
        return {"arrived_on": today}
    if to == State.LISTED and row.listed_on is None:
        return {"listed_on": today}
    if to == State.RELEASED:
        return {"released_on": today, "signed_for_by": signed.strip()}
    return {}
