"""Inquiries and showings."""

from rest_framework import serializers

from inventory.api.serializers.base import Day, Given, RowId, Shown, Text, Word
from inventory.models import Inquiry, Showing
from inventory.rules.words import InquiryWay


class InquiryShown(Shown):
    way = Word(InquiryWay)

    class Meta:
        model = Inquiry
        fields = ["id", "way", "who", "about", "on", "by", "at"]
        read_only_fields = fields


class InquiryGiven(Given):
    way = Word(InquiryWay)
    who = Text(120, required=False)
    about = Text(200, required=False)
    on = Day(required=False)


class ShowingShown(Shown):
    inquiry = serializers.IntegerField(source="inquiry_id", allow_null=True)

    class Meta:
        model = Showing
        fields = ["id", "inquiry", "who", "note", "on", "by", "at"]
        read_only_fields = fields


class ShowingGiven(Given):
    inquiry = RowId(source="inquiry_id", required=False, help_text="The inquiry it came of.")
    who = Text(120, required=False)
    note = Text(200, required=False)
    on = Day(required=False)
