"""Inspections, checks and the component ledger."""

from rest_framework import serializers

from inventory.api.serializers.base import Given, Shown, Text, Word
from inventory.models import CheckResult, ComponentRecord, IntakeInspection
from inventory.rules.words import Basis, Standing, Verdict


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


class ComponentShown(Shown):
    standing = Word(Standing)
    basis = Word(Basis)
    as_built_basis = Word(Basis)

    class Meta:
        model = ComponentRecord
        fields = ["id", "component", "as_built", "as_built_basis", "as_found", "standing", "basis", "by", "at"]
        read_only_fields = fields


class ComponentGiven(Given):
    component = Text(40)
    standing = Word(Standing)
    basis = Word(Basis)
    as_found = Text(120, required=False)
    as_built = Text(120, required=False)
    as_built_basis = Word(Basis, required=False)
