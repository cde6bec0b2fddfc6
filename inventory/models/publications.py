"""Where vehicles are shown, and at which ask."""

from django.db import models

from inventory.models.base import Appended
from inventory.models.consignments import Consignment
from inventory.models.fields import MoneyField, client_key_field, code_field


class Publication(models.Model):
    """One place where a vehicle is shown: a page, a window, a paper. What it shows is in its `showings` of the ask."""

    code = code_field()
    consignment = models.ForeignKey(Consignment, on_delete=models.PROTECT, related_name="publications")
    place = models.CharField("where it is shown", max_length=120)
    address = models.URLField("address of the page", max_length=500, blank=True)
    since = models.DateField("shown since")
    taken_down_on = models.DateField(null=True, blank=True)
    client_key = client_key_field()
    by = models.CharField(max_length=120)
    at = models.DateTimeField()
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["consignment", "place"],
                condition=models.Q(taken_down_on__isnull=True),
                name="publication_once_per_place",
                violation_error_message="It is shown there already.",
            ),
            models.CheckConstraint(
                condition=models.Q(taken_down_on__isnull=True) | models.Q(since__lte=models.F("taken_down_on")),
                name="publication_taken_down_after",
                violation_error_message="It was taken down after it was shown.",
            ),
            models.CheckConstraint(
                condition=~models.Q(place=""),
                name="publication_has_place",
                violation_error_message="Say where it is shown.",
            ),
        ]
        indexes = [models.Index(fields=["consignment", "id"], name="publication_by_consignment")]

    def __str__(self) -> str:
        return self.place


class ShownAsk(Appended):
    """The ask that a place shows from this day on; without an amount it shows none."""

    publication = models.ForeignKey(Publication, on_delete=models.PROTECT, related_name="asks")
    ask = MoneyField(null=True, blank=True)
    on = models.DateField()
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(ask__isnull=True) | models.Q(ask__gt=0),
                name="shownask_above_0",
                violation_error_message="An ask is above zero.",
            ),
        ]

    def __str__(self) -> str:
        return f"shown at {self.ask}"
