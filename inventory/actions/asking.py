"""The ask is set and the vehicle listed: the owner decides, beside the band."""

from datetime import date, datetime
from decimal import Decimal

from django.db import transaction

from inventory.actions import logbook
from inventory.actions.moving import move
from inventory.actions.writing import add, change, locked, trade_day
from inventory.errors import Refused
from inventory.models import AskChange, Consignment, PriceOpinion
from inventory.queries import facts
from inventory.rules import money
from inventory.rules.agreement import check_ask_allowed
from inventory.rules.plausibility import check_not_future
from inventory.rules.roles import Act, Actor, require
from inventory.rules.states import State
from inventory.rules.suggested import Suggested, departs, stored

ASKABLE = (State.BOOKED, State.ON_LOT, State.INSPECTED, State.LISTED)


@transaction.atomic
def set_ask(
    consignment_id: int, *, amount: Decimal, reason: str = "", suggestion: Suggested | None = None,
    since: date | None = None, by: Actor, at: datetime, version: int | None = None,
) -> AskChange:  # fmt: skip
    """Append one ask. It may not be below the floor the consignor agreed to.

    `since` is the day from which it is asked, where that was before today.

    What was suggested is kept beside it; an ask that departs from it needs a reason.
    """
    require(by, Act.SET_ASK)
    stay = locked(consignment_id, version=version)
    if stay.state not in ASKABLE:
        raise Refused(
            "not_askable", f"{stay.stock_number} is {stay.get_state_display()}: its ask cannot change now.",
            field="state", got=stay.state, mend="The ask changes before or while the vehicle is listed.",
        )  # fmt: skip
    money.check_amount(amount, field="ask", minimum=money.CENT)
    refuse_below_floor(stay, amount=amount, at=at)
    _refuse_without_consent(stay, amount=amount, at=at)
    _refuse_unexplained(amount, reason=reason, suggestion=suggestion)
    columns = _suggested_columns(suggestion) | {"on": _since(since, today=trade_day(at))}
    row = _append(stay, amount=amount, reason=reason.strip(), decided_by=by.name, columns=columns, by=by, at=at)
    if suggestion is not None:  # an entry of its own: whoever may not see the price band reads the ask alone
        logbook.record(
            "opinion.suggested", row, by=by, at=at, consignment=stay, amount=row.suggested,
            objective=row.get_objective_display(), why=row.suggested_because,
        )  # fmt: skip
    return row


def append_agreed(stay: Consignment, *, amount: Decimal, asked_by: str, by: Actor, at: datetime) -> AskChange:
    """The ask that the owner wanted and the consignor agreed to, inside the caller's transaction."""
    if stay.state not in ASKABLE:
        raise Refused(
            "not_askable", f"{stay.stock_number} is {stay.get_state_display()}: its ask cannot change now.",
            field="state", got=stay.state, mend="Ask the lot.",
        )  # fmt: skip
    refuse_below_floor(stay, amount=amount, at=at)
    return _append(
        stay, amount=amount, reason="the consignor agreed", decided_by=asked_by, columns={}, by=by, at=at
    )  # fmt: skip


def _append(
    stay: Consignment, *, amount: Decimal, reason: str, decided_by: str, columns: dict[str, object], by: Actor,
    at: datetime,
) -> AskChange:  # fmt: skip
    opinion = PriceOpinion.objects.filter(consignment=stay).order_by("-pk").first()
    row = add(
        AskChange(
            **{
                "consignment": stay, "amount": amount, "reason": reason, "opinion": opinion, "on": trade_day(at),
                "by": decided_by, "at": at, **columns,
            }
        )
    )  # fmt: skip
    change(stay)
    logbook.record("ask.set", row, by=by, at=at, consignment=stay, amount=amount, because=logbook.because(reason))
    return row


def _refuse_without_consent(stay: Consignment, *, amount: Decimal, at: datetime) -> None:
    terms = facts.terms_of(stay)
    if terms is None or terms.consent_below is None:
        return
    check_ask_allowed(
        amount, said=facts.beside(terms), listed_on=stay.listed_on, today=trade_day(at),
        consented=facts.ask_consented(stay, terms=terms),
    )  # fmt: skip


def _since(day: date | None, *, today: date) -> date:
    return today if day is None else check_not_future(day, today=today, field="ask_since")


def _suggested_columns(suggestion: Suggested | None) -> dict[str, object]:
    if suggestion is None:
        return {}
    return {
        "suggested": suggestion.amount, "objective": suggestion.objective,
        "suggested_because": suggestion.because.strip(), "expected": stored(suggestion.expected),
    }  # fmt: skip


def _refuse_unexplained(amount: Decimal, *, reason: str, suggestion: Suggested | None) -> None:
    if suggestion is not None and departs(amount, suggested=suggestion.amount) and not reason.strip():
        raise Refused(
            "reason_missing",
            f"The ask {money.show(amount)} is not the suggested {money.show(suggestion.amount)}.",
            field="reason", got=reason, mend="Say why, or set the suggested ask.",
        )  # fmt: skip


def refuse_below_floor(stay: Consignment, *, amount: Decimal, at: datetime) -> None:
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
