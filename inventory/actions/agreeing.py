"""Terms, charges and consent: what lot and consignor agreed."""

import uuid
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.db import transaction

from inventory.actions import logbook
from inventory.actions.writing import add, again, change, locked, trade_day
from inventory.errors import NotFound, Refused
from inventory.models import Charge, Consent, Consignment, ConsignorPayment, Terms
from inventory.queries import facts
from inventory.rules import money
from inventory.rules.plausibility import check_not_future
from inventory.rules.roles import Act, Actor, require
from inventory.rules.states import State
from inventory.rules.terms import check_plan
from inventory.rules.words import BornBy, FloorKind, TitleProtection


@dataclass(frozen=True, kw_only=True)
class NewTerms:
    """Terms as given. Rates are in percent; tiers are (up to or None, rate) in rising order."""

    plan_kind: str
    starts_on: date
    ends_on: date
    rate: Decimal | None = None
    minimum: Decimal | None = None
    tiers: tuple[tuple[Decimal | None, Decimal], ...] = ()
    flat: Decimal | None = None
    guaranteed_net: Decimal | None = None
    floor: Decimal | None = None
    floor_kind: str = FloorKind.PRICE
    signed_by: str = ""
    signed_on: date | None = None
    title_protection: str = TitleProtection.NONE
    lien_holder: str = ""
    lien_amount: Decimal | None = None
    lien_quoted_on: date | None = None
    lien_good_until: date | None = None
    lien_per_day: Decimal | None = None


@transaction.atomic
def agree_terms(consignment_id: int, *, terms: NewTerms, by: Actor, at: datetime, version: int | None = None) -> Terms:
    """Record the next version of the terms. The one before stays as it was."""
    require(by, Act.AGREE_TERMS)
    stay = locked(consignment_id, version=version)
    _refuse_after_sale(stay)
    last = facts.terms_of(stay)
    row = Terms(
        consignment=stay, number=last.number + 1 if last else 1, by=by.name, at=at,
        **{
            **terms.__dict__,
            "tiers": [[None if up is None else str(up), str(rate)] for up, rate in terms.tiers],
            "signed_by": terms.signed_by.strip(),
        },
    )  # fmt: skip
    _check_terms(row, today=trade_day(at))
    add(row)
    change(stay)
    logbook.record(
        "terms.agreed", row, by=by, at=at, consignment=stay, number=row.number,
        signed_by=row.signed_by or "nobody yet", signed_on=row.signed_on or "no date",
    )  # fmt: skip
    return row


def _check_terms(row: Terms, *, today: date) -> None:
    check_plan(facts.plan_of(row))
    if row.signed_on is not None:
        check_not_future(row.signed_on, today=today, field="signed_on")
    if row.floor is not None:
        money.check_amount(row.floor, field="floor", minimum=money.CENT)
    lien = (bool(row.lien_holder.strip()), row.lien_amount is not None, row.lien_quoted_on is not None)
    besides = row.lien_good_until is not None or row.lien_per_day is not None
    if (any(lien) or besides) and not all(lien):
        raise Refused(
            "lien_incomplete",
            "A lien has a holder, an amount and the date it was quoted.",
            field="lien_holder" if not lien[0] else "lien_amount" if not lien[1] else "lien_quoted_on",
            mend="Give all three, or none.",
        )
    if row.lien_quoted_on is not None:
        check_not_future(row.lien_quoted_on, today=today, field="lien_quoted_on")
    facts.floor_price(row, charges=[], on=today)  # refuses a net that no price can leave


def _refuse_after_sale(stay: Consignment) -> None:
    if stay.state in {State.SOLD, State.SETTLED, State.RELEASED}:
        raise Refused(
            "too_late",
            f"{stay.stock_number} is {stay.get_state_display()}: its terms are settled by the sale.",
            field="state",
            got=stay.state,
            mend="Terms are agreed before a sale.",
        )


@transaction.atomic
def add_charge(
    consignment_id: int, *, kind: str, what: str, amount: Decimal, agreed_by: str,
    borne_by: str = BornBy.CONSIGNOR, on: date | None = None, client_key: uuid.UUID | None = None,
    by: Actor, at: datetime,
) -> Charge:  # fmt: skip
    """An agreed cost. After the settlement was approved nothing can be added to it."""
    require(by, Act.ADD_CHARGE)
    stay = locked(consignment_id)
    if (known := again(Charge, client_key=client_key)) is not None:
        return known
    _refuse_settled(stay)
    if not agreed_by.strip():
        raise Refused(
            "not_agreed", "Nobody is named who agreed to the charge.", field="agreed_by",
            mend="Charges are agreed first: say by whom.",
        )  # fmt: skip
    today = trade_day(at)
    row = add(
        Charge(
            consignment=stay, kind=kind, what=what.strip(), agreed_by=agreed_by.strip(), borne_by=borne_by,
            amount=money.check_amount(amount, field="amount", minimum=money.CENT),
            on=check_not_future(on or today, today=today, field="on"),
            client_key=client_key, by=by.name, at=at,
        )
    )  # fmt: skip
    change(stay)
    logbook.record(
        "charge.added", row, by=by, at=at, consignment=stay, amount=row.amount, what=row.what,
        borne_by=row.get_borne_by_display(),
    )  # fmt: skip
    return row


@transaction.atomic
def set_charge_aside(charge_id: int, *, reason: str, by: Actor, at: datetime) -> Charge:
    """Take a charge back by a row that names it; both stay in the books."""
    require(by, Act.ADD_CHARGE)
    wrong = Charge.objects.select_related("consignment").filter(pk=charge_id, sets_aside__isnull=True).first()
    if wrong is None:
        raise NotFound("not_found", "There is no such charge.", got=charge_id)
    stay = locked(wrong.consignment_id)
    _refuse_settled(stay)
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


def _refuse_settled(stay: Consignment) -> None:
    if facts.settlement_of(stay) is not None or stay.state == State.RELEASED:
        raise Refused(
            "settled_already", f"{stay.stock_number} is settled: charges cannot change any more.",
            field="state", got=stay.state, mend="Agree it with the consignor apart from this settlement.",
        )  # fmt: skip


@transaction.atomic
def record_consent(
    consignment_id: int, *, down_to: Decimal, given_by: str, how: str, text: str, by: Actor, at: datetime
) -> Consent:
    """The consignor's consent to a sale below the floor, with the exact words agreed to."""
    require(by, Act.MARK_SOLD)
    stay = locked(consignment_id)
    row = add(
        Consent(
            consignment=stay, down_to=money.check_amount(down_to, field="down_to", minimum=money.CENT),
            given_by=given_by.strip(), how=how.strip(), text=text.strip(), by=by.name, at=at,
        )
    )  # fmt: skip
    logbook.record(
        "consent.recorded", row, by=by, at=at, consignment=stay, name=row.given_by, amount=row.down_to,
        text=row.text,
    )  # fmt: skip
    return row


@transaction.atomic
def record_consignor_payment(
    consignment_id: int, *, amount: Decimal, method: str, on: date | None = None,
    client_key: uuid.UUID | None = None, by: Actor, at: datetime,
) -> ConsignorPayment:  # fmt: skip
    """Money from the consignor for the charges on a withdrawn vehicle, before it leaves.

    Charges on a vehicle that is sold are taken from the settlement instead.
    """
    require(by, Act.RECORD_PAYMENT)
    stay = locked(consignment_id)
    if (known := again(ConsignorPayment, client_key=client_key)) is not None:
        return known
    if stay.state != State.WITHDRAWN:
        raise Refused(
            "not_withdrawn", f"{stay.stock_number} is {stay.get_state_display()}, not withdrawn.",
            field="state", got=stay.state, mend="Charges on a sold vehicle are taken from its settlement.",
        )  # fmt: skip
    open_charges = facts.charges_unpaid(stay, charges=facts.live_charges(stay))
    money.check_amount(amount, field="amount", minimum=money.CENT)
    if amount > open_charges:
        raise Refused(
            "more_than_owed", f"{money.show(amount)} is more than the {money.show(open_charges)} unpaid.",
            field="amount", got=str(amount), mend="Record what was owed.",
        )  # fmt: skip
    today = trade_day(at)
    row = add(
        ConsignorPayment(
            consignment=stay, amount=amount, method=method, client_key=client_key, by=by.name, at=at,
            on=check_not_future(on or today, today=today, field="on"),
        )
    )  # fmt: skip
    change(stay)
    logbook.record("payment.from_consignor", row, by=by, at=at, consignment=stay, amount=row.amount)
    return row
