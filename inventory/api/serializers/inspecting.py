"""Inspections and their checks."""

from rest_framework import serializers

from inventory.api.serializers.base import Given, Shown, Text, Word
from inventory.models import CheckResult, IntakeInspection
from inventory.rules.words import Basis, Verdict


class InspectionShown(Shown):
    policy = serializers.IntegerField(source="policy.number", help_text="Version of the weights.")

    class Meta:
        model = IntakeInspection
        fields = [
            "number", "policy", "begun_at", "begun_by", "finished_at", "finished_by", "condition_low",
            "condition_high", "originality_low", "originality_high", "note",
        ]  # fmt: skip
        read_only_fields = fields


class CheckShown(Shown):
    inspection = serializers.IntegerField(source="inspection.number")
    verdict = Word(Verdict)
    basis = Word(Basis)
    grade = serializers.IntegerField(allow_null=True)

    class Meta:
        model = CheckResult
        fields = ["id", "inspection", "check_code", "verdict", "grade", "basis", "reading", "unit", "note", "by", "at"]
        read_only_fields = fields


class CheckGiven(Given):
    """What one check found; the latest result of a check counts."""

    check_code = Text(60)
    verdict = Word(Verdict, required=False)
    grade = serializers.IntegerField(min_value=0, max_value=4, required=False, allow_null=True)
    basis = Word(Basis)
    reading = serializers.DecimalField(max_digits=10, decimal_places=3, required=False, allow_null=True)
    note = Text(500, required=False)
    client_key = serializers.UUIDField(required=False)
