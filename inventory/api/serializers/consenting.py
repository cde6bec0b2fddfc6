"""Questions between lot and consignor, and their answers."""

from rest_framework import serializers

from inventory.api.serializers.base import Day, Given, Money, Shown, Text, Word
from inventory.models import ConsentAnswer, ConsentRequest, ConsignorQuestion, QuestionAnswer
from inventory.rules.words import ChargeKind, ConsentKind, ConsentResult


class ConsentAnswerShown(Shown):
    result = Word(ConsentResult)

    class Meta:
        model = ConsentAnswer
        fields = ["result", "given_by", "how", "text", "by", "at"]
        read_only_fields = fields


class ConsentRequestShown(Shown):
    """A question to the consignor. What is asked takes effect with the answer *agreed*, never before."""

    kind = Word(ConsentKind)
    charge_kind = Word(ChargeKind, allow_blank=True)
    terms = serializers.IntegerField(
        source="terms.number", default=None, allow_null=True, help_text="The version of the terms that is asked about."
    )
    answer = ConsentAnswerShown(allow_null=True)

    class Meta:
        model = ConsentRequest
        fields = [
            "id", "kind", "text", "amount", "terms", "charge_kind", "what", "vendor", "answer_by", "answer", "by", "at",
        ]  # fmt: skip
        read_only_fields = fields


class ConsentRequestGiven(Given):
    """What to ask. The text is worded by the house; about terms it asks of the newest version."""

    kind = Word(ConsentKind)
    amount = Money(required=False, allow_null=True, help_text="Of anything but terms.")
    what = Text(200, required=False, help_text="What for, of a charge or of money off.")
    charge_kind = Word(ChargeKind, required=False, allow_blank=True)
    vendor = Text(120, required=False, help_text="Who is to be paid for the charge, if not the lot.")
    answer_by = Day(required=False, allow_null=True)


class ConsentAnswerGiven(Given):
    """What the consignor said on paper or by phone."""

    agreed = serializers.BooleanField()
    given_by = Text(120)
    how = Text(120)


class QuestionAnswerShown(Shown):
    class Meta:
        model = QuestionAnswer
        fields = ["text", "by", "at"]
        read_only_fields = fields


class ConsignorQuestionShown(Shown):
    answer = QuestionAnswerShown(allow_null=True)

    class Meta:
        model = ConsignorQuestion
        fields = ["id", "text", "answer", "at"]
        read_only_fields = fields


class QuestionAnswerGiven(Given):
    text = Text(2000)
