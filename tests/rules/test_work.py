"""What a work order waits for, and when the consignor is asked first."""

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from inventory.errors import Refused
from inventory.rules.agreement import ChargeRule
from inventory.rules.words import BornBy, ChargeKind
from inventory.rules.work import Said, Stage, Step, WorkFacts, check_step, stage_of, steps_of, why_consent

D = Decimal
OPEN = WorkFacts()
WANTED = WorkFacts(needs_consent="By the terms the lot bears repair.")
BACK = WorkFacts(is_out=True, is_back=True, has_checks=True)


@pytest.mark.parametrize(
    ("work", "stage"),
    [
        (OPEN, Stage.READY),
        (WANTED, Stage.ASK),
        (replace(WANTED, said=Said.OPEN), Stage.CONSENT),
        (replace(WANTED, said=Said.DECLINED), Stage.DECLINED),
        (WorkFacts(is_out=True, is_invoiced=True), Stage.OUT),
        (BACK, Stage.REGRADE),
        (replace(BACK, is_regraded=True), Stage.INVOICE),
        (replace(BACK, has_checks=False), Stage.INVOICE),
        (replace(BACK, is_regraded=True, is_invoiced=True), Stage.CHARGE),
        (replace(BACK, is_regraded=True, is_invoiced=True, needs_consent="more", said=Said.AGREED), Stage.ASK),
        (WorkFacts(is_closed=True), Stage.CLOSED),
        (WorkFacts(is_closed=True, is_called_off=True), Stage.CALLED_OFF),
    ],
)
def test_stage_is_the_first_thing_that_is_missing(work: WorkFacts, stage: Stage) -> None:
    assert stage_of(work) is stage


def test_work_does_not_begin_before_the_consignor_agreed() -> None:
    for said in (Said.NOT_ASKED, Said.OPEN, Said.DECLINED):
        with pytest.raises(Refused, match="the lot bears repair"):
            check_step(Step.OUT, work=replace(WANTED, said=said))
    assert Step.OUT in steps_of(OPEN)


def test_invoiced_work_is_no_longer_called_off() -> None:
    assert Step.CALL_OFF not in steps_of(WorkFacts(is_out=True, is_invoiced=True))
    assert steps_of(WorkFacts(is_closed=True)) == ()


@pytest.mark.parametrize(
    ("amount", "more", "why"),
    [
        ("500.00", {}, ""),
        ("500.01", {}, "goes beyond the cap"),
        ("200.00", {"so_far": D("301.00")}, "charged already"),
        ("9000.00", {"borne_by": BornBy.LOT}, ""),
        ("10.00", {"rules": None}, "do not say who bears"),
        ("10.00", {"kind": ChargeKind.DETAIL}, "do not say who bears"),
        ("10.00", {"rules": [ChargeRule(ChargeKind.REPAIR, BornBy.LOT, None)]}, "the lot bears repair"),
        ("9000.00", {"rules": [ChargeRule(ChargeKind.REPAIR, BornBy.CONSIGNOR, None)]}, ""),
    ],
)
def test_consent_is_wanted_where_the_terms_do_not_cover_it(amount: str, more: dict[str, Any], why: str) -> None:
    given: dict[str, Any] = {
        "kind": ChargeKind.REPAIR, "borne_by": BornBy.CONSIGNOR, "so_far": D(0),
        "rules": [ChargeRule(ChargeKind.REPAIR, BornBy.CONSIGNOR, D(500))],
    }  # fmt: skip
    said = why_consent(D(amount), **{**given, **more})
    assert why in said
    assert bool(said) == bool(why)
