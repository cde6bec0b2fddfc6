"""Who asks about a vehicle and who comes to see it: kept from the day it is listed, as long as it is for sale."""

import uuid
from datetime import date, datetime

from django.db import transaction

from inventory.actions import logbook
from inventory.actions.writing import add, again, locked, trade_day
from inventory.errors import NotFound, Refused
from inventory.models import Consignment, Inquiry, Showing
from inventory.rules.plausibility import check_not_future
from inventory.rules.roles import Act, Actor, require
from inventory.rules.states import FOR_SALE


@transaction.atomic
def log_inquiry(
    consignment_id: int, *, way: str, who: str = "", about: str = "", on: date | None = None,
    client_key: uuid.UUID | None = None, by: Actor, at: datetime,
) -> Inquiry:  # fmt: skip
    """Keep that somebody asked. The version stays: whoever is selling it at that moment is not held up."""
    require(by, Act.LOG_INQUIRY)
    stay = locked(consignment_id)
    if (known := again(Inquiry, client_key=client_key)) is not None:
        return known
    day = _day_for_sale(stay, on=on, today=trade_day(at))
    row = add(
        Inquiry(
            consignment=stay, way=way, who=who.strip(), about=about.strip(), client_key=client_key, on=day,
            by=by.name, at=at,
        )
    )  # fmt: skip
    logbook.record("inquiry.logged", row, by=by, at=at, consignment=stay, way=row.get_way_display(), on=day)
    return row


@transaction.atomic
def log_showing(
    consignment_id: int, *, inquiry_id: int | None = None, who: str = "", note: str = "", on: date | None = None,
    client_key: uuid.UUID | None = None, by: Actor, at: datetime,
) -> Showing:  # fmt: skip
    """Keep that somebody saw it, with the inquiry it came of, where there was one."""
    require(by, Act.LOG_INQUIRY)
    stay = locked(consignment_id)
    if (known := again(Showing, client_key=client_key)) is not None:
        return known
    day = _day_for_sale(stay, on=on, today=trade_day(at))
    inquiry = None if inquiry_id is None else _inquiry_before(stay, inquiry_id=inquiry_id, day=day)
    row = add(
        Showing(
            consignment=stay, inquiry=inquiry, who=who.strip(), note=note.strip(), client_key=client_key, on=day,
            by=by.name, at=at,
        )
    )  # fmt: skip
    logbook.record("showing.logged", row, by=by, at=at, consignment=stay, on=day)
    return row


def _day_for_sale(stay: Consignment, *, on: date | None, today: date) -> date:
    """The day given, else today; refused where the vehicle is not for sale or was not listed yet."""
    if stay.state not in FOR_SALE or stay.listed_on is None:
        raise Refused(
            "not_for_sale", f"{stay.stock_number} is {stay.get_state_display()}, not for sale.",
            field="state", got=stay.state, mend="Inquiries and showings are logged for listed vehicles.",
        )  # fmt: skip
    day = check_not_future(on or today, today=today, field="on")
    if day < stay.listed_on:
        raise Refused(
            "before_listed", f"{day} is before it was listed on {stay.listed_on}.",
            field="on", got=day, mend=f"Give a date from {stay.listed_on} on.",
        )  # fmt: skip
    return day


def _inquiry_before(stay: Consignment, *, inquiry_id: int, day: date) -> Inquiry:
    inquiry = Inquiry.objects.filter(pk=inquiry_id, consignment=stay).first()
    if inquiry is None:
        raise NotFound("not_found", f"{stay.stock_number} has no such inquiry.", field="inquiry", got=inquiry_id)
    if day < inquiry.on:
        raise Refused(
            "before_inquiry", f"{day} is before the inquiry of {inquiry.on}.",
            field="on", got=day, mend=f"Give a date from {inquiry.on} on, or leave the inquiry out.",
        )  # fmt: skip
    return inquiry
