"""What to check next, from a real stay: each worth is what pricing its answers one by one comes to."""

import csv
from datetime import datetime
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory import bridge
from inventory.actions import inspecting, pricing
from inventory.actions.importing import import_sales
from inventory.actions.inspecting import Finding
from inventory.actions.writing import trade_day
from inventory.models import Consignment, ModelFit
from inventory.queries import check_next
from inventory.queries.check_next import CheckNext, NextRow
from inventory.queries.history import sales_for_fit, subject
from inventory.queries.pricing_desk import stay_by_number
from inventory.queries.supposed import inspection_that_counts, supposed_of
from inventory.rules import scores
from inventory.rules.catalogue import CHECKS
from inventory.rules.roles import Actor
from inventory.rules.scores import FIRST_POLICY, Graded
from inventory.rules.states import State
from inventory.rules.unanswered import GRADE_PRIOR, STANDING_PRIOR, ends_of
from inventory.sheets import Options
from tests import build
from tests.actions.test_pricing import BOOK

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("learned_once")]


@pytest.fixture
def fit(owner: Actor, at: datetime) -> ModelFit:
    import_sales(BOOK, name=BOOK.name, options=Options(), by=owner, at=at)
    return pricing.fit_prices(by=owner, at=at, refits=0)


@pytest.fixture
def stay(at: datetime) -> Consignment:
    return build.consignment(State.INSPECTED, at=at)


def asked(stay: Consignment, *, fit: ModelFit, at: datetime) -> CheckNext:
    return check_next.of(stay_by_number(stay.stock_number), fit_state=fit.learned, today=trade_day(at))


def row_of(found: CheckNext, key: str) -> NextRow:
    return next(row for row in found.rows if row.question.key == key)


def width_of(stay: Consignment, *, fit: ModelFit, at: datetime, **changes: Any) -> Decimal:
    band = bridge.band_of({**subject(stay, on=trade_day(at)), **changes}, state=fit.learned)
    assert isinstance(band, bridge.Band)
    return band.high - band.low


def test_every_open_question_is_ranked_dearest_first(fit: ModelFit, stay: Consignment, at: datetime) -> None:
    found = asked(stay, fit=fit, at=at)
    keys = {row.question.key for row in found.rows}
    assert {"transmission", "title_brand", "odometer_status", "component engine", "check left_side.rocker"} <= keys
    assert not {"mileage", "body", "component frame", f"check {next(iter(CHECKS))}"} & keys  # known, or answered
    worths = [row.worth for row in found.rows if row.worth is not None]
    assert worths == sorted(worths, reverse=True)
    assert len(worths) == len(keys)
    assert found.width == width_of(stay, fit=fit, at=at)
    assert found.least_width is not None
    assert found.least_width < found.width
    assert [row.question.key for row in (*found.first, *found.rest)] == [row.question.key for row in found.rows]


def test_worth_of_a_check_is_that_of_its_grades_priced_one_by_one(
    fit: ModelFit, stay: Consignment, at: datetime
) -> None:
    """The lot has one finished inspection, of three checks graded 3: 3 and the counts beforehand of 10 make 13."""
    row = row_of(asked(stay, fit=fit, at=at), "check left_side.rocker")
    chances = {grade: Fraction(count + (3 if grade == 3 else 0), 13) for grade, count in GRADE_PRIOR.items()}
    seen = [Graded(code, "graded", 3, "seen") for code in list(CHECKS)[:3]]
    expected = Fraction(0)
    for grade, chance in chances.items():
        answered = [*seen, Graded("left_side.rocker", "graded", grade, "seen")]
        span = scores.condition(answered, policy=FIRST_POLICY, asked=_asked(stay))
        assert span is not None
        expected += chance * Fraction(width_of(stay, fit=fit, at=at, condition_low=span.low, condition_high=span.high))
    assert row.width is not None
    assert abs(Fraction(row.width) - expected) <= Fraction(1, 200)  # the half cent of rounding
    assert row.without_band == 0


def _asked(stay: Consignment) -> frozenset[str]:
    return frozenset(stay.inspections.get().asked)


def test_worth_of_a_missing_input_is_that_of_past_sales(fit: ModelFit, stay: Consignment, at: datetime) -> None:
    row = row_of(asked(stay, fit=fit, at=at), "title_brand")
    told = [sale["title_brand"] for sale in sales_for_fit() if sale["title_brand"]]
    widths = {brand: Fraction(width_of(stay, fit=fit, at=at, title_brand=brand)) for brand in set(told)}
    assert row.width is not None
    assert abs(Fraction(row.width) - sum(widths[brand] for brand in told) / len(told)) <= Fraction(1, 200)
    assert row.question.file


def test_what_was_answered_is_no_longer_asked(fit: ModelFit, stay: Consignment, at: datetime) -> None:
    before = asked(stay, fit=fit, at=at)
    build.inspect(stay, at=at, seen=20)
    after = asked(stay, fit=fit, at=at)
    assert len(after.rows) == len(before.rows) - 2 * 17
    assert after.width is not None
    assert before.width is not None
    assert after.width < before.width


def test_without_an_inspection_condition_and_originality_are_asked_as_a_whole(fit: ModelFit, at: datetime) -> None:
    stay = build.consignment(State.ON_LOT, at=at)
    found = asked(stay, fit=fit, at=at)
    assert {"condition", "originality"} <= {row.question.key for row in found.rows if row.question.walk}
    assert not [row for row in found.rows if row.question.station or row.question.component]
    assert found.inspection is None


def test_open_inspection_is_reckoned_as_it_stands(fit: ModelFit, at: datetime) -> None:
    stay = build.consignment(State.ON_LOT, at=at)
    inspecting.begin_inspection(stay.pk, by=build.BUILDER, at=at)
    for code in ("front.hood", "left_side.rocker"):
        inspecting.record_check(
            stay.pk, finding=Finding(check_code=code, grade=3, basis="seen"), by=build.BUILDER, at=at
        )
    open_ = asked(stay, fit=fit, at=at)
    assert open_.is_open
    inspecting.finish_inspection(stay.pk, by=build.BUILDER, at=at)
    stay.refresh_from_db()
    finished = asked(stay, fit=fit, at=at)
    assert not finished.is_open
    assert (open_.low, open_.likely, open_.high) == (finished.low, finished.likely, finished.high)
    assert {row.question.key for row in open_.rows} == {row.question.key for row in finished.rows}


def test_nothing_known_of_the_parts_still_asks_for_each(fit: ModelFit, at: datetime) -> None:
    stay = build.consignment(State.ON_LOT, at=at)
    inspecting.begin_inspection(stay.pk, by=build.BUILDER, at=at)
    finding = Finding(check_code="front.hood", grade=3, basis="seen")
    inspecting.record_check(stay.pk, finding=finding, by=build.BUILDER, at=at)
    inspecting.finish_inspection(stay.pk, by=build.BUILDER, at=at)
    assert row_of(asked(stay, fit=fit, at=at), "component engine").worth is not None


def test_fit_that_cannot_be_read_is_said(stay: Consignment, at: datetime) -> None:
    found = check_next.of(stay, fit_state={"version": -1}, today=trade_day(at))
    assert not found.rows
    assert "another version" in found.problem


def test_fit_of_too_few_sales_has_no_worths(stay: Consignment, owner: Actor, at: datetime) -> None:
    import_sales(BOOK, name=BOOK.name, options=Options(), by=owner, at=at)
    rows = sales_for_fit()[:11]
    learned = bridge.learn(rows, prices=[row["effective_price"] for row in rows], coverage_percent=80)
    found = check_next.of(stay, fit_state=learned.state, today=trade_day(at))
    assert found.width is None
    assert {row.worth for row in found.rows} == {None}
    assert {row.without_band for row in found.rows} == {100}


def test_input_that_no_past_sale_tells_is_listed_last_without_a_worth(
    owner: Actor, stay: Consignment, at: datetime, tmp_path: Path
) -> None:
    with BOOK.open() as book:
        rows = [{**row, "title_brand": ""} for row in csv.DictReader(book)]
    path = tmp_path / "untold.csv"
    with path.open("w", newline="") as untold:
        writer = csv.DictWriter(untold, fieldnames=list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
    import_sales(path, name=path.name, options=Options(), by=owner, at=at)
    found = asked(stay, fit=pricing.fit_prices(by=owner, at=at, refits=0), at=at)
    assert found.rows[-1].question.key == "title_brand"
    assert (found.rows[-1].worth, found.rows[-1].width) == (None, None)


def test_queries_are_as_many_however_much_is_open(fit: ModelFit, stay: Consignment, at: datetime) -> None:
    with CaptureQueriesContext(connection) as few:
        asked(stay, fit=fit, at=at)
    build.inspect(stay, at=at, seen=25)
    for _ in range(3):
        build.consignment(State.INSPECTED, at=at)
    with CaptureQueriesContext(connection) as many:
        asked(stay, fit=fit, at=at)
    assert len(few) == len(many)


def test_questions_taken_for_alike_come_to_the_same_figures(stay: Consignment, at: datetime) -> None:
    """Every open check and component reckoned by itself, though the page reckons those of one weight once."""
    build.recording.add_modification(
        stay.pk, kind="body", what="filled seams", fitting="bolt_on", basis="told",
        components=["hood", "badges", "top"], by=build.BUILDER, at=at,
    )  # fmt: skip
    build.inspect(stay, at=at, seen=2)
    inspection = inspection_that_counts(stay)
    assert inspection is not None
    supposed = supposed_of(inspection)
    for question, answers in check_next._questions(subject(stay, on=trade_day(at)), supposed=supposed):
        figure, _, code = question.key.partition(" ")
        if figure == "check":
            alone = [supposed.graded({code: grade}).interval("condition") for grade in GRADE_PRIOR]
            assert [one.changes for one in answers] == [ends_of(span, figure="condition") for span in alone]
        elif figure == "component":
            alone = [supposed.stood({code: standing}).interval("originality") for standing in STANDING_PRIOR]
            assert [one.changes for one in answers] == [ends_of(span, figure="originality") for span in alone]


def test_worth_of_a_component_is_that_of_its_standings(fit: ModelFit, stay: Consignment, at: datetime) -> None:
    """The lot has written three lines, all original: they and the counts beforehand of 10 make 13."""
    row = row_of(asked(stay, fit=fit, at=at), "component engine")
    inspection = inspection_that_counts(stay)
    assert inspection is not None
    expected = Fraction(0)
    for standing, count in STANDING_PRIOR.items():
        span = supposed_of(inspection).stood({"engine": standing}).interval("originality")
        width = width_of(stay, fit=fit, at=at, **ends_of(span, figure="originality"))
        expected += Fraction(count + (3 if standing == "original" else 0), 13) * Fraction(width)
    assert row.width is not None
    assert abs(Fraction(row.width) - expected) <= Fraction(1, 200)
