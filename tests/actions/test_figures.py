"""Figures are recorded as statements: who may, what is refused, what is logged, sent twice."""

import uuid
from datetime import datetime
from decimal import Decimal
from typing import Any

import pytest

from inventory.actions import figures, inspecting
from inventory.actions.figures import Measured
from inventory.errors import NotAllowed, Refused
from inventory.models import (
    Consignment,
    DrivelineFigures,
    ElectricFigures,
    EngineFigures,
    LogEntry,
    TyreRecord,
)
from inventory.rules.roles import Actor
from inventory.rules.wording import log_sentence
from tests import build

pytestmark = pytest.mark.django_db
RECORD: dict[str, Any] = {
    "engine": (figures.record_engine, EngineFigures, {"cylinders": 8}),
    "driveline": (figures.record_driveline, DrivelineFigures, {"axle_ratio": Decimal("3.73")}),
    "electric": (figures.record_electric, ElectricFigures, {"system_volts": 12}),
}


@pytest.fixture
def stay(at: datetime) -> Consignment:
    return build.consignment(at=at)


def seen(key: uuid.UUID | None = None, note: str = "", **given: Any) -> Measured:
    return Measured(figures=given, basis="seen", note=note, client_key=key)


def told() -> str:
    entry = LogEntry.objects.order_by("-pk")[0]
    return log_sentence(entry.action, data=entry.data)


def tyre(stay: Consignment, at: datetime, position: str = "left_front", **more: Any) -> TyreRecord:
    all_four = more.pop("all_four", False)
    return figures.record_tyre(
        stay.pk, position=position, measured=seen(**more), all_four=all_four, by=build.BUILDER, at=at
    )


def test_tyre_is_kept_as_written_and_logged(stay: Consignment, intake: Actor, at: datetime) -> None:
    measured = seen(size=" P235/75R15 ", tin="worn off")
    row = figures.record_tyre(stay.pk, position="left_front", measured=measured, by=intake, at=at)
    assert (row.size, row.tin, row.rim, row.basis, row.by) == ("P235/75R15", "worn off", "", "seen", "Sam Intake")
    assert row.inspection is None
    assert told() == "recorded the tyre, left front: size P235/75R15, TIN worn off (seen)"


@pytest.mark.parametrize("part", RECORD)
def test_part_is_kept_and_logged_at_the_open_walk(stay: Consignment, at: datetime, part: str) -> None:
    record, model, given = RECORD[part]
    walk = inspecting.begin_inspection(stay.pk, by=build.BUILDER, at=at)
    record(stay.pk, measured=seen(**given), by=build.BUILDER, at=at)
    row = model.objects.get()
    assert {name: getattr(row, name) for name in given} == given
    assert (row.inspection_id, row.vehicle_id) == (walk.pk, stay.vehicle_id)
    assert "(seen)" in told()


@pytest.mark.parametrize("part", RECORD)
def test_part_sent_twice_is_one_row(stay: Consignment, at: datetime, part: str) -> None:
    record, model, given = RECORD[part]
    key = uuid.uuid4()
    first, second = (record(stay.pk, measured=seen(key, **given), by=build.BUILDER, at=at) for _ in range(2))
    assert (first.pk, model.objects.count()) == (second.pk, 1)


def test_all_four_writes_size_and_rim_of_four_and_the_tin_of_one(stay: Consignment, at: datetime) -> None:
    key = uuid.uuid4()
    for _ in range(2):
        tyre(stay, at, key=key, size="P235/75R15", rim="15x7", tin="3107", all_four=True, note="all new")
    rows = {row.position: row for row in TyreRecord.objects.all()}
    assert sorted(rows) == ["left_front", "left_rear", "right_front", "right_rear"]
    assert {(row.size, row.rim) for row in rows.values()} == {("P235/75R15", "15x7")}
    assert [row.position for row in rows.values() if row.tin or row.note] == ["left_front"]
    assert LogEntry.objects.filter(action="inspection.tyre").count() == 4


@pytest.mark.parametrize(
    ("position", "given", "mend"),
    [("spare", {"size": "G78-15"}, "left_front, right_front"), ("left_front", {"tin": "3107"}, "its own TIN")],
)
def test_all_four_without_a_tyre_to_be_like_is_refused(
    stay: Consignment, at: datetime, position: str, given: dict[str, str], mend: str
) -> None:
    with pytest.raises(Refused) as caught:
        tyre(stay, at, position=position, all_four=True, **given)
    assert (caught.value.field, mend in caught.value.mend) == ("all_four", True)
    assert not TyreRecord.objects.exists()


def test_numbers_are_kept_as_decimals_and_whole_numbers(stay: Consignment, at: datetime) -> None:
    given = seen(
        bore_in=Decimal("4.03"), cylinders=Decimal(8), stated_displacement="350", displacement_unit="cu_in",
        compression_psi=["150", Decimal("148.5")],
    )  # fmt: skip
    figures.record_engine(stay.pk, measured=given, by=build.BUILDER, at=at)
    row = EngineFigures.objects.get()
    assert (row.bore_in, row.cylinders, row.stated_displacement) == (Decimal("4.0300"), 8, Decimal(350))
    assert row.compression_psi == ["150", "148.5"]
    assert "bore 4.03" in told()
    assert "compression 150 148.5" in told()


def test_figure_given_as_nothing_is_taken_back(stay: Consignment, at: datetime) -> None:
    tyre(stay, at, size="P235/75R15")
    row = tyre(stay, at, size="")
    assert row.taken_back == ["size"]
    assert told() == "recorded the tyre, left front: Size taken back (seen)"


def test_note_alone_is_a_statement(stay: Consignment, at: datetime) -> None:
    assert tyre(stay, at, note="no spare there").note == "no spare there"
    assert told() == "recorded the tyre, left front: a note (seen)"


def test_new_voltage_takes_back_the_hours_of_the_old_one(stay: Consignment, at: datetime) -> None:
    for given in ({"rest_volts": "12.5", "rest_hours": "12"}, {"rest_volts": "12.2"}):
        figures.record_electric(stay.pk, measured=seen(**given), by=build.BUILDER, at=at)
    assert [row.taken_back for row in ElectricFigures.objects.order_by("pk")] == [[], ["rest_hours"]]


@pytest.mark.parametrize(
    ("part", "given", "field", "text"),
    [
        ("engine", {"bore_in": Decimal(40)}, "bore_in", "Bore: 40 in cannot be. Give 1 to 8 in, such as 4.030."),
        ("engine", {"colour": "red"}, "colour", "colour is not known here."),
        ("engine", {"displacement_unit": "cc"}, "displacement_unit", "Give both together."),
        ("engine", {"stated_displacement": Decimal(350)}, "displacement_unit", "no unit of displacement"),
        ("engine", {"compression_psi": ["401"]}, "compression_psi", "401 psi cannot be."),
        ("electric", {"rest_hours": Decimal(3)}, "rest_hours", "Give both together."),
        ("electric", {"system_volts": 24}, "", "6 or 12 V"),
        ("driveline", {}, "axle_ratio", "No figure was given."),
    ],
)
def test_figure_that_cannot_be_is_refused_on_its_field_and_writes_nothing(
    stay: Consignment, at: datetime, part: str, given: dict[str, Any], field: str, text: str
) -> None:
    record, model, _ = RECORD[part]
    with pytest.raises(Refused) as caught:
        record(stay.pk, measured=seen(**given), by=build.BUILDER, at=at)
    assert (caught.value.field, text in str(caught.value)) == (field, True)
    assert not model.objects.exists()


def test_sales_staff_may_record_none(stay: Consignment, sales: Actor, at: datetime) -> None:
    with pytest.raises(NotAllowed):
        figures.record_tyre(stay.pk, position="spare", measured=seen(size="G78-15"), by=sales, at=at)
    for record, _, given in RECORD.values():
        with pytest.raises(NotAllowed):
            record(stay.pk, measured=seen(**given), by=sales, at=at)
