"""Terms, consent to a price, and what a lender says is owed: what lot and consignor agreed."""

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.db import transaction

from inventory.actions import logbook, owning
from inventory.actions.writing import add, change, check_alone, locked, trade_day
from inventory.errors import Refused
from inventory.models import Consent, Consignment, LienQuote, Terms
from inventory.queries import facts
from inventory.rules import money
from inventory.rules.agreement import Beside, check_beside
from inventory.rules.plausibility import check_not_future
from inventory.rules.roles import Act, Actor, require
from inventory.rules.states import State
from inventory.rules.terms import check_plan
from inventory.rules.words import BornBy, ChargeKind, CommissionBase, Exclusivity, FloorKind, TitleProtection


@dataclass(frozen=True, kw_only=True)
class NewTerms:
    """Terms as given. Rates and shares are in percent; tiers are (up to or None, rate) in rising order, steps (days
    listed, ask), charge rules (kind, who bears it, cap or None) and payees (name, percent)."""

    plan_kind: str
    starts_on: date
    ends_on: date
    rate: Decimal | None = None
    minimum: Decimal | None = None
    maximum: Decimal | None = None
    commission_base: str = CommissionBase.PRICE
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
    title_protection_note: str = ""
    exclusivity: str = Exclusivity.EXCLUSIVE
    renewal_days: int | None = None
    protection_days: int = 0
    step_downs: tuple[tuple[int, Decimal], ...] = ()
    consent_below: Decimal | None = None
    convey_from: Decimal | None = None
    charge_rules: tuple[tuple[str, str, Decimal | None], ...] = ()
    storage_per_day: Decimal | None = None
    storage_free_days: int = 0
    withdrawal_fee: Decimal | None = None
    forfeit_percent: Decimal | None = None
    insurance: str = ""
    photos_allowed: bool = True
    test_drives_allowed: bool = True
    payees: tuple[tuple[str, Decimal], ...] = ()


@transaction.atomic
def agree_terms(consignment_id: int, *, terms: NewTerms, by: Actor, at: datetime, version: int | None = None) -> Terms:
    """Record the next version of the terms. The one before stays as it was.

    Signed, it is in effect at once. Unsigned, it is a proposal: a version that both sides accepted stays in effect
    until the consignor has agreed to the new one.
    """
    require(by, Act.AGREE_TERMS)
    stay = locked(consignment_id, version=version)
    owning.refuse_own(stay, what="there is nobody to agree terms with")
    _refuse_after_sale(stay)
    return _append(stay, columns=_columns(terms), said_by=by.name, by=by, at=at)


def proposal_of(terms: NewTerms, *, by: Actor, at: datetime) -> tuple[Terms, dict[str, Any]]:
    """Terms without a stay, through the same checks: the row, which is not saved, and its columns as text, every
    amount exact. Nobody signs them."""
    require(by, Act.AGREE_TERMS)
    if terms.signed_by.strip() or terms.signed_on is not None:
        raise Refused(
            "proposal_signed", "What is proposed before the vehicle is booked is not signed yet.", field="signed_by",
            got=terms.signed_by, mend="Leave the signature empty.",
        )  # fmt: skip
    columns = _columns(terms)
    row = Terms(number=1, by=by.name, at=at, **columns)
    row.last_quote = None
    _check_terms(row, today=trade_day(at))
    check_alone(row)
    return row, {
        name: str(value) if isinstance(value, Decimal | date) else value
        for name, value in columns.items()
        if name not in {"signed_by", "signed_on"}
    }


def append_proposed(
    stay: Consignment, *, columns: dict[str, Any], said_by: str, by: Actor, at: datetime
) -> Terms:  # fmt: skip
    """Terms that whoever may agree terms proposed before the stay, as its first version, inside the caller's
    transaction. Unsigned: they are a proposal."""
    return _append(stay, columns=columns, said_by=said_by, by=by, at=at)


def _append(stay: Consignment, *, columns: dict[str, Any], said_by: str, by: Actor, at: datetime) -> Terms:
    last = Terms.objects.filter(consignment=stay).order_by("-number").first()
    row = Terms(consignment=stay, number=last.number + 1 if last else 1, by=said_by, at=at, **columns)
    _check_terms(row, today=trade_day(at))
    add(row)
    change(stay)
    logbook.record(
        "terms.agreed", row, by=by, at=at, consignment=stay, number=row.number,
        signed_by=row.signed_by or "nobody yet", signed_on=row.signed_on or "no date",
    )  # fmt: skip
    return row


def _columns(terms: NewTerms) -> dict[str, Any]:
    """The terms as columns: what is a list of figures is kept as text, exact to the cent."""
    return {
        **terms.__dict__,
        "tiers": [[None if up is None else str(up), str(rate)] for up, rate in terms.tiers],
        "step_downs": [[days, str(ask)] for days, ask in terms.step_downs],
        "charge_rules": [[kind, by, None if cap is None else str(cap)] for kind, by, cap in terms.charge_rules],
        "payees": [[name.strip(), str(percent)] for name, percent in terms.payees],
        "signed_by": terms.signed_by.strip(),
        "insurance": terms.insurance.strip(),
    }


def _check_terms(row: Terms, *, today: date) -> None:
    check_plan(facts.plan_of(row))
    check_beside(_beside(row))
    if row.signed_on is not None:
        check_not_future(row.signed_on, today=today, field="signed_on")
    if row.floor is not None:
        money.check_amount(row.floor, field="floor", minimum=money.CENT)
    _check_lien(row, today=today)
    facts.floor_price(row, charges=[], on=today)  # refuses a net that no price can leave


def _beside(row: Terms) -> Beside:
    known = {(kind, by) for kind in ChargeKind.values for by in BornBy.values}
    for kind, borne_by, _ in row.charge_rules:
        if (kind, borne_by) not in known:
            raise Refused(
                "terms_charges", f"“{kind}, {borne_by}” is no kind of charge and who bears it.", field="charge_rules",
                got=kind, mend=f"The kinds are {', '.join(ChargeKind.labels)}.",
            )  # fmt: skip
    return facts.beside(row)


def _check_lien(row: Terms, *, today: date) -> None:
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


@transaction.atomic
def record_lien_quote(
    consignment_id: int, *, holder: str, amount: Decimal, quoted_on: date, good_until: date | None = None,
    per_day: Decimal | None = None, reference: str = "", by: Actor, at: datetime,
) -> LienQuote:  # fmt: skip
    """What the lender says is owed. It takes the place of every quote before, and of the one in the terms."""
    require(by, Act.ADD_CHARGE)
    stay = locked(consignment_id)
    refuse_settled(stay)
    row = add(
        LienQuote(
            consignment=stay, holder=holder.strip(), amount=money.check_amount(amount, field="amount"),
            quoted_on=check_not_future(quoted_on, today=trade_day(at), field="quoted_on"), good_until=good_until,
            per_day=None if per_day is None else money.check_amount(per_day, field="per_day"),
            reference=reference.strip(), by=by.name, at=at,
        )
    )  # fmt: skip
    change(stay)
    logbook.record(
        "lien.quoted", row, by=by, at=at, consignment=stay, holder=row.holder, amount=row.amount, on=row.quoted_on
    )
    return row


def refuse_settled(stay: Consignment) -> None:
    """Nothing of a statement that was approved can change any more."""
    if facts.settlement_of(stay) is not None or stay.state == State.RELEASED:
        raise Refused(
            "settled_already", f"{stay.stock_number} is settled: charges cannot change any more.",
            field="state", got=stay.state,
            mend="Take the statement back by a reversal first, or agree it with the consignor apart.",
        )  # fmt: skip


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
def record_consent(
    consignment_id: int, *, down_to: Decimal, given_by: str, how: str, text: str, by: Actor, at: datetime
) -> Consent:
    """The consignor's consent to a sale below the floor, with the exact words agreed to."""
    require(by, Act.MARK_SOLD)
    return append_consent(locked(consignment_id), down_to=down_to, given_by=given_by, how=how, text=text, by=by, at=at)


def append_consent(
    stay: Consignment, *, down_to: Decimal, given_by: str, how: str, text: str, by: Actor, at: datetime
) -> Consent:
    """Consent to a price, inside the caller's transaction."""
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
