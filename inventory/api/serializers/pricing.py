"""Price opinions and the fits they came from."""

from typing import Any

from rest_framework import serializers

from inventory.api.serializers.base import Amount, Shown
from inventory.models import ModelFit, PriceOpinion


class OpinionShown(Shown):
    """A price band as it was given: an estimate for setting an ask, not an appraisal."""

    fit = serializers.IntegerField(source="fit_id")
    inputs = serializers.DictField()
    parts = serializers.ListField(child=serializers.DictField(), help_text="They add up to `likely` exactly.")
    evidence = serializers.DictField()
    notes = serializers.ListField(child=serializers.CharField())

    class Meta:
        model = PriceOpinion
        fields = [
            "id", "fit", "low", "likely", "high", "coverage_percent", "parts", "evidence", "notes", "inputs", "by",
            "at",
        ]  # fmt: skip
        read_only_fields = fields


class FitShown(Shown):
    summary = serializers.DictField()

    class Meta:
        model = ModelFit
        fields = ["id", "sales_used", "sales_hash", "newest_outcome_id", "summary", "by", "at"]
        read_only_fields = fields


class GridLineShown(serializers.Serializer[Any]):
    """One input of the grid: the amount that brings each sale to the vehicle, in the order of the sales."""

    name = serializers.CharField()
    label = serializers.CharField()  # type: ignore[assignment]
    subject = serializers.CharField(allow_blank=True, help_text="What the vehicle is; empty for a combination.")
    told = serializers.SerializerMethodField(help_text="What each sale is.")
    amounts = serializers.SerializerMethodField(help_text="Below zero where the sale had the better of the two.")

    def get_told(self, line: Any) -> list[str]:
        return [cell.told for cell in line.cells]

    def get_amounts(self, line: Any) -> list[str]:
        return [str(cell.amount) for cell in line.cells]


class ComparableShown(serializers.Serializer[Any]):
    """One sale of the grid: `sale_price` and the amounts of the lines add up to `adjusted_price` exactly."""

    outcome = serializers.IntegerField(allow_null=True, help_text="Empty for a sale elsewhere.")
    elsewhere = serializers.IntegerField(allow_null=True, help_text="A sale elsewhere; empty for one of the lot's own.")
    stock_number = serializers.CharField(allow_blank=True)
    vehicle = serializers.CharField()
    ended_on = serializers.DateField()
    days_listed = serializers.IntegerField(allow_null=True)
    channel = serializers.CharField()
    likeness = Amount(help_text="-1 to 1")
    sale_price = Amount(help_text="Less concessions and trade over-allowance.")
    adjusted_price = Amount()
    net = Amount(help_text="Percent of the sale price.")
    gross = Amount(help_text="Percent of the sale price, without regard to sign.")
    marks = serializers.ListField(child=serializers.CharField())


class ComparisonShown(serializers.Serializer[Any]):
    """The nearest past sales of the newest opinion, each adjusted to the vehicle."""

    opinion = serializers.IntegerField(source="opinion.pk")
    low = Amount(source="opinion.low")
    likely = Amount(source="opinion.likely")
    high = Amount(source="opinion.high")
    sales = ComparableShown(many=True)
    lines = GridLineShown(many=True)
    reconciled = Amount(allow_null=True, help_text="Median of the adjusted prices, weighted by likeness.")
    apart = Amount(allow_null=True, help_text="How far from `likely`, percent of it.")
    inside = serializers.BooleanField(allow_null=True, help_text="Whether `reconciled` is inside the band.")
    problem = serializers.CharField(allow_blank=True, help_text="Why there are no sales; else empty.")
