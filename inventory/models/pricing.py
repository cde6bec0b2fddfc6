"""Fits of the price band and the opinions given from them. Plain numbers only."""

from django.db import models

from inventory.models.base import Appended
from inventory.models.consignments import Consignment
from inventory.models.fields import MoneyField, at_least


class ModelFit(Appended):
    """Everything learned from the lot's past sales at one moment, as JSON.

    `record` is the back-test on the lot's own history: figures, every sale with the band it would have had, drift.
    """

    learned = models.JSONField(blank=True)
    summary = models.JSONField(default=dict, blank=True)
    record = models.JSONField(default=dict, blank=True)
    selling = models.JSONField("what was learned of time to sale", default=dict, blank=True)
    sales_used = models.PositiveIntegerField()
    sales_hash = models.CharField(max_length=64)
    newest_outcome_id = models.BigIntegerField()
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        indexes = [models.Index(fields=["at"], name="fit_by_time")]

    def __str__(self) -> str:
        return f"fit of {self.sales_used} sales"

    @property
    def flags(self) -> list[str]:
        """What is wrong with it by its own checks, as sentences. A flagged fit is kept and used, and says so."""
        return list(self.summary.get("flags", []))


class PriceOpinion(Appended):
    """One price band as it was given: inputs, fit, explanation, who asked, when."""

    consignment = models.ForeignKey(
        Consignment, on_delete=models.PROTECT, null=True, blank=True, related_name="opinions"
    )
    prospect = models.ForeignKey("Prospect", on_delete=models.PROTECT, null=True, blank=True, related_name="opinions")
    fit = models.ForeignKey(ModelFit, on_delete=models.PROTECT, related_name="opinions")
    inputs = models.JSONField(blank=True)
    low = MoneyField()
    likely = MoneyField()
    high = MoneyField()
    coverage_percent = models.PositiveSmallIntegerField()
    parts = models.JSONField(default=list, blank=True)
    evidence = models.JSONField(default=dict, blank=True)
    notes = models.JSONField(default=list, blank=True)
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(low__lte=models.F("likely"), likely__lte=models.F("high")),
                name="priceopinion_low_likely_high",
                violation_error_message="A band runs from low over likely to high.",
            ),
            at_least("priceopinion", field="low"),
        ]
        indexes = [models.Index(fields=["consignment", "id"], name="opinion_by_consignment")]

    def __str__(self) -> str:
        return f"{self.low} to {self.high}"
