"""Work orders: opened, agreed to, out and back, graded again, invoiced, charged."""

import uuid
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.db import transaction

from inventory.actions import charging, consenting, inspecting, logbook, owning, recording
from inventory.actions.agreeing import refuse_settled
from inventory.actions.consenting import Question
from inventory.actions.writing import add, again, change, locked, refuse_stale, trade_day
from inventory.errors import NotFound, Refused
from inventory.models import Charge, Consignment, IntakeInspection, WorkOrder
from inventory.queries import facts
from inventory.queries.work import OrderSeen, amount_of, seen
from inventory.rules import money, work
from inventory.rules.catalogue import CHECKS
from inventory.rules.plausibility import check_not_future
from inventory.rules.roles import Act, Actor, require
from inventory.rules.states import State
from inventory.rules.words import BornBy, ChargeKind
from inventory.rules.work import Said, Step


@dataclass(frozen=True, kw_only=True)
class NewOrder:
    """What is to be done, which checks it touches, who does it (empty: the lot's own shop), who bears it."""

    kind: str = ChargeKind.REPAIR
    what: str
    checks: tuple[str, ...] = ()
    vendor: str = ""
    borne_by: str = BornBy.CONSIGNOR
    estimate: Decimal | None = None
    started_from: str = ""


@dataclass(frozen=True, kw_only=True)
class Invoice:
    """What the work came to. Nothing where the lot's own shop asks nothing for it."""

    amount: Decimal
    number: str = ""
    vendor: str = ""
    on: date | None = None


@transaction.atomic
def open_order(
    consignment_id: int, *, order: NewOrder, client_key: uuid.UUID | None = None, by: Actor, at: datetime
) -> WorkOrder:
    """Say what is to be done. What the consignor bears has an estimate, so that they can be asked."""
    require(by, Act.ORDER_WORK)
    stay = locked(consignment_id)
    if (known := again(WorkOrder, client_key=client_key)) is not None:
        return known
    if stay.state == State.BOOKED or stay.released_on is not None:
        raise Refused(
            "not_here", f"{stay.stock_number} is {stay.get_state_display()}: no work is ordered on it.", field="what",
            got=stay.state, mend="Order work while it is here.",
        )  # fmt: skip
    borne_by = BornBy.LOT.value if stay.consignor.is_lot else order.borne_by
    _check(order, borne_by=borne_by)
    row = add(
        WorkOrder(
            consignment=stay, kind=order.kind, what=order.what.strip(), checks=_codes(order.checks),
            vendor=order.vendor.strip(), borne_by=borne_by, estimate=order.estimate,
            started_from=order.started_from.strip(), opened_on=trade_day(at), client_key=client_key, by=by.name, at=at,
        )
    )  # fmt: skip
    logbook.record(
        "work.opened", row, by=by, at=at, consignment=stay, what=row.what, estimate=_told(row.estimate),
        borne_by=row.get_borne_by_display(),
    )  # fmt: skip
    return row


def _check(order: NewOrder, *, borne_by: str) -> None:
    if order.kind not in work.KINDS:
        raise Refused(
            "kind_unknown", f"“{order.kind}” is no kind of work.", field="kind", got=order.kind,
            mend=f"Give one of {', '.join(kind.label for kind in work.KINDS)}.",
        )  # fmt: skip
    if order.estimate is not None:
        money.check_amount(order.estimate, field="estimate", minimum=money.CENT)
    elif borne_by == BornBy.CONSIGNOR:
        raise Refused(
            "no_estimate", "The estimate is missing.", field="estimate",
            mend="Give it: the consignor bears this, and agrees to an amount.",
        )  # fmt: skip


def _codes(checks: tuple[str, ...]) -> list[str]:
    """In walking order, each once."""
    for code in checks:
        if code not in CHECKS:
            raise Refused("no_such_check", f"There is no check {code}.", field="checks", got=code,
                          mend="Use checks of the catalogue.")  # fmt: skip
    return [code for code in CHECKS if code in checks]


def _told(amount: Decimal | None) -> str:
    return "no estimate" if amount is None else money.show(amount)


def _for_step(order_id: int, *, step: Step, version: int | None) -> OrderSeen:
    """The order with its stay locked, after the rules allowed the step."""
    found = WorkOrder.objects.filter(pk=order_id).first()
    if found is None:
        raise NotFound("not_found", "There is no such work order.", got=order_id)
    locked(found.consignment_id)
    one = seen(found)
    refuse_stale(one.row, version=version)
    work.check_step(step, work=one.facts)
    return one


@transaction.atomic
def ask_consignor(order_id: int, *, by: Actor, at: datetime, version: int | None = None) -> WorkOrder:
    """One tap: the consignor is asked for what it costs, or will. Work does not begin before they agreed."""
    require(by, Act.ASK_CONSENT)
    row = _for_step(order_id, step=Step.ASK, version=version).row
    question = Question(
        kind="charge", amount=amount_of(row), what=row.what, charge_kind=row.kind, vendor=row.vendor
    )  # fmt: skip
    consent = consenting.ask_consent(row.consignment_id, question=question, by=by, at=at)
    return change(row, consent=consent)


@transaction.atomic
def change_order(
    order_id: int, *, vendor: str, borne_by: str, estimate: Decimal | None, by: Actor, at: datetime,
    version: int | None = None,
) -> WorkOrder:  # fmt: skip
    """Another vendor or estimate before the invoice, another bearer before it is charged. An open question is void."""
    require(by, Act.ORDER_WORK)
    one = _for_step(order_id, step=Step.CHANGE, version=version)
    row = one.row
    if one.is_own:
        borne_by = BornBy.LOT.value
    order = NewOrder(kind=row.kind, what=row.what, vendor=vendor, borne_by=borne_by, estimate=estimate)
    _check(order, borne_by=borne_by)
    if row.invoice is not None and (estimate != row.estimate or vendor.strip() != row.vendor):
        raise Refused(
            "invoiced", "It is invoiced: estimate and vendor stay as they were.", field="estimate",
            got=_told(estimate), mend="Only who bears it can change now.",
        )  # fmt: skip
    before = (row.vendor, row.borne_by, row.estimate)
    if before == (vendor.strip(), borne_by, estimate):
        return row
    _drop_question(one, how="the work order was changed", by=by, at=at)
    change(row, vendor=vendor.strip(), borne_by=borne_by, estimate=estimate)
    logbook.record(
        "work.changed", row, by=by, at=at, consignment=row.consignment, what=row.what, estimate=_told(row.estimate),
        borne_by=row.get_borne_by_display(), vendor=f", by {row.vendor}" if row.vendor else "",
    )  # fmt: skip
    return row


def _drop_question(one: OrderSeen, *, how: str, by: Actor, at: datetime) -> None:
    """A question about something else than is meant now must not be answered."""
    if one.facts.said is Said.OPEN and one.row.consent is not None:
        consenting.drop(one.row.consent, how=how, by=by, at=at)


@transaction.atomic
def send_out(
    order_id: int, *, place: str, keys: str = "", by: Actor, at: datetime, version: int | None = None
) -> WorkOrder:
    """Work begins: the vehicle stands in the shop or at the vendor, and is not for sale meanwhile."""
    require(by, Act.ORDER_WORK)
    row = _for_step(order_id, step=Step.OUT, version=version).row
    _move(row, place=place, keys=keys, not_for_sale=True, by=by, at=at)
    change(row, out_on=trade_day(at))
    logbook.record("work.out", row, by=by, at=at, consignment=row.consignment, what=row.what, place=place.strip())
    return row


@transaction.atomic
def bring_back(
    order_id: int, *, place: str, keys: str = "", found: str = "", by: Actor, at: datetime, version: int | None = None
) -> WorkOrder:
    """Work is done: the vehicle stands in its place again, for sale unless other work keeps it."""
    require(by, Act.ORDER_WORK)
    row = _for_step(order_id, step=Step.BACK, version=version).row
    others = WorkOrder.objects.filter(
        consignment=row.consignment_id, out_on__isnull=False, back_on__isnull=True, closed_on__isnull=True
    ).exclude(pk=row.pk)
    _move(row, place=place, keys=keys, not_for_sale=others.exists(), by=by, at=at)
    change(row, back_on=trade_day(at), found=found.strip())
    logbook.record("work.back", row, by=by, at=at, consignment=row.consignment, what=row.what, place=place.strip())
    return row


def _move(row: WorkOrder, *, place: str, keys: str, not_for_sale: bool, by: Actor, at: datetime) -> None:
    if not place.strip():
        raise Refused("no_place", "The place is missing.", field="place", mend="Say where the vehicle stands now.")
    recording.record_place(row.consignment_id, place=place, keys=keys, not_for_sale=not_for_sale, by=by, at=at)


@transaction.atomic
def regrade(order_id: int, *, by: Actor, at: datetime) -> IntakeInspection:
    """Open an inspection that asks what was worked on; all else is carried over from the last finished one."""
    require(by, Act.ORDER_WORK)
    row = _for_step(order_id, step=Step.REGRADE, version=None).row
    return inspecting.begin_regrade(row, by=by, at=at)


@transaction.atomic
def record_invoice(
    order_id: int, *, invoice: Invoice, by: Actor, at: datetime, version: int | None = None
) -> WorkOrder:
    """What the work came to. It charges nobody yet."""
    require(by, Act.ORDER_WORK)
    row = _for_step(order_id, step=Step.INVOICE, version=version).row
    today = trade_day(at)
    change(
        row, invoice=money.check_amount(invoice.amount, field="amount"), invoice_number=invoice.number.strip(),
        vendor=invoice.vendor.strip() or row.vendor,
        invoiced_on=check_not_future(invoice.on or today, today=today, field="on"),
    )  # fmt: skip
    logbook.record(
        "work.invoiced", row, by=by, at=at, consignment=row.consignment, what=row.what, amount=row.invoice,
        number=f", number {row.invoice_number}" if row.invoice_number else "",
    )  # fmt: skip
    return row


@transaction.atomic
def charge_order(order_id: int, *, by: Actor, at: datetime, version: int | None = None) -> WorkOrder:
    """The invoice becomes a charge, or a cost of a vehicle of the lot's own, and the order is closed."""
    require(by, Act.ADD_CHARGE)
    one = _for_step(order_id, step=Step.CHARGE, version=version)
    row, charge = one.row, None
    if row.invoice and one.is_own:
        what = f"{row.what}{f', invoice {row.invoice_number}' if row.invoice_number else ''}"[:200]
        cost = owning.Cost(kind=work.OWN_KIND.get(row.kind, "other"), what=what, amount=row.invoice, paid_to=row.vendor)
        owning.append_cost(row.consignment, cost=cost, by=by, at=at)
    elif row.invoice and not _is_borne_after_all(row):
        charge = _charge(one, by=by, at=at)
    change(row, charge=charge, closed_on=trade_day(at))
    logbook.record("work.closed", row, by=by, at=at, consignment=row.consignment, what=row.what, amount=row.invoice)
    return row


def _is_borne_after_all(row: WorkOrder) -> bool:
    """What the lot bears when the books of the stay are closed is written in the order alone."""
    stay = row.consignment
    closed = facts.settlement_of(stay) is not None or stay.state == State.RELEASED
    return closed and BornBy(row.borne_by) is BornBy.LOT


def _charge(one: OrderSeen, *, by: Actor, at: datetime) -> Charge:
    """At most what was agreed to: by the answer, or by the terms."""
    row = one.row
    refuse_settled(row.consignment)
    new = Charge(
        consignment=row.consignment, kind=row.kind, what=row.what, amount=row.invoice, borne_by=row.borne_by,
        agreed_by=_agreed_by(one, by=by), vendor=row.vendor, consent=row.consent if one.agreed is not None else None,
        on=trade_day(at), by=by.name, at=at,
    )  # fmt: skip
    return charging.append(new, by=by, at=at)


def _agreed_by(one: OrderSeen, *, by: Actor) -> str:
    if one.row.borne_by == BornBy.LOT:
        return by.name
    if one.agreed is not None and one.row.consent is not None:
        return str(one.row.consent.answer.given_by)
    return _terms_name(one.row.consignment)


def _terms_name(stay: Consignment) -> str:
    terms = facts.terms_of(stay)
    if terms is None:  # the rules asked for consent otherwise
        raise Refused("no_terms", "There are no terms that agree to it.", field="terms", mend="Ask the consignor.")
    return terms.signed_by or f"terms, version {terms.number}"


@transaction.atomic
def call_off(order_id: int, *, reason: str, by: Actor, at: datetime, version: int | None = None) -> WorkOrder:
    """It is not done, or not gone on with. Nobody is charged."""
    require(by, Act.ORDER_WORK)
    one = _for_step(order_id, step=Step.CALL_OFF, version=version)
    if not reason.strip():
        raise Refused("reason_missing", "The reason is missing.", field="reason", mend="Say why it is called off.")
    _drop_question(one, how="the work was called off", by=by, at=at)
    values: dict[str, Any] = {"called_off": reason.strip(), "closed_on": trade_day(at)}
    row = change(one.row, **values)
    logbook.record(
        "work.called_off", row, by=by, at=at, consignment=row.consignment, what=row.what,
        because=logbook.because(reason),
    )  # fmt: skip
    return row
