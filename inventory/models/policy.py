"""The lot itself and its versioned policy."""

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from inventory.models.base import Appended
from inventory.models.fields import MoneyField, WordField, within
from inventory.rules.sign_in import FactorRule
from inventory.rules.words import ListingTone, Objective, PayClock


class Lot(models.Model):
    """The one row of settings of the lot."""

    name = models.CharField(max_length=120, default="The lot")
    address = models.TextField(blank=True, max_length=300)
    is_demo = models.BooleanField(default=False)
    pay_within_days = models.PositiveSmallIntegerField(
        "days within which a consignor is paid after the sale (check local law)",
        default=20,
        validators=[MinValueValidator(1), MaxValueValidator(365)],
    )
    pay_clock = WordField(
        "what starts these days (check local law)", max_length=10, words=PayClock, default=PayClock.SOLD
    )
    phone = models.CharField(max_length=40, blank=True)
    email = models.EmailField("e-mail that consignors and buyers see", blank=True)
    listing_tone = WordField("tone of listings", max_length=10, words=ListingTone, default=ListingTone.TELLING)
    listing_order = models.JSONField("order of the sections of a listing", default=list, blank=True)
    aged_after_days = models.PositiveSmallIntegerField(
        "days after which stock counts as aged",
        default=90,
        validators=[MinValueValidator(1), MaxValueValidator(3650)],
    )
    coverage_percent = models.PositiveSmallIntegerField(
        "share of sales that the price band should hold, percent",
        default=80,
        validators=[MinValueValidator(50), MaxValueValidator(95)],
    )
    carrying_cost_per_day = MoneyField("cost of a place for a day", default=0)
    ask_objective = WordField(
        "what a suggested ask is for", max_length=16, words=Objective, default=Objective.CONSIGNOR_NET
    )
    sell_by_percent = models.PositiveSmallIntegerField(
        "chance that counts as sold by the date, percent",
        default=70,
        validators=[MinValueValidator(5), MaxValueValidator(95)],
    )
    unsold_worth_percent = models.PositiveSmallIntegerField(
        "what an unsold vehicle is still worth to its consignor, percent of the likely price",
        default=80,
        validators=[MaxValueValidator(100)],
    )

    keep_licence_copies = models.BooleanField("copies of driving licences may be kept (check local law)", default=False)
    licence_copy_days = models.PositiveSmallIntegerField(
        "days after which such a copy is deleted", default=30, validators=[MinValueValidator(1), MaxValueValidator(365)]
    )
    drive_waiver = models.TextField(
        "what is signed before a test drive (have a lawyer review it)", max_length=3000, blank=True
    )
    brought_in_percent = models.DecimalField(
        "share of the commission for who brought a vehicle in, percent",
        max_digits=5,
        decimal_places=2,
        default=0,
        validators=[MinValueValidator(0), MaxValueValidator(100)],
    )
    sold_percent = models.DecimalField(
        "share of the commission for who sold it, percent",
        max_digits=5,
        decimal_places=2,
        default=0,
        validators=[MinValueValidator(0), MaxValueValidator(100)],
    )

    second_factor = WordField(
        "of whom a code is asked besides the password", max_length=10, words=FactorRule, default=FactorRule.NOBODY
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(pk=1),
                name="lot_is_one_row",
                violation_error_message="There is one lot.",
            ),
            models.CheckConstraint(
                condition=models.Q(coverage_percent__gte=50, coverage_percent__lte=95),
                name="lot_coverage_is_percent",
                violation_error_message="The coverage is from 50 to 95 percent.",
            ),
            models.CheckConstraint(
                condition=models.Q(brought_in_percent__gte=0, sold_percent__gte=0, sold_percent__lte=100)
                & models.Q(brought_in_percent__lte=100),
                name="lot_shares_are_percent",
                violation_error_message="The shares are from 0 to 100 percent.",
            ),
            within("lot", field="ask_objective", allowed=Objective.values),
            within("lot", field="pay_clock", allowed=PayClock.values),
            within("lot", field="listing_tone", allowed=ListingTone.values),
            within("lot", field="second_factor", allowed=FactorRule.values),
            models.CheckConstraint(
                condition=models.Q(sell_by_percent__gte=5, sell_by_percent__lte=95, unsold_worth_percent__lte=100),
                name="lot_asking_is_percent",
                violation_error_message="The chance is from 5 to 95 percent, the worth of the unsold at most 100.",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class ScorePolicy(Appended):
    """One version of the weights of condition and originality; the greatest number counts."""

    number = models.PositiveIntegerField(unique=True)
    weights = models.JSONField(blank=True)
    reason = models.CharField("why they were changed", max_length=500, blank=True)
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    def __str__(self) -> str:
        return f"policy {self.number}"
