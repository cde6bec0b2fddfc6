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


class ChancesShown(serializers.Serializer[Any]):
    """Chances of a sale, 0 to 1, from today."""

    def get_fields(self) -> dict[str, Any]:
        """By day 30, 60 and 90, and by the end of the agreement; a day after the end is told for the end."""
        return {name: serializers.FloatField(min_value=0, max_value=1) for name in ("30", "60", "90", "end")}


class AskOfCurveShown(serializers.Serializer[Any]):
    """What may come of one ask. Without terms there is no net and no gross."""

    ask = Amount()
    ask_ratio = serializers.DecimalField(
        max_digits=12, decimal_places=4, read_only=True, help_text="ask ÷ likely price"
    )
    chance = ChancesShown()
    expected_price = Amount(allow_null=True, help_text="Where it sells.")
    consignor_net = Amount(allow_null=True, help_text="Mean over sales and no sale.")
    lot_gross = Amount(allow_null=True, help_text="Mean over sales and no sale, less the cost of its place.")


class SuggestedAskShown(serializers.Serializer[Any]):
    ask = Amount(allow_null=True, help_text="Null where none is suggested; `reason` says why.")
    objective = Word(Objective, read_only=True)
    reason = serializers.CharField()


class OpenQuestionShown(serializers.Serializer[Any]):
    question = serializers.CharField()
    worth = Amount(allow_null=True, help_text="How much narrower the band is to be expected once it is answered.")


class BandNowShown(serializers.Serializer[Any]):
    """The band after what the vehicle has shown."""

    low = Amount()
    likely = Amount()
    high = Amount()


class AskCurveShown(serializers.Serializer[Any]):
    """What may come of each ask, which one is suggested, and what to check next. Arithmetic: it decides nothing."""

    asks = AskOfCurveShown(many=True)
    suggested = SuggestedAskShown()
    check_next = OpenQuestionShown(many=True)
    band = BandNowShown()
    ask = Amount(allow_null=True, help_text="The ask that stands.")
    floor = Amount(allow_null=True)
    days_to_end = serializers.IntegerField()
    notes = serializers.ListField(child=serializers.CharField())
