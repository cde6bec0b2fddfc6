"""The consignor is paid: a statement drafted, approved to the cent, then paid out, or taken back whole."""

import uuid
from contextlib import ExitStack
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.core.files import File
from django.db import transaction
from django.db.models import Max

from inventory.actions import logbook, owning
from inventory.actions.moving import move
from inventory.actions.writing import add, again, keep_file, locked, locked_lot, trade_day
from inventory.errors import NotFound, Refused
from inventory.models import Consignment, Disbursement, SaleOutcome, Settlement, SettlementLine, SettlementPayee
from inventory.queries import facts
from inventory.queries.history import live_outcome
from inventory.queries.settlements import Draft, PayeeLeft, draft_of, pay_by_of, payees_of, same_name
from inventory.queries.trust import refuse_beyond_held
from inventory.rules import money
from inventory.rules.plausibility import check_not_future
from inventory.rules.roles import Act, Actor, require
from inventory.rules.states import State, needs_cleared_money
from inventory.rules.terms import payment_due_on, payoff_on
from inventory.rules.words import Payee, Result
from inventory.uploads.proofs import check_proof

LONGEST_WAIT = 60  # days from approval to the pay date; a payoff further ahead is a guess


@transaction.atomic
def approve_settlement(
    consignment_id: int, *, expected_due: Decimal | None = None, pay_on: date | None = None, by: Actor, at: datetime,
    version: int | None = None,
) -> Settlement:  # fmt: skip
    """Fix the statement as it stands for the pay date. What was shown and what is approved are the same amount.

    Of a sale it is approved once its money has cleared; of a vehicle that was taken back, at any time. After a
    reversal it is approved anew, and follows it.
    """
    require(by, Act.APPROVE_SETTLEMENT)
    locked_lot()  # one number at a time
    stay = locked(consignment_id, version=version)
    owning.refuse_own(stay, what="nobody is paid for it")
    _come_to_settle(stay, by=by, at=at)
    today = trade_day(at)
    day = _pay_date(pay_on, today=today)
    outcome = live_outcome(stay)
    draft = draft_of(stay, on=day)
    if draft is None or outcome is None:
        raise Refused("no_terms", "There are no terms to settle by.", field="terms", mend="Record the terms.")
    if expected_due is not None and draft.statement.due != expected_due:
        raise Refused(
            "draft_changed",
            f"The draft now comes to {money.show(draft.statement.due)}, not {money.show(expected_due)}.",
            field="expected_due", got=str(expected_due), mend="Look at the draft again.",
        )  # fmt: skip
    row = _fix(stay, draft=draft, outcome=outcome, pay_on=day, by=by, at=at)
    logbook.record("settlement.approved", row, by=by, at=at, consignment=stay, number=row.number, due=row.due)
    return row


def _come_to_settle(stay: Consignment, *, by: Actor, at: datetime) -> None:
    """Sold stays move; those that were settled and taken back, or withdrawn, stay in their state."""
    if facts.last_statement(stay) is not None and facts.settlement_of(stay) is not None:
        move(stay.pk, to=State.SETTLED, by=by, at=at)  # has no such move: says since when it is settled
    if stay.state == State.WITHDRAWN:
        if facts.settlement_of(stay) is not None:
            raise Refused("settled_already", f"{stay.stock_number} is settled.", field="state", got=stay.state)
        return
    if stay.state != State.SETTLED:
        move(stay.pk, to=State.SETTLED, by=by, at=at)  # refuses unless it is sold and the money has cleared
        return
    refusal = needs_cleared_money(facts.facts_of(stay, today=trade_day(at), by=by, to=State.SETTLED))
    if refusal is not None:
        raise refusal


def _pay_date(pay_on: date | None, *, today: date) -> date:
    day = pay_on or today
    if not today <= day <= today + timedelta(days=LONGEST_WAIT):
        raise Refused(
            "pay_date", f"{day} is not between today and {LONGEST_WAIT} days ahead.", field="pay_on", got=str(day),
            mend="Give the day on which it will be paid out.",
        )  # fmt: skip
    return day


def _fix(stay: Consignment, *, draft: Draft, outcome: SaleOutcome, pay_on: date, by: Actor, at: datetime) -> Settlement:
    sequence = _next_in_sequence()
    row = add(
        Settlement(
            consignment=stay, outcome=outcome, terms=draft.terms, due=draft.statement.due, sequence=sequence,
            number=_number(sequence), follows=facts.last_statement(stay), pay_on=pay_on,
            pay_by=_pay_by(stay, outcome=outcome, pay_on=pay_on), on=trade_day(at), by=by.name, at=at,
        )
    )  # fmt: skip
    for position, line in enumerate(draft.statement.lines, start=1):
        add(
            SettlementLine(
                settlement=row, position=position, kind=line.kind, label=line.label, amount=line.amount,
                vendor=line.vendor,
            )
        )  # fmt: skip
    for position, paid in enumerate(draft.payouts, start=1):
        add(SettlementPayee(settlement=row, position=position, kind=paid.kind, name=paid.name, amount=paid.amount))
    return row


def _pay_by(stay: Consignment, *, outcome: SaleOutcome, pay_on: date) -> date:
    """By the lot's clock; where it has not begun to run, the pay date itself."""
    if outcome.result == Result.WITHDRAWN:
        return payment_due_on(outcome.ended_on, days=facts.the_lot().pay_within_days)
    return pay_by_of(stay, outcome=outcome) or pay_on


@transaction.atomic
def reverse_settlement(settlement_id: int, *, reason: str, by: Actor, at: datetime) -> Settlement:
    """Take a statement back by one that reverses every line of it. Both stay; a right one is approved after it.

    What was paid out on it stays paid, and counts towards the next.
    """
    require(by, Act.APPROVE_SETTLEMENT)
    locked_lot()
    wrong = _settlement(settlement_id)
    stay = locked(wrong.consignment_id)
    if facts.settlement_of(stay) != wrong:
        raise Refused("done_already", f"{wrong.number} was taken back already.", field="settlement", got=wrong.number)
    if not reason.strip():
        raise Refused("reason_missing", "The reason is missing.", field="reason", mend="Say what was wrong with it.")
    sequence = _next_in_sequence()
    row = add(
        Settlement(
            consignment=stay, outcome=wrong.outcome, terms=wrong.terms, due=-wrong.due, sequence=sequence,
            number=_number(sequence), follows=wrong, is_reversal=True, reason=reason.strip(), pay_on=wrong.pay_on,
            pay_by=wrong.pay_by, on=trade_day(at), by=by.name, at=at,
        )
    )  # fmt: skip
    for line in wrong.lines.order_by("position"):
        add(
            SettlementLine(
                settlement=row, position=line.position, kind=line.kind, label=f"Taken back: {line.label}"[:300],
                amount=-line.amount, vendor=line.vendor,
            )
        )  # fmt: skip
    logbook.record(
        "settlement.reversed", row, by=by, at=at, consignment=stay, number=row.number, wrong=wrong.number,
        because=logbook.because(reason),
    )  # fmt: skip
    return row


def _settlement(settlement_id: int) -> Settlement:
    row = Settlement.objects.filter(pk=settlement_id).first()
    if row is None:
        raise NotFound("not_found", "There is no such settlement.", got=settlement_id)
    return row


@transaction.atomic
def record_disbursement(
    settlement_id: int, *, payee_kind: str, payee: str, amount: Decimal, method: str, reference: str = "",
    on: date | None = None, proof: File[bytes] | None = None,
    client_key: uuid.UUID | None = None, by: Actor, at: datetime,
) -> Disbursement:  # fmt: skip
    """Money left the lot for one payee of a settlement, never more than that payee is owed.

    A lender is paid the payoff of the very day it is paid on.
    """
    require(by, Act.PAY)
    settlement = _settlement(settlement_id)
    stay = locked(settlement.consignment_id)
    if (known := again(Disbursement, client_key=client_key)) is not None:
        return known
    if facts.settlement_of(stay) != settlement:
        raise Refused(
            "taken_back", f"{settlement.number} was taken back: nothing is paid on it any more.", field="settlement",
            got=settlement.number, mend="Approve a new statement and pay on that.",
        )  # fmt: skip
    to = _payee(settlement, kind=payee_kind, name=payee)
    left = to.left if to else money.ZERO
    if money.check_amount(amount, field="amount", minimum=money.CENT) > left:
        raise Refused(
            "more_than_owed", f"{money.show(amount)} is more than the {money.show(left)} left to pay.",
            field="amount", got=str(amount), mend="Pay what the settlement says.",
        )  # fmt: skip
    today = trade_day(at)
    day = check_not_future(on or today, today=today, field="on")
    _refuse_other_payoff(settlement, payee_kind=payee_kind, on=day)
    refuse_beyond_held(stay, amount=amount)
    row = Disbursement(
        settlement=settlement, share_id=to.share_id if to else None, payee_kind=payee_kind, payee=payee.strip(),
        amount=amount, method=method, reference=reference.strip(), on=day,
        client_key=client_key, by=by.name, at=at,
    )  # fmt: skip
    with ExitStack() as undo:
        if proof is not None:
            ending, row.proof_sha256 = check_proof(proof)
            keep_file(row.proof, name=f"{uuid.uuid4()}{ending}", content=proof, undo=undo)
        add(row)
        undo.pop_all()
    logbook.record(
        "settlement.paid", row, by=by, at=at, consignment=stay, amount=row.amount, payee=row.payee,
        payee_kind=row.payee_kind, method=row.get_method_display(),
    )  # fmt: skip
    return row


def _payee(settlement: Settlement, *, kind: str, name: str) -> PayeeLeft | None:
    """The one of the statement; of several of a kind the one of that name."""
    same = [row for row in payees_of(settlement) if row.kind == kind]
    if len(same) < 2:
        return same[0] if same else None
    named = [row for row in same if same_name(row.name, name)]
    if not named:
        raise Refused(
            "payee_unknown", f"“{name.strip()}” is not a payee of {settlement.number}.", field="payee", got=name,
            mend=f"Give one of {', '.join(row.name for row in same)}.",
        )  # fmt: skip
    return named[0]


def _refuse_other_payoff(settlement: Settlement, *, payee_kind: str, on: date) -> None:
    """With an amount for each further day, another day is another payoff than the statement's."""
    lien = facts.lien_of(settlement.terms)
    if payee_kind != Payee.LIEN_HOLDER or lien is None or settlement.pay_on is None or on == settlement.pay_on:
        return
    then, now = payoff_on(lien, on=settlement.pay_on), payoff_on(lien, on=on)
    if then != now:
        raise Refused(
            "payoff_of_another_day",
            f"On {on} the payoff is {money.show(now)}; {settlement.number} was approved for {settlement.pay_on} at "
            f"{money.show(then)}.",
            field="on", got=str(on), mend="Take the statement back and approve it for the day of payment.",
        )  # fmt: skip


def _number(sequence: int) -> str:
    return f"S-{sequence:05d}"


def _next_in_sequence() -> int:
    """The next place in the lot's own count of statements: without gaps, since the lot's row is locked."""
    last: int | None = Settlement.objects.aggregate(last=Max("sequence"))["last"]
    return (last or 0) + 1
