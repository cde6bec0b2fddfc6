"""The description a vehicle is offered with, in versions."""

from django.db import models

from inventory.models.base import Appended
from inventory.models.consignments import Consignment
from inventory.models.fields import WordField, code_field, within
from inventory.rules.words import ListingTone


class Listing(Appended):
    """One version of a description. The public page shows the latest one that was published."""

    code = code_field()
    consignment = models.ForeignKey(Consignment, on_delete=models.PROTECT, related_name="listings")
    number = models.PositiveIntegerField()
    tone = WordField(max_length=10, words=ListingTone)
    sections = models.JSONField()  # [{"code", "title", "sentences": [{"text", "basis", "source", "edited"}]}]
    published = models.BooleanField(default=False)
    objections = models.JSONField("sentences that were questioned", default=list, blank=True)
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["consignment", "number"], name="listing_number_is_unique"),
            within("listing", field="tone", allowed=ListingTone.values),
            models.CheckConstraint(
                condition=models.Q(published=False) | models.Q(objections=[]),
                name="listing_published_is_not_questioned",
                violation_error_message="A description with a questioned sentence is not published.",
            ),
        ]

    def __str__(self) -> str:
        return f"description {self.number}"
