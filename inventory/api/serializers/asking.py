"""The ask and its history."""

from typing import Any

from rest_framework import serializers

from inventory.api.serializers.base import Amount, Given, Money, Shown, Text, Version, Word
from inventory.models import AskChange
from inventory.rules.words import Objective

NOT_TOLD: dict[str, Any] = {"suggested": None, "objective": "", "suggested_because": "", "expected": {}}


class AskShown(Shown):
    """An ask and what was suggested; to a role that may not see the price band the suggestion comes out empty."""

    ask = Amount(source="amount")
    suggested = Amount(allow_null=True)
    objective = Word(Objective, allow_blank=True, read_only=True)
    expected = serializers.DictField(read_only=True, help_text="What was expected of this ask when it was set.")

    class Meta:
        model = AskChange
        fields = [
            "id", "ask", "reason", "on", "suggested", "objective", "suggested_because", "expected", "by", "at",
        ]  # fmt: skip
        read_only_fields = fields

    def to_representation(self, instance: AskChange) -> dict[str, Any]:
        shown: dict[str, Any] = super().to_representation(instance)
        return shown | NOT_TOLD if getattr(instance, "suggestion_hidden", False) else shown


class AskGiven(Given):
    version = Version(required=False)
    ask = Money()
    reason = Text(200, required=False)
