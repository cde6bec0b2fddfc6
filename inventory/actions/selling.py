"""A vehicle is sold, or the deal falls through, or it is withdrawn; nothing leaves before the money cleared."""

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.db import transaction

from inventory.actions import agreeing, charging, logbook, outcomes, sharing, tasks
from inventory.actions.moving import move
from inventory.actions.paying import Payment, receive
from inventory.actions.writing import add, again, change, locked, trade_day
from inventory.errors import NotFound, Refused
from inventory.models import BuyerPayment, Consignment, Deal, Offer, SaleOutcome
from inventory.queries import facts
from inventory.rules import money, states
from inventory.rules.agreement import split_forfeit
from inventory.rules.plausibility import check_not_future
from inventory.rules.roles import Act, Actor, require
from inventory.rules.states import State
from inventory.rules.words import DealEnd, DepositFate, PaymentEvent, SaleChannel, WithdrawalReason


@dataclass(frozen=True, kw_only=True)
class Bargain:
    """What was agreed with a buyer."""

    price: Decimal
    buyer: str
    address: str = ""
    contact: str = ""
    offer_id: int | None = None
    concessions: Decimal = money.ZERO
    trade_allowance: Decimal = money.ZERO
    trade_value: Decimal = money.ZERO
    trade_note: str = ""


@dataclass(frozen=True, kw_only=True)
class ConsentGiven:
    """The consignor's consent to a price below the floor: who gave it, how, and in which words."""

    given_by: str
    how: str
    text: str


@transaction.atomic
def take_deposit(
    consignment_id: int, *, bargain: Bargain, deposit: Payment, hold_until: date,
    refundable: bool = True, consent: ConsentGiven | None = None, by: Actor, at: datetime, version: int | None = None,
) -> Deal:  # fmt: skip
    """Hold a listed vehicle for a buyer until a date. Back-up offers are still taken."""
    require(by, Act.TAKE_DEPOSIT)
    locked(consignment_id)
    if (known := again(BuyerPayment, client_key=deposit.client_key)) is not None:
        return known.deal
    stay = locked(consignment_id, version=version)
    _require_move(stay, to=State.DEPOSIT, by=by, at=at)
    today = trade_day(at)
    if hold_until < today:
        raise Refused(
            "hold_in_past", f"The hold would end on {hold_until}, before today.", field="hold_until",
            got=str(hold_until), mend="Give the day until which the vehicle is held.",
        )  # fmt: skip
    money.check_amount(deposit.amount, field="deposit", minimum=money.CENT)
    deal = _open_deal(stay, bargain=bargain, hold_until=hold_until, refundable=refundable, by=by, at=at)
    if deposit.amount > deal.price:
        raise Refused(
            "deposit_above_price", f"The deposit {money.show(deposit.amount)} is more than the price.",
            field="deposit", got=str(deposit.amount), mend="Check the two amounts.",
        )  # fmt: skip
    _note_consent(stay, consent, price=deal.price, by=by, at=at)
    move(stay.pk, to=State.DEPOSIT, by=by, at=at, sale_price=deal.price)
    receive(deal, payment=deposit, is_deposit=True, by=by, at=at)
    logbook.record(
        "deal.opened", deal, by=by, at=at, consignment=stay, buyer=deal.buyer, price=deal.price,
        deposit=deposit.amount, hold_until=hold_until,
    )  # fmt: skip
    return deal


@transaction.atomic
def end_deal(
    consignment_id: int, *, reason: str, deposit_fate: str = DepositFate.RETURNED, by: Actor, at: datetime,
    version: int | None = None,
) -> Deal:  # fmt: skip
    """The deal fell through: the vehicle is for sale again."""
    require(by, Act.END_DEAL)
    stay = locked(consignment_id, version=version)
    if stay.state != State.DEPOSIT:  # a sale is unwound instead, which sets its outcome aside
        raise Refused(
            "no_deal_to_end", f"{stay.stock_number} is {stay.get_state_display()}: no deposit holds it.", field="state",
            got=stay.state, mend="A sale is unwound; only a deal with a deposit falls through.",
        )  # fmt: skip
    deal = facts.deal_of(stay)
    kept = _forfeit(stay, deal=deal) if deposit_fate == DepositFate.KEPT else {}
    move(stay.pk, to=State.LISTED, by=by, at=at, reason=reason)
    _close(deal, end=DealEnd.FALLEN_THROUGH, reason=reason, fate=deposit_fate, by=by, at=at, stay=stay, **kept)
    return deal


def _forfeit(stay: Consignment, *, deal: Deal) -> dict[str, Decimal]:
    """The deposit that is kept, and the consignor's share of it by the terms."""
    if deal.refundable:
        raise Refused(
            "deposit_refundable", f"The deposit of {deal.buyer} was taken as one that goes back.",
            field="deposit_fate", mend="Return it. Whether a deposit may be kept, local law says.",
        )  # fmt: skip
    receipts = BuyerPayment.objects.filter(deal=deal, is_deposit=True)
    open_ones = receipts.filter(event=PaymentEvent.RECEIVED, events__isnull=True)
    if open_ones.exists():
        raise Refused(
            "deposit_not_cleared", "The deposit has neither cleared nor bounced.", field="deposit_fate",
            mend="Record first what became of it.",
        )  # fmt: skip
    amount = facts.money_in(list(receipts))[1]
    if amount == money.ZERO:
        raise Refused("no_deposit", "Nothing of a deposit has cleared: there is nothing to keep.",
                      field="deposit_fate", mend="Choose that it is returned.")  # fmt: skip
    terms = facts.terms_of(stay)
    percent = money.ZERO if stay.consignor.is_lot else terms.forfeit_percent if terms else None
    share = split_forfeit(amount, percent=percent)
    return {"forfeited": amount, "forfeited_to_consignor": share}


@transaction.atomic
def mark_sold(
    consignment_id: int, *, bargain: Bargain | None = None, sold_on: date | None = None,
    channel: str = SaleChannel.LOT, arms_length: bool = True, consent: ConsentGiven | None = None,
    by: Actor, at: datetime, version: int | None = None,
) -> SaleOutcome:  # fmt: skip
    """Mark a vehicle sold: to the buyer whose deposit holds it, or straight away on a new bargain.

    Of two people who do it at once one wins; the other is told by whom and when it was sold.
    """
    require(by, Act.MARK_SOLD)
    stay = locked(consignment_id, version=version)
    _require_move(stay, to=State.SOLD, by=by, at=at)
    today = trade_day(at)
    day = check_not_future(sold_on or today, today=today, field="sold_on")
    if stay.arrived_on and day < stay.arrived_on:
        raise Refused(
            "sold_before_arrival", f"It would be sold on {day}, before it arrived on {stay.arrived_on}.",
            field="sold_on", got=str(day), mend="Check the two dates.",
        )  # fmt: skip
    deal = _deal_for_sale(stay, bargain=bargain, by=by, at=at)
    _note_consent(stay, consent, price=deal.price, by=by, at=at)
    move(stay.pk, to=State.SOLD, by=by, at=at, sale_price=deal.price)
    change(deal, end=DealEnd.SOLD, ended_on=day)
    outcome = outcomes.append_sale(stay, deal=deal, on=day, channel=channel, arms_length=arms_length, by=by, at=at)
    logbook.record("outcome.sold", outcome, by=by, at=at, consignment=stay, price=deal.price, on=day)
    sharing.share_in_sale(stay, by=by, at=at)
    tasks.fit_after_sale(by=by, at=at)
    return outcome


@transaction.atomic
def unwind_sale(
    consignment_id: int, *, reason: str, by: Actor, at: datetime, version: int | None = None
) -> Consignment:
    """Set a sale aside before title or vehicle left: the outcome is void, the vehicle for sale again."""
    require(by, Act.UNWIND)
    stay = locked(consignment_id, version=version)
    _require_move(stay, to=State.LISTED, by=by, at=at)
    if stay.state != State.SOLD:
        raise Refused(
            "not_sold", f"{stay.stock_number} is {stay.get_state_display()}, not sold.", field="state",
            got=stay.state, mend="A deal that is not sold yet is marked as fallen through.",
        )  # fmt: skip
    deal = facts.deal_of(stay)
    row = move(stay.pk, to=State.LISTED, by=by, at=at, reason=reason)
    _close(deal, end=DealEnd.UNWOUND, reason=reason, fate=DepositFate.RETURNED, by=by, at=at, stay=stay)
    void = outcomes.append_void(stay, reason=reason, on=trade_day(at), by=by, at=at)
    logbook.record("outcome.void", void, by=by, at=at, consignment=stay, price=deal.price, reason=reason)
    sharing.take_back_sold(stay, by=by, at=at)
    tasks.fit_after_sale(by=by, at=at)
    return row


@transaction.atomic
def withdraw(
    consignment_id: int, *, reason: str, detail: str = "", on: date | None = None, by: Actor, at: datetime,
    version: int | None = None,
) -> SaleOutcome:  # fmt: skip
    """The consignor takes the vehicle back; an open deal ends with it."""
    require(by, Act.WITHDRAW)
    stay = locked(consignment_id, version=version)
    _require_move(stay, to=State.WITHDRAWN, by=by, at=at)
    if reason not in WithdrawalReason.values:
        raise Refused(
            "reason_unknown", f"“{reason}” is not one of the reasons.", field="reason", got=reason,
            mend=f"Give one of {', '.join(WithdrawalReason.labels)}.",
        )  # fmt: skip
    today = trade_day(at)
    day = check_not_future(on or today, today=today, field="on")
    deal = facts.live_deal(stay)
    label = WithdrawalReason(reason).label
    move(stay.pk, to=State.WITHDRAWN, by=by, at=at, reason=label)
    if deal is not None:
        _close(deal, end=DealEnd.FALLEN_THROUGH, reason=label, fate=DepositFate.RETURNED, by=by, at=at, stay=stay)
    outcome = outcomes.append_withdrawal(stay, reason=reason, detail=detail, on=day, by=by, at=at)
    charging.charge_early_end(stay, on=day, by=by, at=at)
    logbook.record("outcome.withdrawn", outcome, by=by, at=at, consignment=stay, on=day, reason=label)
    return outcome


def _require_move(stay: Consignment, *, to: State, by: Actor, at: datetime) -> None:
    """Refuse a move the table does not have before anything else is looked at."""
    if states.move_of(State(stay.state), to) is None:
        states.check(facts.facts_of(stay, today=trade_day(at), by=by, to=to), to=to)


def _deal_for_sale(stay: Consignment, *, bargain: Bargain | None, by: Actor, at: datetime) -> Deal:
    deal = facts.live_deal(stay)
    if deal is None:
        if bargain is None:
            raise Refused("no_price", "Price and buyer are missing.", field="price", mend="Give both.")
        return _open_deal(stay, bargain=bargain, hold_until=None, by=by, at=at)
    if bargain is None:
        return deal
    return change(deal, **_bargain_columns(stay, bargain))


def _open_deal(
    stay: Consignment, *, bargain: Bargain, hold_until: date | None, refundable: bool = True, by: Actor, at: datetime
) -> Deal:
    return add(
        Deal(
            consignment=stay, hold_until=hold_until, refundable=refundable, began_on=trade_day(at), by=by.name, at=at,
            **_bargain_columns(stay, bargain),
        )
    )  # fmt: skip


def _bargain_columns(stay: Consignment, bargain: Bargain) -> dict[str, object]:
    price = money.check_amount(bargain.price, field="price", minimum=money.CENT)
    for name in ("concessions", "trade_allowance", "trade_value"):
        money.check_amount(getattr(bargain, name), field=name)
    if bargain.trade_allowance > price:
        raise Refused(
            "allowance_above_price", "The trade allowance is more than the price.", field="trade_allowance",
            got=str(bargain.trade_allowance), mend="Check the two amounts.",
        )  # fmt: skip
    if outcomes.effective_price(bargain) <= 0:
        raise Refused(
            "nothing_left", "Concessions and over-allowance leave no price.", field="concessions",
            got=str(bargain.concessions), mend="Check the amounts.",
        )  # fmt: skip
    if not bargain.buyer.strip():
        raise Refused("no_buyer", "The buyer's name is missing.", field="buyer", mend="Give the name.")
    return {
        "offer": _offer(stay, offer_id=bargain.offer_id),
        "buyer": bargain.buyer.strip(), "address": bargain.address.strip(),
        "contact": bargain.contact.strip(), "price": price,
        "concessions": bargain.concessions, "trade_allowance": bargain.trade_allowance,
        "trade_value": bargain.trade_value, "trade_note": bargain.trade_note.strip(),
    }  # fmt: skip


def _offer(stay: Consignment, *, offer_id: int | None) -> Offer | None:
    if offer_id is None:
        return None
    offer = Offer.objects.filter(pk=offer_id, consignment=stay).first()
    if offer is None:
        raise NotFound("not_found", f"There is no such offer on {stay.stock_number}.", field="offer", got=offer_id)
    return offer


def _note_consent(stay: Consignment, consent: ConsentGiven | None, *, price: Decimal, by: Actor, at: datetime) -> None:
    if consent is not None:
        agreeing.record_consent(
            stay.pk, down_to=price, given_by=consent.given_by, how=consent.how, text=consent.text, by=by, at=at
        )


def _close(
    deal: Deal, *, end: DealEnd, reason: str, fate: str, stay: Consignment, by: Actor, at: datetime, **kept: Decimal
) -> None:
    change(deal, end=end, end_reason=reason.strip()[:200], ended_on=trade_day(at), deposit_fate=fate, **kept)
    logbook.record(
        "deal.ended", deal, by=by, at=at, consignment=stay, buyer=deal.buyer, how=end.label,
        because=logbook.because(reason), deposit=DepositFate(fate).label,
    )  # fmt: skip
