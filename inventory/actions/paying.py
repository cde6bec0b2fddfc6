"""The buyer's money: received, then cleared or bounced. Each is a row of its own."""

import uuid
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.db import transaction

from inventory.actions import logbook
from inventory.actions.writing import add, again, change, locked, trade_day
from inventory.errors import NotFound, Refused
from inventory.models import BuyerPayment, Deal
from inventory.queries import facts
from inventory.queries.trust import refuse_beyond_held
from inventory.rules import money
from inventory.rules.plausibility import check_not_future
from inventory.rules.roles import Act, Actor, require
from inventory.rules.words import PaymentEvent, PaymentMethod


@dataclass(frozen=True, kw_only=True)
class Payment:
    amount: Decimal
    method: str = PaymentMethod.WIRE
    reference: str = ""
    on: date | None = None
    client_key: uuid.UUID | None = None


def receive(deal: Deal, *, payment: Payment, is_deposit: bool, by: Actor, at: datetime) -> BuyerPayment:
    """Append one receipt, inside the caller's transaction."""
    today = trade_day(at)
    return add(
        BuyerPayment(
            deal=deal, event=PaymentEvent.RECEIVED, is_deposit=is_deposit, method=payment.method,
            reference=payment.reference.strip(),
            amount=money.check_amount(payment.amount, field="amount", minimum=money.CENT),
            on=check_not_future(payment.on or today, today=today, field="on"),
            client_key=payment.client_key, by=by.name, at=at,
        )
    )  # fmt: skip


@transaction.atomic
def record_payment(consignment_id: int, *, payment: Payment, by: Actor, at: datetime) -> BuyerPayment:
    """Money came in from the buyer of the deal that stands. It counts once it has cleared."""
    require(by, Act.RECORD_PAYMENT)
    stay = locked(consignment_id)
    if (known := again(BuyerPayment, client_key=payment.client_key)) is not None:
        return known
    deal = facts.deal_of(stay)
    owed = facts.buyer_money(deal)
    left = owed.owed - owed.received
    if money.check_amount(payment.amount, field="amount", minimum=money.CENT) > left:
        raise Refused(
            "more_than_owed", f"{money.show(payment.amount)} is more than the {money.show(left)} still to come.",
            field="amount", got=str(payment.amount), mend="Record what was owed; return the rest.",
        )  # fmt: skip
    row = receive(deal, payment=payment, is_deposit=False, by=by, at=at)
    change(stay)
    logbook.record(
        "payment.received", row, by=by, at=at, consignment=stay, amount=row.amount,
        method=row.get_method_display(),
    )  # fmt: skip
    return row


@transaction.atomic
def settle_payment(
    payment_id: int, *, event: str, amount: Decimal | None = None, on: date | None = None, by: Actor, at: datetime
) -> BuyerPayment:
    """Say that a receipt has cleared, has bounced, or was returned to the buyer: whole, or in part where `amount` is
    given."""
    require(by, Act.CLEAR_PAYMENT)
    receipt = BuyerPayment.objects.select_related("deal").filter(pk=payment_id, event=PaymentEvent.RECEIVED).first()
    if receipt is None:
        raise NotFound("not_found", "There is no such receipt.", got=payment_id)
    if event not in {PaymentEvent.CLEARED, PaymentEvent.BOUNCED, PaymentEvent.RETURNED}:
        raise Refused("event_unknown", f"“{event}” is no fate of a payment.", field="event", got=event,
                      mend="Say cleared, bounced or returned.")  # fmt: skip
    stay = locked(receipt.deal.consignment_id)
    _refuse_if_gone(receipt)
    gone = _part(receipt, event=event, amount=amount)
    _refuse_if_relied_on(receipt, event=event, amount=gone)
    _refuse_if_forfeited(receipt, event=event)
    if event == PaymentEvent.RETURNED and receipt.events.filter(event=PaymentEvent.CLEARED).exists():
        refuse_beyond_held(stay, amount=gone)
    today = trade_day(at)
    row = add(
        BuyerPayment(
            deal=receipt.deal, event=event, of=receipt, amount=gone, method=receipt.method,
            is_deposit=receipt.is_deposit, on=check_not_future(on or today, today=today, field="on"),
            by=by.name, at=at,
        )
    )  # fmt: skip
    change(stay)
    logbook.record(f"payment.{event}", row, by=by, at=at, consignment=stay, amount=row.amount, on=row.on)
    return row


def _part(receipt: BuyerPayment, *, event: str, amount: Decimal | None) -> Decimal:
    """What of a receipt the event is about: all of it, or the part that is returned."""
    whole: Decimal = receipt.amount
    if amount is None or amount == whole:
        return whole
    if event != PaymentEvent.RETURNED:
        raise Refused("part", f"A payment {event} as a whole.", field="amount", got=str(amount),
                      mend="Leave the amount empty.")  # fmt: skip
    if not receipt.events.filter(event=PaymentEvent.CLEARED).exists():
        raise Refused("part", "It has not cleared yet: a part of it cannot go back.", field="amount", got=str(amount),
                      mend="Wait until it has cleared, or return the whole.")  # fmt: skip
    if money.check_amount(amount, field="amount", minimum=money.CENT) > whole:
        raise Refused(
            "more_than_received", f"{money.show(amount)} is more than the {money.show(whole)} received.",
            field="amount", got=str(amount), mend="Return what was received at most.",
        )  # fmt: skip
    return amount


def _refuse_if_forfeited(receipt: BuyerPayment, *, event: str) -> None:
    if event == PaymentEvent.RETURNED and receipt.is_deposit and receipt.deal.forfeited:
        raise Refused(
            "forfeited", f"This deposit was forfeited on {receipt.deal.ended_on}.", field="event", got=event,
            mend="It belongs to consignor and lot: settle it with the buyer apart.",
        )  # fmt: skip


def _refuse_if_gone(receipt: BuyerPayment) -> None:
    """Money that bounced never came, and money that was returned is with the buyer: neither has a further fate."""
    gone = receipt.events.filter(event__in=[PaymentEvent.BOUNCED, PaymentEvent.RETURNED]).first()
    if gone is not None:
        raise Refused(
            "done_already", f"These {money.show(receipt.amount)} {_WENT[gone.event]} on {gone.on}.", field="event",
            got=gone.event, mend="Record new money as a new payment.",
        )  # fmt: skip


_WENT: dict[str, str] = {PaymentEvent.BOUNCED: "bounced", PaymentEvent.RETURNED: "were returned to the buyer"}


def _refuse_if_relied_on(receipt: BuyerPayment, *, event: str, amount: Decimal) -> None:
    """Money that a settlement was approved on cannot be handed back by a tick; what is too much can."""
    if event == PaymentEvent.RETURNED and amount <= facts.buyer_money(receipt.deal).too_much:
        return
    settled = facts.settlement_of(receipt.deal.consignment) is not None
    if settled and event != PaymentEvent.CLEARED:
        raise Refused(
            "settled_already", "The consignor's settlement was approved on this money.", field="event",
            got=event, mend="Settle it with the buyer apart, and record an incident.",
        )  # fmt: skip
