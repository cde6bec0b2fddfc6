"""The buyer's money."""

from rest_framework import serializers

from inventory.api.serializers.base import Day, Given, Money, Shown, Text, Word
from inventory.models import BuyerPayment
from inventory.rules.words import PaymentEvent, PaymentMethod


class PaymentShown(Shown):
    event = Word(PaymentEvent)
    method = Word(PaymentMethod)
    deal = serializers.IntegerField(source="deal_id")
    buyer = serializers.CharField(source="deal.buyer")
    of = serializers.IntegerField(source="of_id", allow_null=True, help_text="The receipt that this row is about.")

    class Meta:
        model = BuyerPayment
        fields = [
            "id", "deal", "buyer", "event", "of", "is_deposit", "amount", "method", "reference", "on", "by", "at",
        ]  # fmt: skip
        read_only_fields = fields


class PaymentGiven(Given):
    amount = Money()
    method = Word(PaymentMethod, required=False)
    reference = Text(60, required=False)
    on = Day(required=False)


class FateGiven(Given):
    event = Word(PaymentEvent, help_text="cleared, bounced or returned.")
    amount = Money(required=False, allow_null=True, help_text="Where only a part of what has cleared is returned.")
    on = Day(required=False)
