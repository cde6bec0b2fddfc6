"""Price opinions and the fits they came from."""

from rest_framework import serializers

from inventory.api.serializers.base import Shown
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
