"""What happens around a vehicle: what is done to it, what befell it, what others sold."""

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from inventory.models.base import Appended
from inventory.models.consignments import Consignment
from inventory.models.fields import MoneyField, WordField, at_least, interval_checks, points_field, within
from inventory.rules.words import SaleChannel


class WorkOrder(models.Model):
    consignment = models.ForeignKey(Consignment, on_delete=models.PROTECT, related_name="work_orders")
    what = models.CharField(max_length=200)
    vendor = models.CharField(max_length=120, blank=True)
    estimate = MoneyField(null=True, blank=True)
    invoice = MoneyField(null=True, blank=True)
    opened_on = models.DateField()
    closed_on = models.DateField(null=True, blank=True)

    class Meta:
        constraints = [
            at_least("workorder", field="estimate"),
            at_least("workorder", field="invoice"),
            models.CheckConstraint(
                condition=models.Q(closed_on__isnull=True) | models.Q(opened_on__lte=models.F("closed_on")),
                name="workorder_closes_after_opening",
                violation_error_message="A work order may not close before it opened.",
            ),
        ]

    def __str__(self) -> str:
        return self.what


class Incident(Appended):
    """Damage, loss or injury while the vehicle was in the lot's hands."""

    consignment = models.ForeignKey(Consignment, on_delete=models.PROTECT, related_name="incidents")
    what = models.TextField()
    on = models.DateField()
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    def __str__(self) -> str:
        return f"incident of {self.on}"


class MarketSale(Appended):
    """A sale elsewhere, in the lot's own words; weighed apart from the lot's own sales."""

    source = models.CharField(max_length=120)
    ended_on = models.DateField()
    channel = WordField(max_length=16, words=SaleChannel, blank=True)
    sold = models.BooleanField("sold, not only bid", default=True)
    premium_included = models.BooleanField(default=False)
    price = MoneyField()
    year = models.PositiveSmallIntegerField(validators=[MinValueValidator(1886), MaxValueValidator(2200)])
    make = models.CharField(max_length=60)
    model = models.CharField(max_length=60)
    trim = models.CharField(max_length=60, blank=True)
    mileage = models.PositiveIntegerField(null=True, blank=True, validators=[MaxValueValidator(2_000_000)])
    condition_low = points_field()
    condition_high = points_field()
    note = models.CharField(max_length=200, blank=True)
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(price__gt=0),
                name="marketsale_price_above_0",
                violation_error_message="A sale has a price above zero.",
            ),
            within("marketsale", field="channel", allowed=["", *SaleChannel.values]),
            *interval_checks("marketsale", field="condition"),
        ]

    def __str__(self) -> str:
        return f"{self.year} {self.make} {self.model}, {self.source}"
