"""What others sold."""

from typing import Self

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from inventory.models.base import Appended, AppendedQuerySet
from inventory.models.fields import MoneyField, WordField, client_key_field, interval_checks, points_field, within
from inventory.models.jobs import SalesImport
from inventory.rules.floor_words import Premium
from inventory.rules.words import BuildClass, OdometerStatus, SaleChannel, TitleBrand


class MarketSaleQuerySet(AppendedQuerySet["MarketSale"]):
    def live(self) -> Self:
        """The end of each chain of corrections, unless that end takes the sale out."""
        later = MarketSale.objects.filter(follows=models.OuterRef("pk"))
        return self.filter(~models.Exists(later), dropped=False)


class MarketSale(Appended):
    """A sale elsewhere, its source in the lot's own words; weighed apart from the lot's own sales.

    Not `sold`: a high bid that the owner did not accept. A correction follows the row it corrects.
    """

    source = models.CharField("where it was told", max_length=120)
    ended_on = models.DateField("date")
    channel = WordField(max_length=16, words=SaleChannel, blank=True)
    sold = models.BooleanField("sold, not only bid", default=True)
    premium = WordField("buyer's premium", max_length=10, words=Premium, default=Premium.NOT_SAID)
    price = MoneyField()
    year = models.PositiveSmallIntegerField(validators=[MinValueValidator(1886), MaxValueValidator(2200)])
    make = models.CharField(max_length=200)
    model = models.CharField(max_length=200)
    trim = models.CharField(max_length=200, blank=True)
    body = models.CharField(max_length=200, blank=True)
    engine = models.CharField(max_length=200, blank=True)
    transmission = models.CharField(max_length=200, blank=True)
    color = models.CharField(max_length=200, blank=True)
    build_class = WordField(max_length=20, words=BuildClass, blank=True)
    title_brand = WordField(max_length=20, words=TitleBrand, blank=True)
    vin = models.CharField(max_length=40, blank=True)
    mileage = models.PositiveIntegerField(null=True, blank=True, validators=[MaxValueValidator(2_000_000)])
    odometer_status = WordField(max_length=12, words=OdometerStatus, blank=True)
    condition_low = points_field()
    condition_high = points_field()
    originality_low = points_field()
    originality_high = points_field()
    modifications = models.JSONField(null=True, blank=True)  # of strings; null: not known
    note = models.CharField(max_length=200, blank=True)
    follows = models.OneToOneField("self", on_delete=models.PROTECT, null=True, blank=True, related_name="followed_by")
    dropped = models.BooleanField("taken out", default=False)
    reason = models.CharField("why it was corrected", max_length=200, blank=True)
    imported_with = models.ForeignKey(
        SalesImport, on_delete=models.PROTECT, null=True, blank=True, related_name="market_sales"
    )
    content_hash = models.CharField(max_length=64, blank=True)  # of an imported row, to know it again
    client_key = client_key_field()
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    objects = MarketSaleQuerySet.as_manager()  # type: ignore[misc]

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(price__gt=0),
                name="marketsale_price_above_0",
                violation_error_message="A sale has a price above zero.",
            ),
            models.CheckConstraint(
                condition=~models.Q(source="") & ~models.Q(make="") & ~models.Q(model=""),
                name="marketsale_says_what_and_where",
                violation_error_message="Say where it was told, and the make and model.",
            ),
            models.CheckConstraint(
                condition=models.Q(follows__isnull=True, dropped=False) | ~models.Q(reason=""),
                name="marketsale_correction_has_reason",
                violation_error_message="A correction says why.",
            ),
            models.UniqueConstraint(
                fields=["content_hash"],
                condition=~models.Q(content_hash=""),
                name="marketsale_imported_once",
                violation_error_message="This sale elsewhere is here already.",
            ),
            within("marketsale", field="channel", allowed=["", *SaleChannel.values]),
            within("marketsale", field="premium", allowed=Premium.values),
            within("marketsale", field="build_class", allowed=["", *BuildClass.values]),
            within("marketsale", field="title_brand", allowed=["", *TitleBrand.values]),
            within("marketsale", field="odometer_status", allowed=["", *OdometerStatus.values]),
            *interval_checks("marketsale", field="condition"),
            *interval_checks("marketsale", field="originality"),
        ]
        indexes = [
            models.Index(fields=["ended_on", "id"], name="marketsale_by_date"),
            models.Index(fields=["make", "model", "year"], name="marketsale_by_name"),
        ]

    def __str__(self) -> str:
        return f"{self.year} {self.make} {self.model}, {self.source}"
