"""Settlements and what was paid out."""

from typing import Any

from rest_framework import serializers

from inventory.api.serializers.base import Amount, Day, Given, Money, Shown, Text, Version, Word
from inventory.models import Disbursement, Settlement
from inventory.rules.words import Payee, PaymentMethod


class DraftAsked(Given):
    pay_on = Day(required=False, help_text="The day on which it would be paid out; today, if no day is given.")


class LineShown(serializers.Serializer[Any]):
    kind = serializers.CharField()
    label = serializers.CharField()  # type: ignore[assignment]
    amount = Amount(help_text="From the consignor's side: what reduces the payment is negative.")
    vendor = serializers.CharField(help_text="Who is paid out of it, if not the lot.")


class PayeeShown(serializers.Serializer[Any]):
    kind = Word(Payee)
    name = serializers.CharField()
    amount = Amount()


class PayeeLeftShown(PayeeShown):
    left = Amount(allow_null=True, help_text="Not paid out yet, once approved.")


class ApprovalCheckShown(serializers.Serializer[Any]):
    what = serializers.CharField()
    is_right = serializers.BooleanField()
    detail = serializers.CharField()


class SettlementShown(serializers.Serializer[Any]):
    """Lines that add up to `due` exactly; negative: the consignor owes it."""

    status = serializers.CharField(help_text="draft, approved or reversal.")
    number = serializers.CharField()
    sequence = serializers.IntegerField(allow_null=True, help_text="Its place in the lot's own count of statements.")
    is_reversal = serializers.BooleanField()
    follows = serializers.CharField(help_text="The statement before it; empty in the first.")
    reason = serializers.CharField(help_text="Why the one before was taken back.")
    on = serializers.DateField()
    pay_on = serializers.DateField(allow_null=True)
    due = Amount()
    lines = LineShown(many=True)
    payees = PayeeLeftShown(many=True)
    checks = ApprovalCheckShown(many=True, help_text="What is looked at before a draft is approved.")
    pay_by = serializers.DateField(allow_null=True)
    left_to_consignor = Amount(allow_null=True, help_text="Not paid out yet, once approved.")
    left_to_lien_holder = Amount(allow_null=True)
    by = serializers.CharField()


class StatementShown(Shown):
    """A statement as it was approved, or one that takes another back."""

    follows = serializers.CharField(source="follows.number", default="", help_text="Empty in the first.")
    lines = LineShown(many=True)
    payees = PayeeShown(many=True)

    class Meta:
        model = Settlement
        fields = [
            "number", "sequence", "is_reversal", "follows", "reason", "on", "pay_on", "pay_by", "due", "lines",
            "payees", "by", "at",
        ]  # fmt: skip
        read_only_fields = fields


class ApprovalGiven(Given):
    version = Version(required=False)
    expected_due = Money(min_value=None, help_text="The due amount of the draft that was looked at.")
    pay_on = Day(required=False, help_text="The pay date of the draft; today, if no day is given.")


class ReversalGiven(Given):
    reason = Text(200)


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
