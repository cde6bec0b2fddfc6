"""Offers come in and are answered. Every one is kept."""

import uuid
from datetime import date, datetime
from decimal import Decimal

from django.db import transaction

from inventory.actions import logbook
from inventory.actions.writing import add, again, change, locked, trade_day
from inventory.errors import NotFound, Refused
from inventory.models import Offer, OfferAnswer
from inventory.queries import facts
from inventory.rules import money
from inventory.rules.agreement import is_conveyed
from inventory.rules.plausibility import check_not_future
from inventory.rules.roles import Act, Actor, require
from inventory.rules.states import FOR_SALE
from inventory.rules.words import Answer


@transaction.atomic
def log_offer(
    consignment_id: int, *, amount: Decimal, bidder: str, contact: str = "", note: str = "",
    conditions: str = "", expires_on: date | None = None, on: date | None = None,
    client_key: uuid.UUID | None = None, by: Actor, at: datetime,
) -> Offer:  # fmt: skip
    """Keep an offer; back-up offers are taken while a deposit holds the vehicle.

    It is passed on to the consignor, unless it is below the threshold they signed.
    """
    require(by, Act.LOG_OFFER)
    stay = locked(consignment_id)
    if (known := again(Offer, client_key=client_key)) is not None:
        return known
    if stay.state not in FOR_SALE:
        raise Refused(
            "not_for_sale", f"{stay.stock_number} is {stay.get_state_display()}, not for sale.",
            field="state", got=stay.state, mend="Offers are logged for listed vehicles.",
        )  # fmt: skip
    today = trade_day(at)
    if expires_on is not None and expires_on < today:
        raise Refused(
            "expired_already", f"The offer would have ended on {expires_on}, before today.", field="expires_on",
            got=str(expires_on), mend="Give the day until which it stands, or none.",
        )  # fmt: skip
    terms = facts.terms_of(stay)
    money.check_amount(amount, field="amount", minimum=money.CENT)
    row = add(
        Offer(
            consignment=stay, amount=amount, conditions=conditions.strip(), expires_on=expires_on,
            held_back=not is_conveyed(amount, convey_from=terms.convey_from if terms else None),
            bidder=bidder.strip(), contact=contact.strip(), note=note.strip(), client_key=client_key,
            on=check_not_future(on or today, today=today, field="on"), by=by.name, at=at,
        )
    )  # fmt: skip
    change(stay)
    logbook.record("offer.logged", row, by=by, at=at, consignment=stay, amount=row.amount, bidder=row.bidder)
    return row


@transaction.atomic
def answer_offer(
    offer_id: int, *, answer: str, amount: Decimal | None = None, note: str = "", by: Actor, at: datetime
) -> OfferAnswer:
    """Accept, counter or refuse. Below the floor an acceptance still needs the consignor's consent to sell."""
    require(by, Act.ANSWER_OFFER)
    offer = Offer.objects.filter(pk=offer_id).first()
    if offer is None:
        raise NotFound("not_found", "There is no such offer.", got=offer_id)
    stay = locked(offer.consignment_id)
    if stay.state not in FOR_SALE:
        raise Refused(
            "not_for_sale", f"{stay.stock_number} is {stay.get_state_display()}, not for sale.",
            field="state", got=stay.state, mend="Offers are answered while the vehicle is listed.",
        )  # fmt: skip
    if answer == Answer.ACCEPTED and offer.expires_on is not None and offer.expires_on < trade_day(at):
        raise Refused(
            "offer_expired", f"The offer of {offer.bidder} stood until {offer.expires_on}.", field="answer",
            got=answer, mend="Ask them whether it still stands, and log it anew.",
        )  # fmt: skip
    if answer == Answer.COUNTERED and amount is None:
        raise Refused("counter_missing", "A counter offer has an amount.", field="amount", mend="Give the amount.")
    if answer != Answer.COUNTERED and amount is not None:
        raise Refused(
            "counter_unused", f"{money.show(amount)} is given, but the offer is not countered.", field="amount",
            got=str(amount), mend="Leave the amount empty, or answer with a counter offer.",
        )  # fmt: skip
    if amount is not None:
        money.check_amount(amount, field="amount", minimum=money.CENT)
    row = add(
        OfferAnswer(
            offer=offer, answer=answer, amount=amount, note=note.strip(), by=by.name, at=at,
        )
    )  # fmt: skip
    change(stay)
    logbook.record(
        "offer.answered", row, by=by, at=at, consignment=stay, amount=offer.amount, bidder=offer.bidder,
        answer=row.get_answer_display() + (f" with {money.show(row.amount)}" if row.amount else ""),
    )  # fmt: skip
    return row
