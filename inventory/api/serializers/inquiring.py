"""Inquiries and showings."""

from rest_framework import serializers

from inventory.api.serializers.base import Day, Given, RowId, Shown, Text, Word
from inventory.models import Inquiry, Showing
from inventory.rules.floor_words import InquiryAim
from inventory.rules.words import InquiryWay


class InquiryShown(Shown):
    way = Word(InquiryWay)
    aim = Word(InquiryAim)
    contact = serializers.UUIDField(source="contact.code", allow_null=True, default=None)

    class Meta:
        model = Inquiry
        fields = ["id", "way", "aim", "who", "contact", "about", "follow_up_on", "on", "by", "at"]
        read_only_fields = fields


class InquiryGiven(Given):
    way = Word(InquiryWay)
    aim = Word(InquiryAim, required=False)
    who = Text(120, required=False)
    phone = Text(40, required=False, help_text="With a name: the same number is the same contact.")
    email = serializers.EmailField(max_length=254, required=False, allow_blank=True)
    about = Text(200, required=False)
    follow_up_on = Day(required=False)
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
