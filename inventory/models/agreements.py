"""What lot and consignor agreed: terms in versions, and consent beyond them."""

from django.db import models

from inventory.models.base import Appended
from inventory.models.consignments import Consignment
from inventory.models.fields import MoneyField, WordField, at_least, within
from inventory.rules.words import FloorKind, PlanKind, TitleProtection


class Terms(Appended):
    """One version of what lot and consignor agreed; the greatest number of a consignment counts."""

    consignment = models.ForeignKey(Consignment, on_delete=models.PROTECT, related_name="terms")
    number = models.PositiveIntegerField()
    plan_kind = WordField(max_length=24, words=PlanKind)
    rate = models.DecimalField("commission, percent", max_digits=6, decimal_places=3, null=True, blank=True)
    minimum = MoneyField("least commission", null=True, blank=True)
    tiers = models.JSONField(default=list, blank=True)  # [[up to, or null; rate], …] as strings
    flat = MoneyField("flat fee", null=True, blank=True)
    guaranteed_net = MoneyField(null=True, blank=True)
    floor = MoneyField(null=True, blank=True)
    floor_kind = WordField(max_length=8, words=FloorKind, default=FloorKind.PRICE)
    starts_on = models.DateField()
    ends_on = models.DateField()
    signed_by = models.CharField(max_length=120, blank=True)
    signed_on = models.DateField(null=True, blank=True)
    title_protection = WordField(max_length=16, words=TitleProtection, default=TitleProtection.NONE)
    lien_holder = models.CharField(max_length=120, blank=True)
    lien_amount = MoneyField("lien payoff quoted", null=True, blank=True)
    lien_quoted_on = models.DateField(null=True, blank=True)
    lien_good_until = models.DateField(null=True, blank=True)
    lien_per_day = MoneyField("lien, each further day", null=True, blank=True)
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["consignment", "number"], name="terms_number_is_unique"),
            within("terms", field="plan_kind", allowed=PlanKind.values),
            within("terms", field="floor_kind", allowed=FloorKind.values),
            within("terms", field="title_protection", allowed=TitleProtection.values),
            models.CheckConstraint(
                condition=models.Q(starts_on__lte=models.F("ends_on")),
                name="terms_start_before_end",
                violation_error_message="The agreement may not end before it starts.",
            ),
            models.CheckConstraint(
                condition=models.Q(rate__isnull=True) | models.Q(rate__gte=0, rate__lte=100),
                name="terms_rate_is_percent",
                violation_error_message="The commission is a percentage from 0 to 100.",
            ),
            models.CheckConstraint(
                condition=models.Q(signed_by="", signed_on__isnull=True)
                | (~models.Q(signed_by="") & models.Q(signed_on__isnull=False)),
                name="terms_signature_has_name_and_date",
                violation_error_message="A signature has a name and a date.",
            ),
            *(
                at_least("terms", field=field)
                for field in ("minimum", "flat", "guaranteed_net", "floor", "lien_amount", "lien_per_day")
            ),
        ]

    def __str__(self) -> str:
        return f"terms {self.number}"


class Consent(Appended):
    """The consignor's agreement to something beyond the terms, with the exact words agreed to."""

    consignment = models.ForeignKey(Consignment, on_delete=models.PROTECT, related_name="consents")
    down_to = MoneyField("sale price down to")
    given_by = models.CharField(max_length=120)
    how = models.CharField(max_length=120)
    text = models.TextField()
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=~models.Q(given_by="") & ~models.Q(text=""),
                name="consent_has_name_and_text",
                violation_error_message="Consent has the name of who gave it and the text agreed to.",
            ),
            at_least("consent", field="down_to"),
        ]

    def __str__(self) -> str:
        return f"consent of {self.given_by}"
