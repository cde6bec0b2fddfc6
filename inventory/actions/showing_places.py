"""Where a vehicle is shown, with which ask, and what was set right there. No address is ever opened from here."""

import uuid
from datetime import date, datetime
from decimal import Decimal

from django.db import transaction

from inventory.actions import logbook
from inventory.actions.writing import add, again, change, locked, refuse_stale, trade_day
from inventory.errors import NotFound, Refused, TooLate
from inventory.models import Consignment, Publication, ShownAsk
from inventory.queries.facts import current_ask
from inventory.rules import money
from inventory.rules.plausibility import check_not_future
from inventory.rules.roles import Act, Actor, require
from inventory.rules.states import State

_GONE = (State.SOLD, State.SETTLED, State.WITHDRAWN, State.RELEASED)


@transaction.atomic
def show_at(
    consignment_id: int, *, place: str, address: str = "", since: date | None = None, ask: Decimal | None = None,
    client_key: uuid.UUID | None = None, by: Actor, at: datetime,
) -> Publication:  # fmt: skip
    """Keep that a place shows the vehicle, and the ask it shows; without an amount it shows none."""
    require(by, Act.RECORD_SHOWN)
    stay = locked(consignment_id)
    if (known := again(Publication, client_key=client_key)) is not None:
        return known
    if stay.state in _GONE:
        raise Refused(
            "not_to_show", f"{stay.stock_number} is {stay.get_state_display()}.", field="state", got=stay.state,
            mend="Only a vehicle that may still be sold is shown.",
        )  # fmt: skip
    _refuse_twice(stay, place=place.strip())
    today = trade_day(at)
    row = Publication(
        consignment=stay, place=place.strip(), address=address.strip(),
        since=check_not_future(since or today, today=today, field="since"), client_key=client_key, by=by.name, at=at,
    )  # fmt: skip
    add(row)
    _append(row, ask=ask, by=by, at=at)
    logbook.record("publication.shown", row, by=by, at=at, consignment=stay, place=row.place, ask=_said(ask))
    return row


def _refuse_twice(stay: Consignment, *, place: str) -> None:
    there = Publication.objects.filter(consignment=stay, place__iexact=place, taken_down_on__isnull=True).first()
    if place and there is not None:
        raise Refused(
            "shown_already", f"{there.place} shows it already, since {there.since}.", field="place", got=place,
            mend="Set that one right, or say that it was taken down.",
        )  # fmt: skip


@transaction.atomic
def set_right(
    code: uuid.UUID, *, ask: Decimal | None = None, version: int | None = None, by: Actor, at: datetime
) -> ShownAsk:
    """Keep that the place is right now: it shows the ask given, else the ask in force; where it shows none, none."""
    require(by, Act.RECORD_SHOWN)
    row = _locked(code, version=version)
    stay = row.consignment
    if stay.state in {State.WITHDRAWN, State.RELEASED}:
        raise Refused(
            "not_to_show", f"{stay.stock_number} is {stay.get_state_display()}: it is not the lot's to show.",
            field="state", got=stay.state, mend="Have it taken down there, then say so here.",
        )  # fmt: skip
    shown = ask if ask is not None else _in_force(row)
    told = _append(row, ask=shown, by=by, at=at)
    change(row)
    logbook.record("publication.set_right", row, by=by, at=at, consignment=stay, place=row.place, ask=_said(shown))
    return told


def _in_force(row: Publication) -> Decimal | None:
    last = row.asks.order_by("-pk").first()
    if last is not None and last.ask is None:
        return None
    ask = current_ask(row.consignment)
    return ask.amount if ask else None


@transaction.atomic
def take_down(code: uuid.UUID, *, version: int | None = None, by: Actor, at: datetime) -> Publication:
    """Keep that the place shows it no more."""
    require(by, Act.RECORD_SHOWN)
    row = _locked(code, version=version)
    change(row, taken_down_on=trade_day(at))
    logbook.record("publication.taken_down", row, by=by, at=at, consignment=row.consignment, place=row.place)
    return row


def _locked(code: uuid.UUID, *, version: int | None) -> Publication:
    row = Publication.objects.select_for_update(of=("self",)).select_related("consignment").filter(code=code).first()
    if row is None:
        raise NotFound("not_found", "There is no such place.", field="code", got=str(code))
    if row.taken_down_on is not None:
        raise TooLate("down_already", f"{row.place} shows it no more since {row.taken_down_on}.", field="version")
    refuse_stale(row, version=version)
    return row


def _append(row: Publication, *, ask: Decimal | None, by: Actor, at: datetime) -> ShownAsk:
    if ask is not None:
        money.check_amount(ask, field="ask", minimum=money.CENT)
    return add(ShownAsk(publication=row, ask=ask, on=trade_day(at), by=by.name, at=at))


def _said(ask: Decimal | None) -> str:
    return money.show(ask) if ask is not None else "none"
