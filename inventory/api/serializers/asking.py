"""The ask and its history."""

from inventory.api.serializers.base import Amount, Given, Money, Shown, Text, Version
from inventory.models import AskChange


class AskShown(Shown):
    ask = Amount(source="amount")

    class Meta:
        model = AskChange
        fields = ["id", "ask", "reason", "on", "by", "at"]
        read_only_fields = fields


class AskGiven(Given):
    version = Version(required=False)
    ask = Money()
    reason = Text(200, required=False)
