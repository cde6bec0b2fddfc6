"""What if: the band of a vehicle as it is not, from real rows."""

import random
from dataclasses import replace
from datetime import datetime, timedelta
from decimal import Decimal
from itertools import pairwise
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory import bridge
from inventory.actions import inspecting, pricing, recording
from inventory.actions.importing import import_sales
from inventory.actions.inspecting import Finding
from inventory.actions.writing import trade_day
from inventory.models import Consignment, LogEntry, ModelFit
from inventory.queries import what_if
from inventory.queries.history import sales_for_fit
from inventory.queries.pricing_desk import stay_by_number
from inventory.queries.what_if import Addition, Outcome, Plan, Situation
from inventory.rules.catalogue import CHECKS
from inventory.rules.roles import Actor
from inventory.rules.states import State
from inventory.rules.words import Standing
from inventory.sheets import Options
from tests import build
from tests.actions.test_pricing import BOOK

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("learned_once")]
ENDS = ("low", "likely", "high")
HEADS: dict[str, Any] = {"kind": "engine", "what": "larger valves", "fitting": "bolt_on", "basis": "seen"}
CARRIES = [code for code, check in CHECKS.items() if check.structural]


@pytest.fixture
def fit(owner: Actor, at: datetime) -> ModelFit:
    import_sales(BOOK, name=BOOK.name, options=Options(), by=owner, at=at)
    return pricing.fit_prices(by=owner, at=at, refits=0)


@pytest.fixture
def stay(at: datetime) -> Consignment:
    stay = build.consignment(State.ON_LOT, at=at)
    build.inspect(stay, at=at, seen=40, grade=2)
    return stay


def here(stay: Consignment, *, at: datetime) -> Situation:
    return what_if.situation_of(stay_by_number(stay.stock_number), today=trade_day(at))


def supposed(stay: Consignment, *, at: datetime, **plan: Any) -> Outcome:
    return what_if.outcome_of(here(stay, at=at), plan=Plan(**plan))


def ends(band: bridge.Band | None) -> list[Decimal]:
    assert band is not None
    return [getattr(band, name) for name in ENDS]


@pytest.mark.parametrize("code", [CARRIES[0], CARRIES[-1], *random.Random(5).sample(list(CHECKS), 10)])
def test_better_grade_never_lowers_any_end(fit: ModelFit, stay: Consignment, at: datetime, code: str) -> None:
    bands = [ends(supposed(stay, at=at, grades={code: grade}).then) for grade in range(5)]
    for worse, better in pairwise(bands):
        assert all(before <= after for before, after in zip(worse, better, strict=True))
    assert bands[0] != bands[4]


def test_repair_of_what_holds_the_condition_down_lifts_its_cap(fit: ModelFit, at: datetime) -> None:
    stay = build.consignment(State.ON_LOT, at=at)
    build.inspect(stay, at=at, seen=119, grade=4)
    now = what_if.situation_of(stay, today=trade_day(at))
    broken = what_if.supposed_row(now, plan=Plan(grades={CARRIES[0]: 0}))
    assert (broken["condition_low"], broken["condition_high"]) == (Decimal("35.0"), Decimal("35.0"))
    assert now.row["condition_high"] == Decimal("100.0")


def test_nothing_supposed_is_the_band_of_today(fit: ModelFit, stay: Consignment, at: datetime) -> None:
    found = supposed(stay, at=at)
    assert found.now == found.then
    assert found.gain == 0


def test_modification_undone_gives_the_band_before_it_was_added(fit: ModelFit, stay: Consignment, at: datetime) -> None:
    before = supposed(stay, at=at).now
    row = recording.add_modification(stay.pk, **HEADS, components=["heads"], by=build.BUILDER, at=at + timedelta(1))
    found = supposed(stay, at=at, undone=frozenset({row.pk}))
    assert found.then == before
    assert found.now != before


def test_modification_undone_and_added_again_gives_the_very_same_band(fit: ModelFit, at: datetime) -> None:
    stay = build.consignment(State.ON_LOT, at=at)
    row = recording.add_modification(stay.pk, **HEADS, components=["heads"], by=build.BUILDER, at=at)
    build.inspect(stay, at=at)
    again = Addition(kind="engine", fitting="bolt_on", component="heads")
    found = supposed(stay, at=at, undone=frozenset({row.pk}), added=[again])
    assert found.then == found.now
    undone = what_if.supposed_row(here(stay, at=at), plan=Plan(undone=frozenset({row.pk})))
    assert undone["originality_high"] > here(stay, at=at).row["originality_high"]
    assert undone["modifications"] == []


def test_modification_cut_into_a_part_costs_originality(fit: ModelFit, at: datetime) -> None:
    stay = build.consignment(State.INSPECTED, at=at)
    now = here(stay, at=at)
    rows = [
        what_if.supposed_row(now, plan=Plan(added=[Addition(kind="body", fitting=fitting, component="top")]))
        for fitting in ("bolt_on", "cut_or_welded")
    ]
    assert now.row["originality_high"] > rows[0]["originality_high"] > rows[1]["originality_high"]


def test_supposed_answers_are_what_an_inspection_with_them_comes_to(fit: ModelFit, at: datetime) -> None:
    stay = build.consignment(State.INSPECTED, at=at)
    plan = Plan(grades={list(CHECKS)[3]: 3}, standings={"engine": Standing.NON_ORIGINAL})
    row = what_if.supposed_row(here(stay, at=at), plan=plan)
    build.write_line(stay, at=at, standing="non_original")
    inspecting.begin_inspection(stay.pk, by=build.BUILDER, at=at)
    for code in list(CHECKS)[:4]:
        finding = Finding(check_code=code, grade=3, basis="seen")
        inspecting.record_check(stay.pk, finding=finding, by=build.BUILDER, at=at)
    inspecting.finish_inspection(stay.pk, by=build.BUILDER, at=at)
    assert row == here(stay, at=at).row


def test_missing_input_is_filled_in(fit: ModelFit, stay: Consignment, at: datetime) -> None:
    assert here(stay, at=at).missing == ("transmission", "title_brand", "odometer_status")
    found = supposed(stay, at=at, inputs={"odometer_status": "actual", "title_brand": "clean"}, cost=Decimal("120.00"))
    band = bridge.band_of(
        {**here(stay, at=at).row, "odometer_status": "actual", "title_brand": "clean"}, state=fit.learned
    )
    assert found.then is not None
    assert isinstance(band, bridge.Band)
    like = band.evidence["like"]  # a sum of weights: asked among others its last digit may be another
    assert found.then.evidence["like"] == pytest.approx(like, rel=1e-12)
    assert replace(found.then, evidence={**found.then.evidence, "like": like}) == band
    assert found.gain is not None
    assert found.left == found.gain - Decimal("120.00")


def test_without_an_inspection_only_what_applies_is_offered(fit: ModelFit, at: datetime) -> None:
    now = here(build.consignment(State.ON_LOT, at=at), at=at)
    assert not now.checks
    assert not now.components
    assert "No inspection is finished yet" in now.why_less
    assert ends(what_if.outcome_of(now, plan=Plan(inputs={"title_brand": "salvage"})).then) != ends(
        what_if.outcome_of(now, plan=Plan()).now
    )


def test_nothing_is_written(fit: ModelFit, stay: Consignment, at: datetime) -> None:
    before = LogEntry.objects.count()
    supposed(stay, at=at, grades={"front.hood": 0}, added=[Addition(kind="engine", fitting="bolt_on")])
    assert LogEntry.objects.count() == before
    assert not stay.vehicle.modifications.exists()


def test_without_a_fit_or_with_one_that_cannot_be_read_it_is_said(stay: Consignment, at: datetime) -> None:
    assert "not been fitted" in supposed(stay, at=at).problem
    ModelFit.objects.create(
        learned={"version": -1}, sales_used=1, sales_hash="", newest_outcome_id=0, by="tests", at=at
    )
    assert "another version" in supposed(stay, at=at).problem


def test_thin_evidence_is_said_once(fit: ModelFit, stay: Consignment, at: datetime) -> None:
    rows = sales_for_fit()[:11]
    few = bridge.learn(rows, prices=[row["effective_price"] for row in rows], coverage_percent=80)
    ModelFit.objects.create(learned=few.state, sales_used=11, sales_hash="", newest_outcome_id=0, by="tests", at=at)
    found = supposed(stay, at=at, grades={"front.hood": 4})
    assert found.now is found.then is None
    assert "Today, there is no band: there are 11 sales; a band needs 12." in found.problem
    assert (found.lines, found.gain, found.left, found.drawing) == ([], None, None, ())


def test_queries_are_as_many_whatever_is_supposed(fit: ModelFit, stay: Consignment, at: datetime) -> None:
    with CaptureQueriesContext(connection) as few:
        supposed(stay, at=at)
    rows = [recording.add_modification(stay.pk, **HEADS, components=["heads"], by=build.BUILDER, at=at) for _ in "abc"]
    build.inspect(stay, at=at, seen=60)
    with CaptureQueriesContext(connection) as many:
        supposed(
            stay, at=at, grades=dict.fromkeys(list(CHECKS)[:3], 4), undone=frozenset({rows[0].pk}),
            standings={"engine": "original"},
        )  # fmt: skip
    assert len(few) == len(many)
