"""Settlements and what was paid out."""

from typing import Any

from rest_framework import serializers

from inventory.api.serializers.base import Amount, Day, Given, Money, Shown, Text, Version, Word
from inventory.models import Disbursement
from inventory.rules.words import Payee, PaymentMethod


class LineShown(serializers.Serializer[Any]):
    kind = serializers.CharField()
    label = serializers.CharField()  # type: ignore[assignment]
    amount = Amount(help_text="From the consignor's side: what reduces the payment is negative.")


class SettlementShown(serializers.Serializer[Any]):
    """Lines that add up to `due` exactly; negative: the consignor owes it."""

    status = serializers.CharField(help_text="draft or approved.")
    number = serializers.CharField()
    on = serializers.DateField()
    due = Amount()
    lines = LineShown(many=True)
    pay_by = serializers.DateField(allow_null=True)
    left_to_consignor = Amount(allow_null=True, help_text="Not paid out yet, once approved.")
    left_to_lien_holder = Amount(allow_null=True)
    by = serializers.CharField()


class ApprovalGiven(Given):
    version = Version(required=False)
    expected_due = Money(min_value=None, help_text="The due amount of the draft that was looked at.")


class DisbursementShown(Shown):
    settlement = serializers.CharField(source="settlement.number")
    payee_kind = Word(Payee)
    method = Word(PaymentMethod)

    class Meta:
        model = Disbursement
        fields = ["id", "settlement", "payee_kind", "payee", "amount", "method", "reference", "on", "by", "at"]
        read_only_fields = fields


class DisbursementGiven(Given):
    payee_kind = Word(Payee)
    payee = Text(120)
    amount = Money()
    method = Word(PaymentMethod)
    reference = Text(60, required=False)
    on = Day(required=False)
