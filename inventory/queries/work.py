"""Work orders as their pages show them, with the stage of each, in a constant number of queries."""

import uuid
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import Exists, OuterRef, Q, QuerySet

from inventory.errors import NotFound
from inventory.models import Charge, Consignment, IntakeInspection, Movement, Terms, WorkOrder
from inventory.queries.facts import beside, finished_inspection
from inventory.queries.inspections import kind_of, results_of, wording_of
from inventory.queries.what_if import Outcome, Plan
from inventory.rules import money, work
from inventory.rules.agreement import ChargeRule
from inventory.rules.catalogue import CHECKS, STATION_OF, STATIONS, asked_codes
from inventory.rules.money import show
from inventory.rules.roles import Act, Actor, may
from inventory.rules.score_words import check_said
from inventory.rules.words import BornBy, ChargeKind, ConsentResult
from inventory.rules.work import Said, Stage, Step, WorkFacts


@dataclass(frozen=True)
class OrderSeen:
    """One work order with what it waits for."""

    row: WorkOrder
    facts: WorkFacts

    @property
    def stage(self) -> Stage:
        return work.stage_of(self.facts)

    @property
    def steps(self) -> tuple[Step, ...]:
        return work.steps_of(self.facts)

    @property
    def amount(self) -> Decimal | None:
        """What it costs, as far as anybody knows."""
        return amount_of(self.row)

    @property
    def agreed(self) -> Decimal | None:
        """What the consignor agreed to bear when asked."""
        consent = self.row.consent
        theirs = self.row.borne_by == BornBy.CONSIGNOR and self.facts.said is Said.AGREED
        return consent.amount if theirs and consent is not None else None

    @property
    def is_own(self) -> bool:
        return bool(self.row.consignment.consignor.is_lot)

    @property
    def checks(self) -> list[str]:
        return [wording_of(code) for code in self.row.checks]

    def days_out(self, *, today: date) -> int:
        return (today - self.row.out_on).days if self.row.out_on and not self.row.back_on else 0

    @property
    def told(self) -> str:
        return work.TOLD[self.stage]


def amount_of(row: WorkOrder) -> Decimal | None:
    amount: Decimal | None = row.invoice if row.invoice is not None else row.estimate
    return amount


def orders() -> QuerySet[WorkOrder]:
    """With all that a line shows; `regraded` says whether a finished inspection followed: its own, or a whole one."""
    whole = Q(work_order__isnull=True, begun_at__date__gt=OuterRef("back_on"), consignment=OuterRef("consignment"))
    looked_again = IntakeInspection.objects.filter(Q(work_order=OuterRef("pk")) | whole, finished_at__isnull=False)
    joined = ("consignment__vehicle", "consignment__consignor", "consent__answer", "charge")
    return WorkOrder.objects.select_related(*joined).annotate(regraded=Exists(looked_again)).order_by("pk")


def seen_of(rows: Sequence[WorkOrder]) -> list[OrderSeen]:
    """Each with its stage: by the terms in effect, what was charged, and what other open orders will cost."""
    stays = {row.consignment_id for row in rows}
    rules, spent = _rules(stays), _spent(stays)
    return [OrderSeen(row, _facts(row, rules=rules.get(row.consignment_id), spent=spent)) for row in rows]


def seen(row: WorkOrder) -> OrderSeen:
    return seen_of([orders().get(pk=row.pk)])[0]


def _rules(stays: set[int]) -> dict[int, Sequence[ChargeRule]]:
    """The charge rules of the terms in effect, where both sides accepted them."""
    found: dict[int, Sequence[ChargeRule]] = {}
    known: set[int] = set()
    for terms in Terms.objects.filter(consignment__in=stays).ranked():
        if terms.consignment_id not in known:
            known.add(terms.consignment_id)
            if terms.accepted:
                found[terms.consignment_id] = beside(terms).charge_rules
    return found


Spent = Mapping[tuple[int, str], Sequence[tuple[int, Decimal]]]


def _spent(stays: set[int]) -> Spent:
    """By stay and kind what the consignor bears already: charges (with 0), and open orders on the terms (their key)."""
    spent: defaultdict[tuple[int, str], list[tuple[int, Decimal]]] = defaultdict(list)
    borne = Q(borne_by=BornBy.CONSIGNOR, consignment__in=stays)
    live = Charge.objects.filter(borne, sets_aside__isnull=True, set_aside_by__isnull=True)
    for stay, kind, amount in live.values_list("consignment_id", "kind", "amount"):
        spent[stay, kind].append((0, amount))
    waiting = WorkOrder.objects.filter(borne, closed_on__isnull=True).exclude(
        consent__answer__result=ConsentResult.AGREED
    )  # fmt: skip
    for order in waiting:
        spent[order.consignment_id, order.kind].append((order.pk, amount_of(order) or money.ZERO))
    return spent


def _facts(row: WorkOrder, *, rules: Sequence[ChargeRule] | None, spent: Spent) -> WorkFacts:
    so_far = [amount for key, amount in spent.get((row.consignment_id, row.kind), ()) if key < row.pk]
    here = row.consignment.released_on is None  # what has left is graded no more
    return WorkFacts(
        needs_consent=_needs_consent(row, rules=rules, so_far=money.total(so_far)), said=said_of(row),
        is_out=row.out_on is not None, is_back=row.back_on is not None, has_checks=bool(row.checks) and here,
        is_regraded=row.__dict__["regraded"], is_invoiced=row.invoice is not None, is_closed=row.closed_on is not None,
        is_called_off=bool(row.called_off),
    )  # fmt: skip


def said_of(row: WorkOrder) -> Said:
    """What the consignor said to the question that is linked; one taken back was not asked."""
    if row.consent is None:
        return Said.NOT_ASKED
    answer = getattr(row.consent, "answer", None)
    if answer is None:
        return Said.OPEN
    return _SAID.get(answer.result, Said.NOT_ASKED)


_SAID = {ConsentResult.AGREED.value: Said.AGREED, ConsentResult.DECLINED.value: Said.DECLINED}


def _needs_consent(row: WorkOrder, *, rules: Sequence[ChargeRule] | None, so_far: Decimal) -> str:
    amount = amount_of(row) or money.ZERO
    if row.borne_by != BornBy.CONSIGNOR or row.consignment.consignor.is_lot:
        return ""
    if said_of(row) is Said.AGREED and row.consent is not None and row.consent.amount is not None:
        agreed = row.consent.amount
        return "" if amount <= agreed else f"{show(amount)} is more than the {show(agreed)} that was agreed to."
    return work.why_consent(
        amount, kind=ChargeKind(row.kind), borne_by=BornBy(row.borne_by), rules=rules, so_far=so_far
    )


def orders_of(stay: Consignment) -> list[OrderSeen]:
    """Of one stay: open ones first, each newest first."""
    found = seen_of(list(orders().filter(consignment=stay)))
    return sorted(found, key=lambda one: (not one.row.is_open, -one.row.pk))


def open_orders() -> list[OrderSeen]:
    """Of the whole lot, the oldest first."""
    return seen_of(list(orders().filter(closed_on__isnull=True)))


def order_of(stay: Consignment, *, code: uuid.UUID) -> OrderSeen:
    row = orders().filter(consignment=stay, code=code).first()
    if row is None:
        raise NotFound("not_found", f"There is no such work order of {stay.stock_number}.", got=str(code))
    return seen_of([row])[0]


def last_keys(stay: Consignment) -> str:
    """Where the keys were last, so that sending a vehicle out does not lose them."""
    return Movement.objects.filter(consignment=stay).order_by("-pk").values_list("keys", flat=True).first() or ""


Choices = list[tuple[str, str]]


def check_choices(stay: Consignment) -> list[tuple[str, Choices]]:
    """The checks that apply to the vehicle, by station, with what was found; faults say so."""
    inspection = finished_inspection(stay)
    found = {row.code: row for row in results_of(inspection)} if inspection else {}
    asked = asked_codes(**kind_of(stay.vehicle))
    groups = [(station.title, [one for one in station.checks if one.code in asked]) for station in STATIONS]
    return [
        (title, [(one.code, f"{one.wording} – {check_said(found.get(one.code))}") for one in checks])
        for title, checks in groups
        if checks
    ]


def from_what_if(plan: Plan, *, outcome: Outcome) -> dict[str, object]:
    """What a work order begins with that is opened from a “what if”; empty where it supposes no work."""
    checks = [code for code in CHECKS if code in plan.grades]
    if not checks and plan.cost is None:
        return {}
    named = ", ".join(f"{wording_of(code)} graded {plan.grades[code]}" for code in checks) or "the work supposed"
    gain = f": likely price {show_signed(outcome.gain)}" if outcome.gain is not None else ""
    what = f"{STATION_OF[checks[0]].title}: {', '.join(wording_of(code) for code in checks)}" if checks else ""
    return {
        "kind": ChargeKind.REPAIR.value, "what": _cut(what), "checks": checks, "estimate": plan.cost or "",
        "started_from": _cut(f"What if {named}{gain}"),
    }  # fmt: skip


def show_signed(amount: Decimal) -> str:
    return f"{'+' if amount >= 0 else '−'}{money.show_whole(abs(amount))}"


def _cut(text: str) -> str:
    return text if len(text) <= 200 else f"{text[:199]}…"


@dataclass(frozen=True)
class WorkSeen:
    """A work order as the consignor reads it: no vendor, no note, and no amount that is not theirs to bear."""

    on: date
    what: str
    stage: str
    is_theirs: bool
    estimate: Decimal | None
    agreed: Decimal | None


def work_for_consignor(stay: Consignment) -> tuple[WorkSeen, ...]:
    return tuple(_for_consignor(one) for one in orders_of(stay))


def _for_consignor(one: OrderSeen) -> WorkSeen:
    theirs = one.row.borne_by == BornBy.CONSIGNOR
    return WorkSeen(
        one.row.opened_on, one.row.what, one.told, theirs, one.row.estimate if theirs else None,
        one.agreed if theirs else None,
    )  # fmt: skip


def may_step(step: Step, *, by: Actor) -> bool:
    return may(by, STEP_ACTS[step])


STEP_ACTS: dict[Step, Act] = {
    Step.ASK: Act.ASK_CONSENT,
    Step.CHANGE: Act.ORDER_WORK,
    Step.OUT: Act.ORDER_WORK,
    Step.BACK: Act.ORDER_WORK,
    Step.REGRADE: Act.ORDER_WORK,
    Step.INVOICE: Act.ORDER_WORK,
    Step.CHARGE: Act.ADD_CHARGE,
    Step.CALL_OFF: Act.ORDER_WORK,
}
