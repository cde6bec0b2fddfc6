"""The consignor is paid: a statement drafted, approved to the cent, then paid out."""

import uuid
from datetime import date, datetime
from decimal import Decimal

from django.db import transaction
from django.db.models import Max

from inventory.actions import logbook
from inventory.actions.moving import move
from inventory.actions.writing import add, again, locked, locked_lot, trade_day
from inventory.errors import NotFound, Refused
from inventory.models import Consignment, Disbursement, Settlement, SettlementLine
from inventory.queries.history import live_outcome
from inventory.queries.settlements import draft_of, left_to_pay
from inventory.rules import money
from inventory.rules.plausibility import check_not_future
from inventory.rules.roles import Act, Actor, require
from inventory.rules.states import State
from inventory.rules.terms import payment_due_on


@transaction.atomic
def approve_settlement(
    consignment_id: int, *, expected_due: Decimal | None = None, by: Actor, at: datetime,
    version: int | None = None,
) -> Settlement:  # fmt: skip
    """Fix the statement as it stands today. What was shown and what is approved are the same amount."""
    require(by, Act.APPROVE_SETTLEMENT)
    lot = locked_lot()
    stay = locked(consignment_id, version=version)
    move(stay.pk, to=State.SETTLED, by=by, at=at)  # refuses unless it is sold and the money has cleared
    today = trade_day(at)
    outcome = live_outcome(stay)
    draft = draft_of(stay, on=today)
    if draft is None or outcome is None:
        raise Refused("no_terms", "There are no terms to settle by.", field="terms", mend="Record the terms.")
    if expected_due is not None and draft.statement.due != expected_due:
        raise Refused(
            "draft_changed",
            f"The draft now comes to {money.show(draft.statement.due)}, not {money.show(expected_due)}.",
            field="expected_due", got=str(expected_due), mend="Look at the draft again.",
        )  # fmt: skip
    sequence = _next_in_sequence()
    row = add(
        Settlement(
            consignment=stay, outcome=outcome, terms=draft.terms, due=draft.statement.due,
            sequence=sequence, number=f"S-{sequence:05d}", pay_on=today,
            pay_by=payment_due_on(outcome.ended_on, days=lot.pay_within_days), on=today, by=by.name, at=at,
        )
    )  # fmt: skip
    for position, line in enumerate(draft.statement.lines, start=1):
        add(SettlementLine(settlement=row, position=position, kind=line.kind, label=line.label, amount=line.amount))
    logbook.record("settlement.approved", row, by=by, at=at, consignment=stay, number=row.number, due=row.due)
    return row


@transaction.atomic
def record_disbursement(
    settlement_id: int, *, payee_kind: str, payee: str, amount: Decimal, method: str, reference: str = "",
    on: date | None = None, client_key: uuid.UUID | None = None, by: Actor, at: datetime,
) -> Disbursement:  # fmt: skip
    """Money left the lot for one payee of a settlement, never more than that payee is owed."""
    require(by, Act.PAY)
    settlement = Settlement.objects.filter(pk=settlement_id).first()
    if settlement is None:
        raise NotFound("not_found", "There is no such settlement.", got=settlement_id)
    stay = locked(settlement.consignment_id)
    if (known := again(Disbursement, client_key=client_key)) is not None:
        return known
    left = left_to_pay(settlement, payee_kind=payee_kind)
    if money.check_amount(amount, field="amount", minimum=money.CENT) > left:
        raise Refused(
            "more_than_owed", f"{money.show(amount)} is more than the {money.show(left)} left to pay.",
            field="amount", got=str(amount), mend="Pay what the settlement says.",
        )  # fmt: skip
    today = trade_day(at)
    row = add(
        Disbursement(
            settlement=settlement, payee_kind=payee_kind, payee=payee.strip(), amount=amount, method=method,
            reference=reference.strip(), on=check_not_future(on or today, today=today, field="on"),
            client_key=client_key, by=by.name, at=at,
        )
    )  # fmt: skip
    logbook.record(
        "settlement.paid", row, by=by, at=at, consignment=stay, amount=row.amount, payee=row.payee,
        method=row.get_method_display(),
    )  # fmt: skip
    return row


def _next_in_sequence() -> int:
    """The next place in the lot's own count of statements: without gaps, since the lot's row is locked."""
    last: int | None = Settlement.objects.aggregate(last=Max("sequence"))["last"]
    return (last or 0) + 1
