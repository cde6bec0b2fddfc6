"""Work orders from the first word to the charge."""

from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from inventory.actions import asking, consenting, inspecting, settling, working
from inventory.actions.inspecting import Finding
from inventory.actions.working import Invoice, NewOrder
from inventory.actions.writing import trade_day
from inventory.errors import NotAllowed, Refused, TooLate
from inventory.models import Charge, CheckResult, ConsentRequest, Consignment, LogEntry, WorkOrder
from inventory.queries import facts
from inventory.queries.condition_report import condition_report_paper
from inventory.queries.flags import flagged_stays, flags_of
from inventory.queries.floor_work import work_lines
from inventory.queries.listing import record_of
from inventory.queries.settlements import checks_of, draft_of
from inventory.queries.work import seen, work_for_consignor
from inventory.rules.catalogue import CHECKS
from inventory.rules.roles import Actor
from inventory.rules.states import State
from inventory.rules.words import Basis, BornBy, ChargeKind
from inventory.rules.work import Stage
from tests import build

pytestmark = pytest.mark.django_db

D = Decimal
FIRST, SECOND = list(CHECKS)[:2]
RULES = ((ChargeKind.REPAIR, BornBy.CONSIGNOR, D("500.00")),)


@pytest.fixture
def stay(at: datetime) -> Consignment:
    """Listed, under terms by which the consignor bears repairs up to 500.00."""
    row = build.consignment(State.INSPECTED, at=at)
    build.make_listable(row, at=at, ask=D("48500.00"), charge_rules=RULES)
    return row


def opened(stay: Consignment, *, by: Actor, at: datetime, **said: Any) -> WorkOrder:
    order = NewOrder(**{"what": "Reline the brakes", "checks": (FIRST,), "estimate": D("400.00"), **said})
    return working.open_order(stay.pk, order=order, by=by, at=at)


def done(row: WorkOrder, *, by: Actor, at: datetime) -> None:
    working.send_out(row.pk, place="Lift 1", keys="board", by=by, at=at)
    working.bring_back(row.pk, place="Bay 3", keys="hook 3", found="relined", by=by, at=at)


def graded_again(row: WorkOrder, *, by: Actor, at: datetime, grade: int = 4) -> Any:
    working.regrade(row.pk, by=by, at=at)
    for code in row.checks:
        finding = Finding(check_code=code, grade=grade, basis=Basis.SEEN)
        inspecting.record_check(row.consignment_id, finding=finding, by=by, at=at)
    return inspecting.finish_inspection(row.consignment_id, by=by, at=at)


def stage(row: WorkOrder) -> Stage:
    return seen(row).stage


def test_work_within_the_terms_goes_from_order_to_charge(owner: Actor, at: datetime, stay: Consignment) -> None:
    row = opened(stay, by=owner, at=at)
    assert stage(row) is Stage.READY
    working.send_out(row.pk, place="Lift 1", by=owner, at=at)
    moved = stay.movements.order_by("-pk")[0]
    assert (moved.place, moved.not_for_sale) == ("Lift 1", True)
    working.bring_back(row.pk, place="Bay 3", by=owner, at=at)
    assert stay.movements.order_by("-pk")[0].not_for_sale is False
    assert stage(row) is Stage.REGRADE
    graded_again(row, by=owner, at=at)
    working.record_invoice(row.pk, invoice=Invoice(amount=D("420.00"), number="77", vendor="Pell"), by=owner, at=at)
    assert not Charge.objects.exists()
    working.charge_order(row.pk, by=owner, at=at)
    charge = Charge.objects.get()
    assert (charge.amount, charge.borne_by, charge.agreed_by, charge.vendor, charge.consent) == (
        D("420.00"), BornBy.CONSIGNOR, "Ada Fenwick", "Pell", None
    )  # fmt: skip
    assert stage(row) is Stage.CLOSED
    told = LogEntry.objects.filter(action__startswith="work.").order_by("pk").values_list("action", flat=True)
    assert list(told) == ["work.opened", "work.out", "work.back", "work.invoiced", "work.closed"]


def test_consent_beyond_the_cap_charges_nothing_before_the_invoice_and_at_most_what_was_agreed(
    owner: Actor, at: datetime, stay: Consignment
) -> None:
    row = opened(stay, by=owner, at=at, estimate=D("900.00"), checks=())
    with pytest.raises(Refused, match="goes beyond the cap"):
        working.send_out(row.pk, place="Lift 1", by=owner, at=at)
    working.ask_consignor(row.pk, by=owner, at=at)
    assert stage(row) is Stage.CONSENT
    first = ConsentRequest.objects.get()
    consenting.record_answer(first.pk, agreed=True, given_by="Ada Fenwick", how="by phone", by=owner, at=at)
    assert not Charge.objects.exists()
    assert (stage(row), seen(row).agreed) == (Stage.READY, D("900.00"))
    done(row, by=owner, at=at)
    working.record_invoice(row.pk, invoice=Invoice(amount=D("950.00")), by=owner, at=at)
    with pytest.raises(Refused, match=r"\$950.00 is more than the \$900.00 that was agreed to"):
        working.charge_order(row.pk, by=owner, at=at)
    working.ask_consignor(row.pk, by=owner, at=at)
    second = ConsentRequest.objects.order_by("-pk")[0]
    consenting.record_answer(second.pk, agreed=True, given_by="Ada Fenwick", how="by phone", by=owner, at=at)
    working.charge_order(row.pk, by=owner, at=at)
    charge = Charge.objects.get()
    assert (charge.amount, charge.agreed_by, charge.consent) == (D("950.00"), "Ada Fenwick", second)


def test_declined_work_is_changed_or_called_off(owner: Actor, at: datetime, stay: Consignment) -> None:
    row = opened(stay, by=owner, at=at, estimate=D("900.00"))
    working.ask_consignor(row.pk, by=owner, at=at)
    asked = ConsentRequest.objects.get()
    consenting.record_answer(asked.pk, agreed=False, given_by="Ada Fenwick", how="by phone", by=owner, at=at)
    with pytest.raises(Refused, match="let the lot bear it"):
        working.send_out(row.pk, place="Lift 1", by=owner, at=at)
    working.change_order(row.pk, vendor="", borne_by=BornBy.LOT, estimate=D("900.00"), by=owner, at=at)
    assert stage(row) is Stage.READY
    working.call_off(row.pk, reason="the lot will not either", by=owner, at=at)
    assert stage(row) is Stage.CALLED_OFF
    with pytest.raises(Refused, match="Open a new work order"):
        working.send_out(row.pk, place="Lift 1", by=owner, at=at)


def test_changing_an_order_takes_its_open_question_back(owner: Actor, at: datetime, stay: Consignment) -> None:
    row = opened(stay, by=owner, at=at, estimate=D("900.00"))
    working.ask_consignor(row.pk, by=owner, at=at)
    working.change_order(row.pk, vendor="", borne_by=BornBy.CONSIGNOR, estimate=D("450.00"), by=owner, at=at)
    asked = ConsentRequest.objects.get()
    with pytest.raises(Refused, match="taken back"):
        consenting.record_answer(asked.pk, agreed=True, given_by="Ada Fenwick", how="by phone", by=owner, at=at)
    assert stage(row) is Stage.READY


def test_two_orders_together_do_not_slip_under_one_cap(owner: Actor, at: datetime, stay: Consignment) -> None:
    first, second = (opened(stay, by=owner, at=at, estimate=D("300.00")) for _ in range(2))
    assert (stage(first), stage(second)) == (Stage.READY, Stage.ASK)


def test_what_the_lot_bears_is_no_charge_against_the_consignor(owner: Actor, at: datetime, stay: Consignment) -> None:
    row = opened(stay, by=owner, at=at, borne_by=BornBy.LOT, estimate=None, checks=())
    done(row, by=owner, at=at)
    working.record_invoice(row.pk, invoice=Invoice(amount=D("80.00")), by=owner, at=at)
    working.charge_order(row.pk, by=owner, at=at)
    assert Charge.objects.get().borne_by == BornBy.LOT
    assert facts.charges_unpaid(stay, charges=facts.live_charges(stay)) == 0


def test_regrading_carries_the_rest_and_freezes_new_figures_beside_the_old(
    owner: Actor, at: datetime, stay: Consignment
) -> None:
    later = at + timedelta(hours=2)
    row, before = opened(stay, by=owner, at=at), facts.finished_inspection(stay)
    assert before is not None
    done(row, by=owner, at=later)
    walk = working.regrade(row.pk, by=owner, at=later)
    kept = {result.check_code: result for result in walk.results.all()}
    was = CheckResult.objects.get(inspection=before, check_code=SECOND)
    assert FIRST not in kept
    assert (kept[SECOND].carried_from, kept[SECOND].by, kept[SECOND].at, kept[SECOND].grade) == (
        was, was.by, was.at, was.grade
    )  # fmt: skip
    with pytest.raises(Refused, match="Not graded again yet"):
        inspecting.finish_inspection(stay.pk, by=owner, at=later)
    after = graded_again(row, by=owner, at=later)
    assert (after.number, after.work_order) == (before.number + 1, row)
    assert after.condition_low > before.condition_low
    before.refresh_from_db()
    assert CheckResult.objects.get(inspection=before, check_code=FIRST).grade == 3
    day = trade_day(at)
    listed = {check.code: check.grade for check in record_of(stay, today=day).checks}
    printed = str(condition_report_paper(stay, today=day).stations)
    assert (listed[FIRST], listed[SECOND]) == (4, 3)
    assert (printed.count("no fault found"), printed.count("light wear")) == (1, 2)
    assert stage(row) is Stage.INVOICE


def test_whole_inspection_on_a_later_day_grades_again_too(owner: Actor, at: datetime, stay: Consignment) -> None:
    row = opened(stay, by=owner, at=at)
    done(row, by=owner, at=at)
    build.inspect(stay, at=at)
    assert stage(row) is Stage.REGRADE
    build.inspect(stay, at=at + timedelta(days=1))
    assert stage(row) is Stage.INVOICE


def test_flags_follow_what_was_answered_again_and_keep_clearances_of_the_rest(owner: Actor, at: datetime) -> None:
    """A grade of 0 on a check with a published criterion raises a flag (49 CFR 570)."""
    stay = build.consignment(State.ON_LOT, at=at)
    codes = [code for code, check in CHECKS.items() if check.criterion][:2]
    inspecting.begin_inspection(stay.pk, by=owner, at=at)
    for code in codes:
        inspecting.record_check(stay.pk, finding=Finding(check_code=code, grade=0, basis=Basis.SEEN), by=owner, at=at)
    inspecting.finish_inspection(stay.pk, by=owner, at=at)
    day = trade_day(at)
    mended, cleared = (next(line for line in flags_of(stay, today=day) if line.check_code == code) for code in codes)
    inspecting.clear_flag(stay.pk, key=cleared.key, reason="seen by the inspector", by=owner, at=at)
    row = opened(stay, by=owner, at=at, borne_by=BornBy.LOT, checks=(mended.check_code,))
    done(row, by=owner, at=at)
    graded_again(row, by=owner, at=at)
    left = flags_of(stay, today=day)
    assert [(line.check_code, line.is_open) for line in left] == [(cleared.check_code, False)]
    assert flagged_stays() == {}


def test_what_cannot_be_ordered_is_refused(owner: Actor, sales: Actor, at: datetime, stay: Consignment) -> None:
    for said, match in (
        ({"estimate": None}, "estimate is missing"), ({"kind": "storage"}, "no kind of work"),
        ({"checks": ("none.such",)}, "no check none.such"), ({"what": " "}, "[Ww]hat"),
    ):  # fmt: skip
        with pytest.raises(Refused, match=match):
            opened(stay, by=owner, at=at, **said)  # type: ignore[arg-type]
    with pytest.raises(NotAllowed):
        opened(stay, by=sales, at=at)
    row = opened(stay, by=owner, at=at)
    with pytest.raises(TooLate):
        working.call_off(row.pk, reason="x", by=owner, at=at, version=7)


def test_intake_orders_work_and_only_the_owner_charges_it(
    intake: Actor, owner: Actor, at: datetime, stay: Consignment
) -> None:
    row = opened(stay, by=intake, at=at, checks=())
    done(row, by=intake, at=at)
    working.record_invoice(row.pk, invoice=Invoice(amount=D("100.00")), by=intake, at=at)
    with pytest.raises(NotAllowed):
        working.charge_order(row.pk, by=intake, at=at)
    working.charge_order(row.pk, by=owner, at=at)


def test_today_names_one_and_counts_several(owner: Actor, sales: Actor, at: datetime, stay: Consignment) -> None:
    row = opened(stay, by=owner, at=at, estimate=D("900.00"))
    today = trade_day(at)
    assert [line.text for line in work_lines(owner, today)] == ["Work waits for consent: Reline the brakes"]
    opened(stay, by=owner, at=at, estimate=D("800.00"), kind=ChargeKind.DETAIL)
    assert [line.text for line in work_lines(owner, today)] == ["2 work orders wait for consent"]
    assert work_lines(sales, today) == []
    working.change_order(row.pk, vendor="Pell", borne_by=BornBy.LOT, estimate=None, by=owner, at=at)
    working.send_out(row.pk, place="Pell", by=owner, at=at)
    late = work_lines(owner, today + timedelta(days=15))
    assert ("At work for 15 days: Reline the brakes", True) in [(line.text, line.is_urgent) for line in late]


def test_consignor_reads_what_and_amounts_that_are_theirs(owner: Actor, at: datetime, stay: Consignment) -> None:
    opened(stay, by=owner, at=at, vendor="Pell")
    opened(stay, by=owner, at=at, borne_by=BornBy.LOT, estimate=D("70.00"), what="Wash it")
    washed, relined = work_for_consignor(stay)
    assert (washed.estimate, washed.is_theirs, relined.estimate, relined.stage) == (
        None, False, D("400.00"), "planned"
    )  # fmt: skip


def test_after_the_settlement_only_the_lot_can_bear_it(owner: Actor, at: datetime) -> None:
    stay = build.consignment(State.INSPECTED, at=at)
    build.make_listable(stay, at=at, ask=D("48500.00"), charge_rules=RULES)
    asking.list_vehicle(stay.pk, by=owner, at=at)
    row = opened(stay, by=owner, at=at, checks=())
    done(row, by=owner, at=at)
    build.step_to(State.SOLD, stay, at=at, price=D("48500.00"))
    working.record_invoice(row.pk, invoice=Invoice(amount=D("100.00")), by=owner, at=at)
    draft = draft_of(stay, on=trade_day(at))
    assert draft is not None
    last = checks_of(stay, draft=draft, pay_on=trade_day(at))[-1]
    assert (last.is_right, last.detail) == (False, "Reline the brakes")
    build.pay_in_full(stay, at=at)
    settling.approve_settlement(stay.pk, by=owner, at=at)
    with pytest.raises(Refused, match="is settled"):
        working.charge_order(row.pk, by=owner, at=at)
    working.change_order(row.pk, vendor="", borne_by=BornBy.LOT, estimate=D("400.00"), by=owner, at=at)
    working.charge_order(row.pk, by=owner, at=at)
    assert (stage(row), Charge.objects.count()) == (Stage.CLOSED, 0)
