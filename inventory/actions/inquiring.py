"""Who asks about a vehicle and who comes to see it: kept from the day it is listed, as long as it is for sale."""

import uuid
from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction

from inventory.actions import logbook
from inventory.actions.contacting import contact_for
from inventory.actions.writing import add, again, locked, trade_day
from inventory.errors import NotFound, Refused
from inventory.models import Consignment, Contact, FollowUp, Inquiry, Showing
from inventory.rules.floor_words import InquiryAim
from inventory.rules.following import check_follow_up, check_next, check_reachable
from inventory.rules.plausibility import check_not_future
from inventory.rules.roles import Act, Actor, require
from inventory.rules.states import FOR_SALE


@dataclass(frozen=True, kw_only=True)
class Reach:
    """How somebody can be reached; without either they are not known again."""

    phone: str = ""
    email: str = ""


@transaction.atomic
def log_inquiry(
    consignment_id: int, *, way: str, aim: str = InquiryAim.QUESTION, who: str = "", phone: str = "", email: str = "",
    about: str = "", follow_up_on: date | None = None, on: date | None = None,
    client_key: uuid.UUID | None = None, by: Actor, at: datetime,
) -> Inquiry:  # fmt: skip
    """Keep that somebody asked. The version stays: whoever is selling it at that moment is not held up."""
    require(by, Act.LOG_INQUIRY)
    stay = locked(consignment_id)
    if (known := again(Inquiry, client_key=client_key)) is not None:
        return known
    today = trade_day(at)
    day = _day_for_sale(stay, on=on, today=today)
    check_follow_up(follow_up_on, asked_on=day, today=today)
    row = add(
        Inquiry(
            consignment=stay, way=way, aim=aim, who=who.strip(), about=about.strip(), follow_up_on=follow_up_on,
            contact=reached(who, reach=Reach(phone=phone, email=email), by=by, at=at),
            client_key=client_key, on=day, by=by.name, at=at,
        )
    )  # fmt: skip
    logbook.record("inquiry.logged", row, by=by, at=at, consignment=stay, way=row.get_way_display(), on=day)
    return row


@transaction.atomic
def log_follow_up(
    inquiry_id: int, *, said: str, next_on: date | None = None, client_key: uuid.UUID | None = None, by: Actor,
    at: datetime,
) -> FollowUp:  # fmt: skip
    """Keep what came of going after an inquiry, and when to go after it again; without a day it is done."""
    require(by, Act.LOG_INQUIRY)
    inquiry = Inquiry.objects.select_related("consignment").filter(pk=inquiry_id).first()
    if inquiry is None:
        raise NotFound("not_found", "There is no such inquiry.", field="inquiry", got=inquiry_id)
    stay = locked(inquiry.consignment_id)
    if (known := again(FollowUp, client_key=client_key)) is not None:
        return known
    today = trade_day(at)
    check_next(next_on, today=today)
    row = add(
        FollowUp(
            inquiry=inquiry, said=said.strip(), next_on=next_on, client_key=client_key, on=today, by=by.name, at=at
        )
    )
    told = f"; again on {next_on}" if next_on else "; it is done"
    logbook.record("inquiry.followed_up", row, by=by, at=at, consignment=stay, on=inquiry.on, again=told)
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
    inquiry = None if inquiry_id is None else inquiry_before(stay, inquiry_id=inquiry_id, day=day)
    seen = Showing(
        consignment=stay, inquiry=inquiry, contact=inquiry.contact if inquiry else None, who=who.strip(),
        note=note.strip(), client_key=client_key, on=day, by=by.name, at=at,
    )  # fmt: skip
    return keep_showing(seen, by=by, at=at)


def keep_showing(seen: Showing, *, by: Actor, at: datetime) -> Showing:
    """One more showing, inside the caller's transaction: whoever drives a vehicle is shown it."""
    row = add(seen)
    logbook.record("showing.logged", row, by=by, at=at, consignment=row.consignment, on=row.on)
    return row


def reached(who: str, *, reach: Reach, by: Actor, at: datetime) -> Contact | None:
    """The contact of a name with a phone number or an address; a name alone tells nobody apart."""
    check_reachable(who, phone=reach.phone, email=reach.email)
    if not reach.phone.strip() and not reach.email.strip():
        return None
    return contact_for(name=who, phone=reach.phone, email=reach.email, by=by, at=at)


def _day_for_sale(stay: Consignment, *, on: date | None, today: date) -> date:
    """The day given, else today; refused where the vehicle is not for sale or was not listed yet."""
    refuse_not_for_sale(stay, mend="Inquiries and showings are logged for listed vehicles.")
    day = check_not_future(on or today, today=today, field="on")
    if stay.listed_on is not None and day < stay.listed_on:
        raise Refused(
            "before_listed", f"{day} is before it was listed on {stay.listed_on}.",
            field="on", got=day, mend=f"Give a date from {stay.listed_on} on.",
        )  # fmt: skip
    return day


def refuse_not_for_sale(stay: Consignment, *, mend: str) -> None:
    if stay.state not in FOR_SALE or stay.listed_on is None:
        raise Refused(
            "not_for_sale", f"{stay.stock_number} is {stay.get_state_display()}, not for sale.",
            field="state", got=stay.state, mend=mend,
        )  # fmt: skip


def inquiry_before(stay: Consignment, *, inquiry_id: int, day: date) -> Inquiry:
    inquiry = Inquiry.objects.select_related("contact").filter(pk=inquiry_id, consignment=stay).first()
    if inquiry is None:
        raise NotFound("not_found", f"{stay.stock_number} has no such inquiry.", field="inquiry", got=inquiry_id)
    if day < inquiry.on:
        raise Refused(
            "before_inquiry", f"{day} is before the inquiry of {inquiry.on}.",
            field="on", got=day, mend=f"Give a date from {inquiry.on} on, or leave the inquiry out.",
        )  # fmt: skip
    return inquiry
