"""The arrival receipt: a frozen document. A correction is a new receipt that follows the one it replaces."""

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from inventory.models.base import Appended
from inventory.models.consignments import Consignment
from inventory.models.fields import WordField, at_least, client_key_field, code_field, within
from inventory.rules.receipts import MOST_KEYS
from inventory.rules.words import Fuel, OdometerStatus, SignedBy, SignsAs


class ArrivalReceipt(Appended):
    """What was taken in, in what state, signed by both sides. The end of the chain counts; all stay readable."""

    code = code_field()
    consignment = models.ForeignKey(Consignment, on_delete=models.PROTECT, related_name="receipts")
    number = models.PositiveIntegerField()
    follows = models.OneToOneField("self", on_delete=models.PROTECT, null=True, blank=True, related_name="followed_by")
    mileage = models.PositiveIntegerField(
        "odometer reading, miles", null=True, blank=True, validators=[MaxValueValidator(2_000_000)]
    )
    no_reading_reason = models.CharField("why there is no reading", max_length=200, blank=True)
    odometer_status = WordField(max_length=12, words=OdometerStatus)
    fuel = WordField(max_length=16, words=Fuel)
    keys_count = models.PositiveSmallIntegerField("keys", validators=[MaxValueValidator(MOST_KEYS)])
    arrived_on = models.DateField()
    note = models.CharField(max_length=1000, blank=True)
    handed_over_by = models.CharField(max_length=200)
    signs_as = WordField(max_length=10, words=SignsAs)
    giver_signed = WordField(max_length=12, words=SignedBy)
    giver_strokes = models.JSONField(default=list, blank=True)  # [[[x, y], …], …] within 1000 × 400
    unsigned_reason = models.CharField("why the other side did not sign", max_length=200, blank=True)
    taken_in_by = models.CharField(max_length=200)
    taker_signed = WordField(max_length=12, words=SignedBy)
    taker_strokes = models.JSONField(default=list, blank=True)
    signed_at = models.DateTimeField("signed by both sides", null=True, blank=True)
    file = models.FileField(upload_to="papers/%Y/%m/")
    sha256 = models.CharField(max_length=64)
    client_key = client_key_field()
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["consignment", "number"], name="arrivalreceipt_number_is_unique"),
            models.UniqueConstraint(
                fields=["consignment"],
                condition=models.Q(follows__isnull=True),
                name="arrivalreceipt_one_first_per_consignment",
                violation_error_message="There is an arrival receipt already; a new one follows it.",
            ),
            models.CheckConstraint(
                condition=models.Q(mileage__isnull=False, no_reading_reason="")
                | (models.Q(mileage__isnull=True) & ~models.Q(no_reading_reason="")),
                name="arrivalreceipt_reading_or_reason",
                violation_error_message="A receipt has an odometer reading, or the reason why it has none.",
            ),
            models.CheckConstraint(
                condition=~models.Q(handed_over_by="") & ~models.Q(taken_in_by=""),
                name="arrivalreceipt_has_both_names",
                violation_error_message="A receipt names who handed over and who took in.",
            ),
            models.CheckConstraint(
                condition=models.Q(giver_signed=SignedBy.NOT_SIGNED, signed_at__isnull=True)
                & ~models.Q(unsigned_reason="")
                | ~models.Q(giver_signed=SignedBy.NOT_SIGNED) & models.Q(signed_at__isnull=False, unsigned_reason=""),
                name="arrivalreceipt_signed_or_says_why_not",
                violation_error_message="A receipt is signed by both sides, or says why the other side did not sign.",
            ),
            within("arrivalreceipt", field="odometer_status", allowed=OdometerStatus.values),
            within("arrivalreceipt", field="fuel", allowed=Fuel.values),
            within("arrivalreceipt", field="signs_as", allowed=SignsAs.values),
            within("arrivalreceipt", field="giver_signed", allowed=SignedBy.values),
            within("arrivalreceipt", field="taker_signed", allowed=[SignedBy.DRAWN.value, SignedBy.TYPED.value]),
            at_least("arrivalreceipt", field="mileage"),
            at_least("arrivalreceipt", field="keys_count"),
        ]
        indexes = [models.Index(fields=["consignment", "id"], name="receipt_by_consignment")]

    def __str__(self) -> str:
        return f"arrival receipt {self.number}"


class ReceiptDamage(Appended):
    """One line of damage as both sides saw it."""

    receipt = models.ForeignKey(ArrivalReceipt, on_delete=models.PROTECT, related_name="damage")
    position = models.PositiveSmallIntegerField()
    where = models.CharField(max_length=60)
    what = models.CharField(max_length=200)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["receipt", "position"], name="receiptdamage_position_is_unique"),
            models.CheckConstraint(
                condition=~models.Q(where="") & ~models.Q(what=""),
                name="receiptdamage_says_where_and_what",
                violation_error_message="A line of damage says where and what.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.where}: {self.what}"


class ReceiptItem(Appended):
    """One thing that was left in the vehicle."""

    receipt = models.ForeignKey(ArrivalReceipt, on_delete=models.PROTECT, related_name="items")
    position = models.PositiveSmallIntegerField()
    what = models.CharField(max_length=120)
    count = models.PositiveSmallIntegerField(validators=[MinValueValidator(1), MaxValueValidator(1000)])

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["receipt", "position"], name="receiptitem_position_is_unique"),
            models.CheckConstraint(
                condition=~models.Q(what=""),
                name="receiptitem_says_what",
                violation_error_message="A line of items says what.",
            ),
            at_least("receiptitem", field="count", least=1),
        ]

    def __str__(self) -> str:
        return f"{self.count} × {self.what}"
