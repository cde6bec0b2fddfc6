"""The places of the lot, and the care that standing vehicles want."""

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models.functions import Lower

from inventory.models.base import Appended
from inventory.models.consignments import Consignment
from inventory.models.fields import WordField, at_least, client_key_field, within
from inventory.rules.floor_words import CareKind, PlaceKind


class Place(models.Model):
    """A bay or another place where vehicles of the lot stand. One that is retired keeps its history."""

    name = models.CharField(max_length=60)
    kind = WordField(max_length=10, words=PlaceKind, default=PlaceKind.BAY)
    not_for_sale = models.BooleanField("vehicles there are not for sale meanwhile", default=False)
    order = models.PositiveSmallIntegerField("place on the sheet", default=0)
    retired_at = models.DateTimeField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                Lower("name"),
                name="place_name_is_unique",
                violation_error_message="There is a place of this name already.",
            ),
            models.CheckConstraint(
                condition=~models.Q(name=""),
                name="place_has_name",
                violation_error_message="Give the place a name.",
            ),
            within("place", field="kind", allowed=PlaceKind.values),
        ]

    def __str__(self) -> str:
        return self.name


class CareRule(models.Model):
    """How often one kind of care is due: for the whole lot, or for one stay that wants it otherwise.

    Without days it is not wanted at all.
    """

    consignment = models.ForeignKey(
        Consignment, on_delete=models.PROTECT, null=True, blank=True, related_name="care_rules"
    )
    kind = WordField(max_length=16, words=CareKind)
    every_days = models.PositiveSmallIntegerField(
        "days between", null=True, blank=True, validators=[MinValueValidator(1), MaxValueValidator(730)]
    )
    what = models.CharField("what is done", max_length=200, blank=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["kind"],
                condition=models.Q(consignment__isnull=True),
                name="carerule_one_per_kind",
                violation_error_message="There is a rule for this care already.",
            ),
            models.UniqueConstraint(
                fields=["consignment", "kind"],
                name="carerule_one_per_stay_and_kind",
                violation_error_message="This vehicle has a rule of its own for this care already.",
            ),
            within("carerule", field="kind", allowed=CareKind.values),
            at_least("carerule", field="every_days", least=1),
        ]

    def __str__(self) -> str:
        return self.get_kind_display()


class CareDone(Appended):
    """Care that a vehicle had, with what was read at it: volts, pounds a square inch."""

    consignment = models.ForeignKey(Consignment, on_delete=models.PROTECT, related_name="care_done")
    kind = WordField(max_length=16, words=CareKind)
    reading = models.DecimalField(max_digits=7, decimal_places=2, null=True, blank=True)
    unit = models.CharField(max_length=10, blank=True)
    note = models.CharField(max_length=200, blank=True)
    client_key = client_key_field()
    on = models.DateField("date")
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            within("caredone", field="kind", allowed=CareKind.values),
            models.CheckConstraint(
                condition=models.Q(reading__isnull=True) | ~models.Q(unit=""),
                name="caredone_reading_has_unit",
                violation_error_message="A reading has a unit.",
            ),
        ]
        indexes = [models.Index(fields=["consignment", "kind", "id"], name="care_by_consignment")]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} on {self.on}"
