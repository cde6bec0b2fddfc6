"""Charges: agreed costs, those that follow from the terms, and what the consignor pays towards them."""

import uuid
from datetime import date, datetime
from decimal import Decimal

from django.db import transaction

from inventory.actions import logbook, owning
from inventory.actions.agreeing import refuse_settled
from inventory.actions.writing import add, again, change, check, locked, trade_day
from inventory.errors import NotFound, Refused
from inventory.models import Charge, ConsentRequest, Consignment, ConsignorPayment, Terms
from inventory.queries import facts
from inventory.queries.history import live_outcome
from inventory.queries.trust import balance_of_consignor
from inventory.rules import agreement, money
from inventory.rules.plausibility import check_not_future
from inventory.rules.roles import Act, Actor, require
from inventory.rules.states import State
from inventory.rules.terms import commission
from inventory.rules.words import BornBy, ChargeKind


@transaction.atomic
def add_charge(
    consignment_id: int, *, kind: str, what: str, amount: Decimal, agreed_by: str,
    borne_by: str = BornBy.CONSIGNOR, vendor: str = "", on: date | None = None, client_key: uuid.UUID | None = None,
    by: Actor, at: datetime,
) -> Charge:  # fmt: skip
    """An agreed cost. Beyond its cap in the terms the consignor is asked first; nothing is added to what is settled."""
    require(by, Act.ADD_CHARGE)
    stay = locked(consignment_id)
    if (known := again(Charge, client_key=client_key)) is not None:
        return known
    owning.refuse_own(stay, what="nobody is charged for it")
    refuse_settled(stay)
    if not agreed_by.strip():
        raise Refused(
            "not_agreed", "Nobody is named who agreed to the charge.", field="agreed_by",
            mend="Charges are agreed first: say by whom.",
        )  # fmt: skip
    today = trade_day(at)
    row = Charge(
        consignment=stay, kind=kind, what=what.strip(), agreed_by=agreed_by.strip(), borne_by=borne_by,
        amount=money.check_amount(amount, field="amount", minimum=money.CENT), vendor=vendor.strip(),
        on=check_not_future(on or today, today=today, field="on"), client_key=client_key, by=by.name, at=at,
    )  # fmt: skip
    check(row)
    _refuse_beyond_terms(row)
    return append(row, by=by, at=at)


def append(row: Charge, *, by: Actor, at: datetime) -> Charge:
    """Add a charge that was agreed, inside the caller's transaction."""
    add(row)
    change(row.consignment)
    logbook.record(
        "charge.added", row, by=by, at=at, consignment=row.consignment, amount=row.amount, what=row.what,
        borne_by=row.get_borne_by_display(),
    )  # fmt: skip
    return row


def _refuse_beyond_terms(row: Charge) -> None:
    terms = facts.terms_of(row.consignment)
    if terms is None:
        return
    same = [
        charge.amount
        for charge in facts.live_charges(row.consignment)
        if charge.kind == row.kind and charge.borne_by == BornBy.CONSIGNOR
    ]
    agreement.check_charge(
        row.amount, kind=ChargeKind(row.kind), borne_by=BornBy(row.borne_by), so_far=money.total(same),
        rules=facts.beside(terms).charge_rules,
    )  # fmt: skip


def append_agreed(request: ConsentRequest, *, agreed_by: str, by: Actor, at: datetime) -> Charge:
    """The charge that the consignor agreed to when asked."""
    refuse_settled(request.consignment)
    row = Charge(
        consignment=request.consignment, kind=request.charge_kind, what=request.what, amount=request.amount,
        borne_by=BornBy.CONSIGNOR, agreed_by=agreed_by, vendor=request.vendor, consent=request, on=trade_day(at),
        by=request.by, at=at,
    )  # fmt: skip
    return append(row, by=by, at=at)


def append_from_terms(
    stay: Consignment, *, kind: ChargeKind, what: str, amount: Decimal, terms: Terms, by: Actor, at: datetime
) -> Charge:
    """A charge whose amount follows from the terms: whoever accepted them agreed to it."""
    row = Charge(
        consignment=stay, kind=kind, what=what, amount=amount, borne_by=BornBy.CONSIGNOR,
        agreed_by=terms.signed_by or f"terms, version {terms.number}", on=trade_day(at), by=by.name, at=at,
    )  # fmt: skip
    return append(row, by=by, at=at)


@transaction.atomic
def charge_storage(consignment_id: int, *, until: date | None = None, by: Actor, at: datetime) -> Charge:
    """Storage after the agreement's end, by the terms, less what was charged for it before."""
    require(by, Act.ADD_CHARGE)
    stay = locked(consignment_id)
    refuse_settled(stay)
    terms = _accepted_terms(stay)
    day = check_not_future(until or trade_day(at), today=trade_day(at), field="until")
    days, whole = agreement.storage_due(facts.beside(terms), ends_on=terms.ends_on, until=day)
    before = money.total(row.amount for row in facts.live_charges(stay) if row.kind == ChargeKind.STORAGE)
    if whole - before < money.CENT:
        raise Refused(
            "no_storage", f"By the terms no storage is due until {day} beyond the {money.show(before)} charged.",
            field="until", got=str(day), mend=f"The agreement ends on {terms.ends_on}; see its storage.",
        )  # fmt: skip
    what = f"Storage until {day}, {days} days at {money.show(terms.storage_per_day)}"
    return append_from_terms(
        stay, kind=ChargeKind.STORAGE, what=what, amount=whole - before, terms=terms, by=by, at=at
    )  # fmt: skip


def charge_early_end(stay: Consignment, *, on: date, by: Actor, at: datetime) -> Charge | None:
    """The fee that the terms want where a vehicle is taken back before their end, inside the caller's transaction."""
    terms = facts.terms_of(stay)
    if terms is None or not facts.is_accepted(terms):
        return None
    fee = agreement.withdrawal_fee_due(facts.beside(terms), ends_on=terms.ends_on, on=on)
    if fee is None:
        return None
    what = f"Taken back on {on}, before the agreement's end on {terms.ends_on}"
    return append_from_terms(stay, kind=ChargeKind.WITHDRAWAL, what=what, amount=fee, terms=terms, by=by, at=at)


@transaction.atomic
def claim_protected_commission(
    consignment_id: int, *, price: Decimal, sold_on: date, buyer: str, by: Actor, at: datetime
) -> Charge:
    """Commission on a sale that the consignor made in the protection period, to a buyer the lot had introduced.

    Whether it can be claimed is for the agreement and local law to say.
    """
    require(by, Act.ADD_CHARGE)
    stay = locked(consignment_id)
    terms, ended = _accepted_terms(stay), live_outcome(stay)
    if stay.state not in {State.WITHDRAWN, State.RELEASED} or ended is None:
        raise Refused(
            "not_withdrawn", f"{stay.stock_number} is {stay.get_state_display()}, not withdrawn.", field="state",
            got=stay.state, mend="The protection period begins when the agreement has ended.",
        )  # fmt: skip
    last = agreement.protected_until(facts.beside(terms), ends_on=terms.ends_on, withdrawn_on=ended.ended_on)
    day = check_not_future(sold_on, today=trade_day(at), field="sold_on")
    if last is None or not ended.ended_on <= day <= last:
        raise Refused(
            "not_protected", f"A sale on {day} is outside of the protection period, which {_ran(last)}.",
            field="sold_on", got=str(day), mend="Check the date and the terms.",
        )  # fmt: skip
    if not buyer.strip():
        raise Refused("no_buyer", "The buyer's name is missing.", field="buyer", mend="Name whom the lot introduced.")
    owed = commission(money.check_amount(price, field="price", minimum=money.CENT), plan=facts.plan_of(terms))
    what = f"Commission on the sale of {day} at {money.show(price)} to {buyer.strip()}"[:200]
    return append_from_terms(stay, kind=ChargeKind.PROTECTION, what=what, amount=owed, terms=terms, by=by, at=at)


def _ran(last: date | None) -> str:
    return "the terms do not have" if last is None else f"ran until {last}"


def _accepted_terms(stay: Consignment) -> Terms:
    terms = facts.terms_of(stay)
    if terms is None or not facts.is_accepted(terms):
        raise Refused(
            "no_terms", "There are no terms that both sides accepted.", field="terms", mend="Record the terms."
        )
    return terms


@transaction.atomic
def set_charge_aside(charge_id: int, *, reason: str, by: Actor, at: datetime) -> Charge:
    """Take a charge back by a row that names it; both stay in the books."""
    require(by, Act.ADD_CHARGE)
    wrong = Charge.objects.select_related("consignment").filter(pk=charge_id, sets_aside__isnull=True).first()
    if wrong is None:
        raise NotFound("not_found", "There is no such charge.", got=charge_id)
    stay = locked(wrong.consignment_id)
    refuse_settled(stay)
    if Charge.objects.filter(sets_aside=wrong).exists():
        raise Refused("done_already", "This charge is set aside already.", field="charge")
    if not reason.strip():
        raise Refused("reason_missing", "The reason is missing.", field="reason", mend="Say why.")
    row = add(
        Charge(
            consignment=stay, kind=wrong.kind, what=reason.strip()[:200], amount=wrong.amount,
            borne_by=wrong.borne_by, agreed_by=by.name, on=trade_day(at), sets_aside=wrong, by=by.name, at=at,
        )
    )  # fmt: skip
    change(stay)
    logbook.record(
        "charge.set_aside", row, by=by, at=at, consignment=stay, amount=wrong.amount, what=wrong.what,
        reason=reason,
    )  # fmt: skip
    return row


@transaction.atomic
def record_consignor_payment(
    consignment_id: int, *, amount: Decimal, method: str, reference: str = "",
    on: date | None = None,
    client_key: uuid.UUID | None = None, by: Actor, at: datetime,
) -> ConsignorPayment:  # fmt: skip
    """Money from the consignor: for the charges on a withdrawn vehicle, or what a settlement says they owe.

    Charges on a vehicle that is sold are taken from the settlement otherwise.
    """
    require(by, Act.RECORD_PAYMENT)
    stay = locked(consignment_id)
    if (known := again(ConsignorPayment, client_key=client_key)) is not None:
        return known
    owed = max(-balance_of_consignor(stay), money.ZERO)
    if stay.state not in {State.WITHDRAWN, State.SETTLED, State.RELEASED}:
        raise Refused(
            "not_withdrawn", f"{stay.stock_number} is {stay.get_state_display()}, not withdrawn.",
            field="state", got=stay.state, mend="Charges on a sold vehicle are taken from its settlement.",
        )  # fmt: skip
    money.check_amount(amount, field="amount", minimum=money.CENT)
    if amount > owed:
        raise Refused(
            "more_than_owed", f"{money.show(amount)} is more than the {money.show(owed)} unpaid.",
            field="amount", got=str(amount), mend="Record what was owed.",
        )  # fmt: skip
    today = trade_day(at)
    row = add(
        ConsignorPayment(
            consignment=stay, amount=amount, method=method, reference=reference.strip(),
            client_key=client_key, by=by.name, at=at,
            on=check_not_future(on or today, today=today, field="on"),
        )
    )  # fmt: skip
    change(stay)
    logbook.record("payment.from_consignor", row, by=by, at=at, consignment=stay, amount=row.amount)
    return row
