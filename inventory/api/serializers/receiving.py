"""Arrival receipts: what is known of each; the papers themselves are PDFs."""

from rest_framework import serializers

from inventory.api.serializers.base import Shown
from inventory.models import ArrivalReceipt
from inventory.queries.receipts import file_name


class ReceiptShown(Shown):
    signed = serializers.BooleanField(help_text="By both sides.")
    replaced = serializers.BooleanField(help_text="A later receipt stands in its place.")
    file_name = serializers.SerializerMethodField()

    class Meta:
        model = ArrivalReceipt
        fields = ["code", "number", "at", "signed", "replaced", "file_name"]
        read_only_fields = fields

    def get_file_name(self, row: ArrivalReceipt) -> str:
        return file_name(row)
