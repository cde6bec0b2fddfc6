"""Measured figures of a vehicle: what is written, and what it means."""

from typing import Any

from rest_framework import serializers

from inventory.api.serializers.base import Given, Shown, Text, Word
from inventory.models import DrivelineFigures, ElectricFigures, EngineFigures, TyreRecord
from inventory.rules.figure_ranges import DISPLACEMENTS, PRESSURE, RANGES
from inventory.rules.words import Basis, DisplacementUnit, DrivenAxle, FluidColour, FluidKind, TyrePosition

BACK = "Null or empty takes it back; left out, it stays as it was."


class MeaningShown(serializers.Serializer[Any]):
    of = serializers.CharField(help_text="The figure it is about.")
    text = serializers.CharField()
    unread = serializers.BooleanField(help_text="The text could not be read and is kept as written; `text` says why.")


class QuestionShown(serializers.Serializer[Any]):
    where = serializers.CharField()
    text = serializers.CharField()
    section = serializers.CharField(help_text="The published section, where there is one.")
    stops_drives = serializers.BooleanField()


class StatedShown(serializers.Serializer[Any]):
    name = serializers.CharField()
    label = serializers.CharField()  # type: ignore[assignment]
    shown = serializers.CharField(help_text="With its unit.")
    basis = serializers.CharField(help_text="Empty for the odometer, which is not recorded here.")
    by = serializers.CharField()
    at = serializers.DateTimeField(allow_null=True)
    meanings = MeaningShown(many=True)


class PartShown(serializers.Serializer[Any]):
    code = serializers.CharField()
    title = serializers.CharField()
    stated = StatedShown(many=True)
    also = MeaningShown(many=True, help_text="Meanings of figures that were not stated themselves.")
    questions = QuestionShown(many=True)
    note = serializers.CharField()


class FiguresShown(serializers.Serializer[Any]):
    """The figures as they count now. Questions block nothing; a licensed inspector or mechanic decides."""

    questions = QuestionShown(many=True, help_text="All that is asked; what stops drives comes first.")
    tyres = PartShown(many=True)
    axles = QuestionShown(many=True)
    engine = PartShown()
    driveline = PartShown()
    electrics = PartShown()
    odometer = PartShown()


class StatementGiven(Given):
    basis = Word(Basis)
    note = Text(200, required=False)
    client_key = serializers.UUIDField(required=False)


def _figure(name: str) -> serializers.Field[Any, Any, Any, Any]:
    """A figure that is not of a possible size is refused by the action, which names the range."""
    found = RANGES[name]
    told = f"{found.label}: {found.span}. {BACK}"
    if not found.places:
        return serializers.IntegerField(
            min_value=0, max_value=2**31 - 1, required=False, allow_null=True, help_text=told
        )  # fmt: skip
    return serializers.DecimalField(
        max_digits=12, decimal_places=found.places, required=False, allow_null=True, help_text=told
    )  # fmt: skip


class TyreGiven(StatementGiven):
    """What was read off one tyre. A text that cannot be read is kept as it was written."""

    position = Word(TyrePosition)
    size = Text(80, required=False, help_text=f"Such as P235/75R15. {BACK}")
    tin = Text(60, required=False, help_text=f"All of it, or its last group. {BACK}")
    rim = Text(40, required=False, help_text=f"Such as 15x7. {BACK}")
    all_four = serializers.BooleanField(required=False, help_text="Size and rim of the other three are the same.")


class EngineGiven(StatementGiven):
    bore_in = _figure("bore_in")
    stroke_in = _figure("stroke_in")
    cylinders = _figure("cylinders")
    stated_displacement = serializers.DecimalField(
        max_digits=12, decimal_places=2, required=False, allow_null=True,
        help_text=f"With its unit: {', '.join(found.span for found in DISPLACEMENTS.values())}. {BACK}",
    )  # fmt: skip
    displacement_unit = Word(DisplacementUnit, required=False, allow_null=True)
    compression_psi = serializers.ListField(
        child=serializers.DecimalField(max_digits=12, decimal_places=PRESSURE.places), required=False,
        help_text=f"Each cylinder in order: {PRESSURE.span}. {BACK}",
    )  # fmt: skip
    vacuum_inhg = _figure("vacuum_inhg")
    carburettor_cfm = _figure("carburettor_cfm")
    redline_rpm = _figure("redline_rpm")


class DrivelineGiven(StatementGiven):
    axle_ratio = _figure("axle_ratio")
    top_gear_ratio = _figure("top_gear_ratio")
    driven_axle = Word(DrivenAxle, required=False, allow_null=True)
    redline_rpm = _figure("redline_rpm")
    claimed_top_mph = _figure("claimed_top_mph")


class ElectricGiven(StatementGiven):
    system_volts = serializers.IntegerField(
        min_value=0, max_value=2**15 - 1, required=False, allow_null=True, help_text=f"6 or 12. {BACK}"
    )
    rest_volts = _figure("rest_volts")
    rest_hours = _figure("rest_hours")
    charging_volts = _figure("charging_volts")
    fluid_kind = Word(FluidKind, required=False, allow_null=True)
    fluid_colour = Word(FluidColour, required=False, allow_null=True)


class StatementShown(Shown):
    """One statement as it was written; what it did not say is null or empty."""

    basis = Word(Basis)
    taken_back = serializers.ListField(child=serializers.CharField())


_OF_ALL = ["taken_back", "basis", "note", "by", "at"]


class TyreShown(StatementShown):
    position = Word(TyrePosition)

    class Meta:
        model = TyreRecord
        fields = ["id", "position", *TyreRecord.FIGURES, *_OF_ALL]
        read_only_fields = fields


class EngineShown(StatementShown):
    displacement_unit = Word(DisplacementUnit, allow_blank=True)
    compression_psi = serializers.ListField(child=serializers.CharField())

    class Meta:
        model = EngineFigures
        fields = ["id", *EngineFigures.FIGURES, *_OF_ALL]
        read_only_fields = fields


class DrivelineShown(StatementShown):
    driven_axle = Word(DrivenAxle, allow_blank=True)

    class Meta:
        model = DrivelineFigures
        fields = ["id", *DrivelineFigures.FIGURES, *_OF_ALL]
        read_only_fields = fields


class ElectricShown(StatementShown):
    fluid_kind = Word(FluidKind, allow_blank=True)
    fluid_colour = Word(FluidColour, allow_blank=True)

    class Meta:
        model = ElectricFigures
        fields = ["id", *ElectricFigures.FIGURES, *_OF_ALL]
        read_only_fields = fields
