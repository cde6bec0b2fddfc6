"""What the lot's own vehicles cost it, and who of the staff shares in a commission."""

from typing import Self

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from inventory.models.base import Appended, AppendedQuerySet
from inventory.models.consignments import Consignment
from inventory.models.fields import MoneyField, WordField, client_key_field, within
from inventory.models.people import User
from inventory.rules.floor_words import OwnCostKind, StaffPart


class OwnCost(Appended):
    """What the lot paid for or into a vehicle of its own. One that was wrong is set aside by a row that names it."""

    consignment = models.ForeignKey(Consignment, on_delete=models.PROTECT, related_name="own_costs")
    kind = WordField(max_length=12, words=OwnCostKind)
    what = models.CharField(max_length=200, blank=True)
    amount = MoneyField()
    paid_to = models.CharField("to whom", max_length=120, blank=True)
    sets_aside = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="set_aside_by"
    )
    client_key = client_key_field()
    on = models.DateField("date")
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            within("owncost", field="kind", allowed=OwnCostKind.values),
            models.CheckConstraint(
                condition=models.Q(amount__gt=0),
                name="owncost_amount_above_0",
                violation_error_message="A cost is above zero.",
            ),
        ]
        indexes = [models.Index(fields=["consignment", "id"], name="owncost_by_consignment")]

    def __str__(self) -> str:
        return self.what or self.get_kind_display()


class StaffShareQuerySet(AppendedQuerySet["StaffShare"]):
    def live(self) -> Self:
        """The end of each chain, unless that end gives nothing."""
        return self.filter(followed_by__isnull=True, percent__gt=0)


class StaffShare(Appended):
    """Who brought a vehicle in or sold it, and the percent of the lot's commission that follows. Zero takes it back."""

    consignment = models.ForeignKey(Consignment, on_delete=models.PROTECT, related_name="staff_shares")
    user = models.ForeignKey(User, on_delete=models.PROTECT, related_name="shares")
    part = WordField(max_length=12, words=StaffPart)
    percent = models.DecimalField(
        "percent of the lot's commission",
        max_digits=5,
        decimal_places=2,
        validators=[MinValueValidator(0), MaxValueValidator(100)],
    )
    follows = models.OneToOneField("self", on_delete=models.PROTECT, null=True, blank=True, related_name="followed_by")
    on = models.DateField()
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    objects = StaffShareQuerySet.as_manager()  # type: ignore[misc]

    class Meta:
        constraints = [
            within("staffshare", field="part", allowed=StaffPart.values),
            models.UniqueConstraint(
                fields=["consignment", "user", "part"],
                condition=models.Q(follows__isnull=True),
                name="staffshare_one_root",
                violation_error_message="This share is recorded already.",
            ),
            models.CheckConstraint(
                condition=models.Q(percent__gte=0, percent__lte=100),
                name="staffshare_is_percent",
                violation_error_message="A share is from 0 to 100 percent.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.user}: {self.get_part_display()}"
