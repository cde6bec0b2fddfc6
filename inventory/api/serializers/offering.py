"""Offers and their answers."""

from inventory.api.serializers.base import Day, Given, Money, Shown, Text, Word
from inventory.models import Offer, OfferAnswer
from inventory.rules.words import Answer


class AnswerShown(Shown):
    answer = Word(Answer)

    class Meta:
        model = OfferAnswer
        fields = ["id", "answer", "amount", "note", "by", "at"]
        read_only_fields = fields


class OfferShown(Shown):
    answers = AnswerShown(many=True)

    class Meta:
        model = Offer
        fields = [
            "id", "amount", "bidder", "contact", "conditions", "expires_on", "held_back", "note", "on", "answers", "by",
            "at",
        ]  # fmt: skip
        read_only_fields = fields


class OfferGiven(Given):
    amount = Money()
    bidder = Text(120)
    contact = Text(120, required=False)
    conditions = Text(300, required=False)
    expires_on = Day(required=False, allow_null=True, help_text="The last day on which it stands.")
    note = Text(200, required=False)
    on = Day(required=False)


class AnswerGiven(Given):
    answer = Word(Answer)
    amount = Money(required=False, allow_null=True, help_text="Of a counter offer.")
    note = Text(200, required=False)
