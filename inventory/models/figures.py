"""What was measured or read off a vehicle and needs more than a grade: tyres, engine, driveline, electrics.

A row is one statement: the figures that were read then, on one basis. The latest statement of each figure counts, so
a figure that was measured never lends its basis to one that was only told. `taken_back` names figures that no longer
count.
"""

from typing import Any

from django.db import models

from inventory.models.base import Appended
from inventory.models.fields import WordField, client_key_field, within
from inventory.models.inspections import IntakeInspection
from inventory.models.vehicles import Vehicle
from inventory.rules.figure_ranges import DISPLACEMENTS, RANGES, Range
from inventory.rules.words import Basis, DisplacementUnit, DrivenAxle, FluidColour, FluidKind, TyrePosition


def _figure(name: str) -> Any:
    """The column of a figure of the table of ranges; null means it was not read in this statement."""
    found = RANGES[name]
    if not found.places:
        return models.PositiveIntegerField(found.label.lower(), null=True, blank=True)
    digits = len(str(int(found.most))) + found.places
    return models.DecimalField(
        found.label.lower(), max_digits=digits, decimal_places=found.places, null=True, blank=True
    )


def _between(field: str, found: Range) -> models.Q:
    return models.Q(**{f"{field}__isnull": False, f"{field}__gte": found.least, f"{field}__lte": found.most})


def _possible(model: str, *, fields: tuple[str, ...]) -> list[models.CheckConstraint]:
    return [
        models.CheckConstraint(
            condition=models.Q(**{f"{field}__isnull": True}) | _between(field, RANGES[field]),
            name=f"{model}_{field}_is_possible",
            violation_error_message=f"{RANGES[field].label} must be {RANGES[field].span}.",
        )
        for field in fields
    ]


class Statement(Appended):
    """What every statement has: whose vehicle, at which walk, on what it rests, who and when."""

    FIGURES: tuple[str, ...] = ()

    vehicle = models.ForeignKey(Vehicle, on_delete=models.PROTECT, related_name="+")
    inspection = models.ForeignKey(IntakeInspection, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    basis = WordField(max_length=20, words=Basis)
    taken_back = models.JSONField(default=list, blank=True)
    note = models.CharField(max_length=200, blank=True)
    client_key = client_key_field()
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta(Appended.Meta):
        abstract = True


class TyreRecord(Statement):
    """A tyre as it stands at its place. What cannot be read is kept as it was written."""

    FIGURES = ("size", "tin", "rim")

    position = WordField(max_length=12, words=TyrePosition)
    size = models.CharField(max_length=80, blank=True)
    tin = models.CharField("TIN", max_length=60, blank=True)
    rim = models.CharField(max_length=40, blank=True)

    class Meta:
        constraints = [
            within("tyrerecord", field="position", allowed=TyrePosition.values),
            within("tyrerecord", field="basis", allowed=Basis.values),
        ]
        indexes = [models.Index(fields=["vehicle", "id"], name="tyre_by_vehicle")]

    def __str__(self) -> str:
        return f"tyre, {self.get_position_display()}: {self.size}"


class EngineFigures(Statement):
    FIGURES = (
        "bore_in", "stroke_in", "cylinders", "stated_displacement", "displacement_unit", "compression_psi",
        "vacuum_inhg", "carburettor_cfm", "redline_rpm",
    )  # fmt: skip

    bore_in = _figure("bore_in")
    stroke_in = _figure("stroke_in")
    cylinders = _figure("cylinders")
    stated_displacement = _figure("stated_displacement")
    displacement_unit = WordField(max_length=8, words=DisplacementUnit, blank=True)
    compression_psi = models.JSONField("compression", default=list, blank=True)  # one text a cylinder, in order
    vacuum_inhg = _figure("vacuum_inhg")
    carburettor_cfm = _figure("carburettor_cfm")
    redline_rpm = _figure("redline_rpm")

    class Meta:
        constraints = [
            within("enginefigures", field="basis", allowed=Basis.values),
            *_possible(
                "enginefigures",
                fields=("bore_in", "stroke_in", "cylinders", "vacuum_inhg", "carburettor_cfm", "redline_rpm"),
            ),
            models.CheckConstraint(
                condition=models.Q(
                    models.Q(stated_displacement__isnull=True, displacement_unit=""),
                    *(
                        models.Q(displacement_unit=unit) & _between("stated_displacement", found)
                        for unit, found in DISPLACEMENTS.items()
                    ),
                    _connector=models.Q.OR,
                ),
                name="enginefigures_displacement_is_possible",
                violation_error_message="A stated displacement has a unit, and is one an engine can have.",
            ),
        ]
        indexes = [models.Index(fields=["vehicle", "id"], name="engine_by_vehicle")]

    def __str__(self) -> str:
        return f"engine figures of {self.vehicle_id}"


class DrivelineFigures(Statement):
    FIGURES = ("axle_ratio", "top_gear_ratio", "driven_axle", "redline_rpm", "claimed_top_mph")

    axle_ratio = _figure("axle_ratio")
    top_gear_ratio = _figure("top_gear_ratio")
    driven_axle = WordField(max_length=8, words=DrivenAxle, blank=True)
    redline_rpm = _figure("redline_rpm")
    claimed_top_mph = _figure("claimed_top_mph")

    class Meta:
        constraints = [
            within("drivelinefigures", field="basis", allowed=Basis.values),
            within("drivelinefigures", field="driven_axle", allowed=["", *DrivenAxle.values]),
            *_possible(
                "drivelinefigures", fields=("axle_ratio", "top_gear_ratio", "redline_rpm", "claimed_top_mph")
            ),
        ]  # fmt: skip
        indexes = [models.Index(fields=["vehicle", "id"], name="driveline_by_vehicle")]

    def __str__(self) -> str:
        return f"driveline figures of {self.vehicle_id}"


class ElectricFigures(Statement):
    FIGURES = ("system_volts", "rest_volts", "rest_hours", "charging_volts", "fluid_kind", "fluid_colour")

    system_volts = models.PositiveSmallIntegerField("system", null=True, blank=True)
    rest_volts = _figure("rest_volts")
    rest_hours = _figure("rest_hours")
    charging_volts = _figure("charging_volts")
    fluid_kind = WordField("brake fluid", max_length=8, words=FluidKind, blank=True)
    fluid_colour = WordField("colour of the brake fluid", max_length=16, words=FluidColour, blank=True)

    class Meta:
        constraints = [
            within("electricfigures", field="basis", allowed=Basis.values),
            within("electricfigures", field="fluid_kind", allowed=["", *FluidKind.values]),
            within("electricfigures", field="fluid_colour", allowed=["", *FluidColour.values]),
            *_possible("electricfigures", fields=("rest_volts", "rest_hours", "charging_volts")),
            models.CheckConstraint(
                condition=models.Q(system_volts__isnull=True) | models.Q(system_volts__in=[6, 12]),
                name="electricfigures_system_is_6_or_12",
                violation_error_message="The system has 6 or 12 V.",
            ),
            models.CheckConstraint(
                condition=models.Q(rest_hours__isnull=True) | models.Q(rest_volts__isnull=False),
                name="electricfigures_hours_have_volts",
                violation_error_message="Hours at rest belong to a voltage; give both.",
            ),
        ]
        indexes = [models.Index(fields=["vehicle", "id"], name="electric_by_vehicle")]

    def __str__(self) -> str:
        return f"electric figures of {self.vehicle_id}"
