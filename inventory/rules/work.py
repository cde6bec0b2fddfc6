"""Work on a vehicle: which step a work order waits for, which may follow, and when the consignor is asked first."""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import TextChoices

from inventory.errors import Refused
from inventory.rules import agreement
from inventory.rules.agreement import ChargeRule
from inventory.rules.floor_words import OwnCostKind
from inventory.rules.money import ZERO, show
from inventory.rules.words import BornBy, ChargeKind

OUT_TOO_LONG_DAYS = 14  # common practice, no source
KINDS = (
    ChargeKind.REPAIR, ChargeKind.DETAIL, ChargeKind.TRANSPORT, ChargeKind.PHOTOGRAPHY, ChargeKind.PAPERWORK,
    ChargeKind.OTHER,
)  # fmt: skip
"""What can be ordered. The other kinds of charges follow from the terms by themselves."""


class Stage(TextChoices):
    """What a work order waits for, in its order."""

    ASK = "ask", "the consignor is to be asked"
    CONSENT = "consent", "waits for the consignor"
    DECLINED = "declined", "the consignor declined"
    READY = "ready", "ready to begin"
    OUT = "out", "being worked on"
    REGRADE = "regrade", "done, to be graded again"
    INVOICE = "invoice", "done, waits for the invoice"
    CHARGE = "charge", "invoiced, not charged"
    CLOSED = "closed", "closed"
    CALLED_OFF = "called_off", "called off"


class Said(TextChoices):
    """What the consignor said to the question of a work order."""

    NOT_ASKED = "not_asked", "not asked"
    OPEN = "open", "asked, not answered"
    AGREED = "agreed", "agreed"
    DECLINED = "declined", "declined"


class Step(TextChoices):
    """What can be done with a work order."""

    ASK = "ask", "ask the consignor"
    CHANGE = "change", "change it"
    OUT = "out", "begin, or send it out"
    BACK = "back", "done, or back"
    REGRADE = "regrade", "grade again"
    INVOICE = "invoice", "record the invoice"
    CHARGE = "charge", "charge it and close"
    CALL_OFF = "call-off", "call it off"


@dataclass(frozen=True, kw_only=True)
class WorkFacts:
    """One work order as plain values. `needs_consent` says why what it costs must be agreed to; empty: it need not."""

    needs_consent: str = ""
    said: Said = Said.NOT_ASKED
    is_out: bool = False
    is_back: bool = False
    has_checks: bool = False
    is_regraded: bool = False
    is_invoiced: bool = False
    is_closed: bool = False
    is_called_off: bool = False


def stage_of(work: WorkFacts) -> Stage:
    """What it waits for now."""
    if work.is_called_off:
        return Stage.CALLED_OFF
    if work.is_closed:
        return Stage.CLOSED
    if work.is_out and not work.is_back:
        return Stage.OUT
    if work.is_back and work.has_checks and not work.is_regraded:
        return Stage.REGRADE
    if work.is_back and not work.is_invoiced:
        return Stage.INVOICE
    if work.needs_consent:
        return _ASKING[work.said]
    return Stage.CHARGE if work.is_invoiced else Stage.READY


_ASKING = {
    Said.NOT_ASKED: Stage.ASK,
    Said.OPEN: Stage.CONSENT,
    Said.DECLINED: Stage.DECLINED,
    Said.AGREED: Stage.ASK,  # to less than it costs now
}


def steps_of(work: WorkFacts) -> tuple[Step, ...]:
    """What may be done with it now, the usual step first."""
    if work.is_closed or work.is_called_off:
        return ()
    stage, steps = stage_of(work), []
    if work.needs_consent and work.said != Said.OPEN and stage in {Stage.ASK, Stage.DECLINED}:
        steps.append(Step.ASK)
    if stage is Stage.READY:
        steps.append(Step.OUT)
    if stage is Stage.OUT:
        steps.append(Step.BACK)
    if stage is Stage.REGRADE:
        steps.append(Step.REGRADE)
    if work.is_out and not work.is_invoiced:
        steps.append(Step.INVOICE)
    if stage is Stage.CHARGE:
        steps.append(Step.CHARGE)
    steps.append(Step.CHANGE)
    if not work.is_invoiced:
        steps.append(Step.CALL_OFF)
    return tuple(steps)


def check_step(step: Step, *, work: WorkFacts) -> None:
    """Refuse a step that does not fit now, with what comes first."""
    if step in steps_of(work):
        return
    stage = stage_of(work)
    if step in {Step.OUT, Step.CHARGE} and work.needs_consent:
        raise Refused("consent_needed", work.needs_consent, field="consent", got=stage.value, mend=_MEND[stage])
    raise Refused(
        "step_not_now", f"“{step.label.capitalize()}” does not fit now: the work order is “{stage.label}”.",
        field="step", got=stage.value, mend=_MEND[stage],
    )  # fmt: skip


_MEND = {
    Stage.ASK: "Ask the consignor first.",
    Stage.CONSENT: "Wait for the answer, or call it off.",
    Stage.DECLINED: "Change it, let the lot bear it, or call it off.",
    Stage.READY: "Begin it first.",
    Stage.OUT: "Record that it is back first.",
    Stage.REGRADE: "Grade the checks again first.",
    Stage.INVOICE: "Record the invoice first.",
    Stage.CHARGE: "Charge it and close it.",
    Stage.CLOSED: "Open a new work order.",
    Stage.CALLED_OFF: "Open a new work order.",
}


def why_consent(
    amount: Decimal, *, kind: ChargeKind, borne_by: BornBy, rules: Iterable[ChargeRule] | None, so_far: Decimal
) -> str:
    """Why the consignor must agree to an amount before it is spent; empty where the terms they accepted cover it.

    Without accepted terms (`rules` None), or where they do not name the kind, each charge is agreed one by one.
    """
    if borne_by is BornBy.LOT or amount <= ZERO:
        return ""
    named = [rule for rule in rules or () if rule.kind is kind]
    if not named:
        return f"The terms do not say who bears {kind.label}: {show(amount)} is agreed first."
    try:
        agreement.check_charge(amount, kind=kind, borne_by=borne_by, rules=named, so_far=so_far)
    except Refused as problem:
        return problem.message
    return ""


OWN_KIND: dict[Any, OwnCostKind] = {
    ChargeKind.REPAIR: OwnCostKind.REPAIR,
    ChargeKind.DETAIL: OwnCostKind.DETAIL,
    ChargeKind.TRANSPORT: OwnCostKind.TRANSPORT,
    ChargeKind.PAPERWORK: OwnCostKind.PAPERWORK,
}
"""What a work order costs the lot on a vehicle of its own; the rest is *other*."""

TOLD = {
    Stage.ASK: "planned; you will be asked first",
    Stage.CONSENT: "waits for your answer",
    Stage.DECLINED: "you declined it",
    Stage.READY: "planned",
    Stage.OUT: "being done",
    Stage.REGRADE: "done",
    Stage.INVOICE: "done",
    Stage.CHARGE: "done",
    Stage.CLOSED: "done and accounted for",
    Stage.CALLED_OFF: "called off",
}
"""The stage as the consignor reads it."""
