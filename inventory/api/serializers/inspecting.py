"""Inspections, their checks, and what belongs to a walk beside them."""

from typing import Any

from rest_framework import serializers
from rest_framework.exceptions import ErrorDetail, ValidationError

from inventory.api.serializers.base import Given, Shown, Text, Word
from inventory.models import CheckResult, FlagClearance, IntakeInspection, LateTap, StationVisit, VehicleFeature
from inventory.queries.flags import flag_of_result
from inventory.rules.catalogue import Feature
from inventory.rules.walk import Rest
from inventory.rules.words import Basis, EngineState, Verdict

MOST_FINDINGS = 100


class InspectionShown(Shown):
    policy = serializers.IntegerField(source="policy.number", help_text="Version of the weights.")

    class Meta:
        model = IntakeInspection
        fields = [
            "number", "policy", "begun_at", "begun_by", "finished_at", "finished_by", "condition_low",
            "condition_high", "originality_low", "originality_high", "note",
        ]  # fmt: skip
        read_only_fields = fields


class CheckFlagShown(serializers.Serializer[Any]):
    """What an answer says against the published limits; null where it says nothing. A person decides."""

    message = serializers.CharField()
    section = serializers.CharField(help_text="The published section.")
    stops_drives = serializers.BooleanField(help_text="Of brakes, steering or tyres.")

    def to_representation(self, instance: Any) -> Any:
        flag = flag_of_result(instance)
        return None if flag is None else super().to_representation(flag)


class CheckShown(Shown):
    inspection = serializers.IntegerField(source="inspection.number")
    verdict = Word(Verdict)
    basis = Word(Basis)
    grade = serializers.IntegerField(allow_null=True)
    flag = CheckFlagShown(source="*", read_only=True, allow_null=True)

    class Meta:
        model = CheckResult
        fields = [
            "id", "inspection", "check_code", "verdict", "grade", "basis", "reading", "unit", "compared_with", "flag",
            "note", "told_at", "device", "by", "at",
        ]  # fmt: skip
        read_only_fields = fields


class GradeGiven(serializers.IntegerField):
    """A grade is a whole number of JSON: "3", 3.0 and true are not."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(min_value=0, max_value=4, **kwargs)

    def to_internal_value(self, data: Any) -> int:
        if isinstance(data, bool) or not isinstance(data, int):
            self.fail("invalid")
        return super().to_internal_value(data)


class FindingGiven(Given):
    """What one check found: a grade, or the verdict that says why there is none."""

    check_code = Text(60)
    verdict = Word(Verdict, required=False)
    grade = GradeGiven(required=False, allow_null=True)
    basis = Word(Basis)
    reading = serializers.DecimalField(max_digits=10, decimal_places=3, required=False, allow_null=True)
    compared_with = serializers.DecimalField(
        max_digits=10, decimal_places=3, min_value=0, required=False, allow_null=True,
        help_text="The figure that the reading's limit depends on, where it does: see `questions`.",
    )  # fmt: skip
    note = Text(500, required=False)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        verdict, grade = attrs.get("verdict", Verdict.GRADED), attrs.get("grade")
        if verdict == Verdict.GRADED and grade is None:
            raise _wrong("grade", "Give a grade from 0 to 4, or the verdict that says why there is none.", "required")
        if verdict != Verdict.GRADED and grade is not None:
            raise _wrong("grade", f"A check that is {Verdict(verdict).label} has no grade, and {grade} was given.")
        if verdict == Verdict.NOT_SEEN and attrs.get("reading") is not None:
            raise _wrong("reading", "A reading was given, so it was seen. Grade it, or take the reading out.")
        return attrs


def _wrong(field: str, said: str, code: str = "contradiction") -> ValidationError:
    return ValidationError({field: [ErrorDetail(said, code)]})


class CheckGiven(FindingGiven):
    """What one check found; of two answers the one told later counts."""

    client_key = serializers.UUIDField(required=False)


class StationGiven(Given):
    """All of it is written, or nothing. To be sent again it needs an Idempotency-Key."""

    station = Text(40)
    findings = FindingGiven(many=True, required=False, max_length=MOST_FINDINGS)  # type: ignore[call-arg]
    rest = Word(Rest, required=False, allow_blank=True, help_text="What one tap says of the checks left here.")

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if not attrs.get("findings") and not attrs.get("rest"):
            raise _wrong("findings", "Give what was found, or what `rest` says of the station.", "required")
        return attrs


class FeatureLineShown(serializers.Serializer[Any]):
    feature = Word(Feature)
    label = serializers.CharField(source="feature.label")  # type: ignore[assignment]
    present = serializers.BooleanField(allow_null=True, help_text="Null: nobody said, so it narrows nothing.")


class FeaturesShown(serializers.Serializer[Any]):
    """Everything that decides which questions are asked."""

    features = FeatureLineShown(many=True)


class FeatureShown(Shown):
    feature = Word(Feature)

    class Meta:
        model = VehicleFeature
        fields = ["id", "feature", "present", "by", "at"]
        read_only_fields = fields


class FeatureGiven(Given):
    feature = Word(Feature)
    present = serializers.BooleanField()
    client_key = serializers.UUIDField(required=False)


class VisitShown(Shown):
    inspection = serializers.IntegerField(source="inspection.number")
    engine = Word(EngineState)

    class Meta:
        model = StationVisit
        fields = ["id", "inspection", "station", "engine", "by", "at"]
        read_only_fields = fields


class VisitGiven(Given):
    station = Text(40)
    engine = Word(EngineState)
    client_key = serializers.UUIDField(required=False)


class ClearanceShown(Shown):
    class Meta:
        model = FlagClearance
        fields = ["key", "flag", "reason", "by", "at"]
        read_only_fields = fields


class ClearanceGiven(Given):
    reason = Text(500, help_text="What was done, by whom, on which date; or why the reading does not apply.")


class FlagShown(serializers.Serializer[Any]):
    key = serializers.CharField(help_text="Names the answer or figure that raised it: a new one raises its own.")
    where = serializers.CharField()
    message = serializers.CharField()
    section = serializers.CharField(help_text="The published section.")
    grave = serializers.BooleanField(help_text="Of brakes, steering or tyres.")
    open = serializers.BooleanField(source="is_open")
    stops_drives = serializers.BooleanField(help_text="Open and grave: nobody drives it.")
    check_code = serializers.CharField(help_text="Empty for a measured figure.")
    by = serializers.CharField(help_text="Whoever gave the answer; empty for a measured figure.")
    at = serializers.DateTimeField(allow_null=True)
    clearance = ClearanceShown(allow_null=True)


class FlagsShown(serializers.Serializer[Any]):
    """Open flags and what stops drives first. A licensed inspector or mechanic decides."""

    flags = FlagShown(many=True)


class LateTapShown(Shown):
    inspection = serializers.IntegerField(source="inspection.number")

    class Meta:
        model = LateTap
        fields = ["id", "inspection", "said", "told_at", "by", "at"]
        read_only_fields = fields
