"""Lines of the ledger are written and stay; what they rest on is said; build dates too."""

import uuid
from datetime import date, datetime
from decimal import Decimal
from typing import Any

import pytest

from inventory.actions import inspecting, ledger
from inventory.actions.ledger import Built, Line
from inventory.errors import NotAllowed, Refused, TooLate
from inventory.models import BuildDate, ComponentRecord, Consignment, LogEntry
from inventory.queries.ledger import ledger_of
from inventory.rules.roles import Actor
from inventory.rules.wording import log_sentence
from tests import build

pytestmark = pytest.mark.django_db
DAY = date(1967, 3, 14)
WHOLE = Line(
    component="engine", standing="original", basis="seen", as_found=" straight six ", as_built="4.2 six",
    as_built_basis="documented", number=" 3A-77120 ", number_basis="measured", date_code="C147", earliest_on=DAY,
    latest_on=DAY, date_basis="measured", note="pad clean",
)  # fmt: skip


@pytest.fixture
def stay(at: datetime) -> Consignment:
    return build.consignment(at=at)


def test_line_is_kept_as_said_and_logged(stay: Consignment, intake: Actor, at: datetime) -> None:
    row = ledger.record_component(stay.pk, line=WHOLE, by=intake, at=at)
    row.refresh_from_db()
    assert (row.as_found, row.number, row.number_basis) == ("straight six", "3A-77120", "measured")
    assert (row.date_code, row.earliest_on, row.latest_on, row.date_basis) == ("C147", DAY, DAY, "measured")
    assert (row.as_built, row.as_built_basis, row.note, row.by) == ("4.2 six", "documented", "pad clean", "Sam Intake")
    entry = LogEntry.objects.latest("pk")
    assert log_sentence(entry.action, data=entry.data) == "recorded Engine block and number: original (seen)"


def test_as_built_alone_fills_nothing_else(stay: Consignment, intake: Actor, at: datetime) -> None:
    line = Line(component="engine", as_built="4.2 six", as_built_basis="documented")
    row = ledger.record_component(stay.pk, line=line, by=intake, at=at)
    assert (row.as_built, row.as_found, row.number, row.standing) == ("4.2 six", "", "", "not_established")


def test_latest_line_counts_and_the_earlier_stays(stay: Consignment, intake: Actor, at: datetime) -> None:
    for standing in ("original", "reproduction"):
        ledger.record_component(stay.pk, line=Line(component="hood", standing=standing, basis="seen"), by=intake, at=at)
    assert ComponentRecord.objects.count() == 2
    assert ledger_of(stay.vehicle_id).records["hood"].standing == "reproduction"


def test_line_sent_twice_is_one_line(stay: Consignment, intake: Actor, at: datetime) -> None:
    line = Line(component="hood", standing="original", basis="seen", after=0, client_key=uuid.UUID(int=4))
    rows = [ledger.record_component(stay.pk, line=line, by=intake, at=at) for _ in range(2)]
    assert rows[0].pk == rows[1].pk
    assert ComponentRecord.objects.count() == 1


def test_line_that_came_in_between_is_not_written_over(
    stay: Consignment, intake: Actor, owner: Actor, at: datetime
) -> None:
    first = ledger.record_component(stay.pk, line=Line(component="hood", after=0), by=intake, at=at)
    ledger.record_component(
        stay.pk, line=Line(component="hood", standing="original", basis="seen", after=first.pk), by=owner, at=at
    )
    late = Line(component="hood", standing="missing", basis="seen", after=first.pk)
    with pytest.raises(TooLate, match="Sam Owner wrote a line of this component since you looked: original"):
        ledger.record_component(stay.pk, line=late, by=intake, at=at)
    ledger.record_component(stay.pk, line=Line(component="doors", after=0), by=intake, at=at)  # another component


@pytest.mark.parametrize(
    ("said", "code", "field"),
    [
        ({"component": "wings"}, "no_such_component", "component"),
        ({"component": "outer_panels"}, "no_such_component", "component"),  # of an earlier table: read, not written
        ({"number": "77"}, "basis_missing", "number_basis"),
        ({"number": "  ", "number_basis": "seen"}, "basis_of_nothing", "number_basis"),
        ({"date_code": "C147"}, "basis_missing", "date_basis"),
        ({"earliest_on": DAY, "latest_on": DAY}, "basis_missing", "date_basis"),
        ({"date_basis": "seen"}, "basis_of_nothing", "date_basis"),
        ({"earliest_on": DAY, "date_basis": "seen"}, "half_a_span", "earliest_on"),
        ({"earliest_on": DAY, "latest_on": date(1967, 1, 1), "date_basis": "seen"}, "span_upside_down", "earliest_on"),
        (
            {"earliest_on": date(2026, 3, 17), "latest_on": date(2026, 3, 31), "date_basis": "seen"},
            "date_future", "earliest_on",
        ),
        ({"not_fitted": True, "standing": "original"}, "never_had_one", "not_fitted"),
        ({"not_fitted": True, "as_found": "a later one"}, "never_had_one", "not_fitted"),
        ({"not_fitted": True, "number": "77", "number_basis": "seen"}, "never_had_one", "not_fitted"),
        ({"standing": "nice"}, "invalid", "standing"),
        ({"number": "7" * 61, "number_basis": "seen"}, "invalid", "number"),
    ],
)  # fmt: skip
def test_line_that_makes_no_sense_is_refused_on_its_field(
    stay: Consignment, intake: Actor, at: datetime, said: dict[str, Any], code: str, field: str
) -> None:
    with pytest.raises(Refused) as refusal:
        ledger.record_component(stay.pk, line=Line(**{"component": "top", **said}), by=intake, at=at)
    assert (refusal.value.code, refusal.value.field) == (code, field)
    assert not ComponentRecord.objects.exists()


def test_part_that_cannot_be_original_is_accepted_and_told(stay: Consignment, intake: Actor, at: datetime) -> None:
    build.built(stay, at=at, first="1967-02")
    ledger.record_component(stay.pk, line=WHOLE, by=intake, at=at)
    (told,) = ledger_of(stay.vehicle_id).disagreements.contradictions
    assert told.startswith("Engine block and number: recorded as original. It cannot have been fitted at the factory.")


def test_what_the_vehicle_never_had_leaves_the_weighing_of_the_walk(
    stay: Consignment, intake: Actor, at: datetime
) -> None:
    """Only the frame (7 of 100) is known: 7 to 100. Without transfer case and top (3) it is 7 ÷ 97 = 7.2."""
    inspecting.begin_inspection(stay.pk, by=intake, at=at)
    finding = inspecting.Finding(check_code="front.hood", grade=3, basis="seen")
    inspecting.record_check(stay.pk, finding=finding, by=intake, at=at)
    build.write_line(stay, at=at, component="frame")
    for component in ("transfer_case", "top"):
        line = Line(component=component, basis="seen", not_fitted=True)
        ledger.record_component(stay.pk, line=line, by=intake, at=at)
    walk = inspecting.finish_inspection(stay.pk, by=intake, at=at)
    assert (walk.originality_low, walk.originality_high) == (Decimal("7.2"), Decimal("100.0"))
    entry = LogEntry.objects.filter(action="inspection.component").latest("pk")
    assert log_sentence(entry.action, data=entry.data) == "recorded Top: never had one (seen)"


def test_latest_build_date_counts(stay: Consignment, intake: Actor, at: datetime) -> None:
    build.built(stay, at=at, first="1967", basis="documented")
    build.built(stay, at=at, first="1967-05", last="1967-06")
    assert ledger_of(stay.vehicle_id).built == "1967-05 to 1967-06"
    assert BuildDate.objects.count() == 2
    entry = LogEntry.objects.latest("pk")
    said = "recorded that it was built 1967-05 to 1967-06 (seen): stamp on the cowl"
    assert log_sentence(entry.action, data=entry.data) == said


def built(**changes: Any) -> Built:
    given = {"earliest_on": DAY, "latest_on": DAY, "basis": "seen", "source": "cowl"}
    return Built(**{**given, **changes})


def test_build_date_sent_twice_is_one(stay: Consignment, intake: Actor, at: datetime) -> None:
    said = built(client_key=uuid.UUID(int=9))
    rows = [ledger.record_build_date(stay.pk, built=said, by=intake, at=at) for _ in range(2)]
    assert rows[0].pk == rows[1].pk


@pytest.mark.parametrize(
    ("changes", "code", "field"),
    [
        ({"latest_on": date(1967, 1, 1)}, "span_upside_down", "earliest_on"),
        ({"earliest_on": date(2026, 3, 17), "latest_on": date(2026, 3, 17)}, "date_future", "earliest_on"),
        ({"source": "  "}, "invalid", "source"),
        ({"basis": "not_established"}, "invalid", ""),
    ],
)
def test_build_date_that_makes_no_sense_is_refused(
    stay: Consignment, intake: Actor, at: datetime, changes: dict[str, Any], code: str, field: str
) -> None:
    with pytest.raises(Refused) as refusal:
        ledger.record_build_date(stay.pk, built=built(**changes), by=intake, at=at)
    assert (refusal.value.code, refusal.value.field) == (code, field)
    assert not BuildDate.objects.exists()


def test_sales_staff_write_no_ledger(stay: Consignment, sales: Actor, at: datetime) -> None:
    with pytest.raises(NotAllowed):
        ledger.record_component(stay.pk, line=WHOLE, by=sales, at=at)
    with pytest.raises(NotAllowed):
        ledger.record_build_date(stay.pk, built=built(), by=sales, at=at)
