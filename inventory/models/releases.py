"""What left the lot: the vehicle, signed for, and its title."""

from django.core.validators import MaxValueValidator
from django.db import models

from inventory.models.base import Appended
from inventory.models.consignments import Consignment
from inventory.models.fields import WordField, client_key_field, code_field, within
from inventory.models.vehicles import TitlePaper
from inventory.rules.words import Collector, SignedBy


class Release(Appended):
    """The receipt of whoever took the vehicle away: who, in what capacity, with what, signed how."""

    code = code_field()
    consignment = models.OneToOneField(Consignment, on_delete=models.PROTECT, related_name="release")
    collected_by = models.CharField("who collected it", max_length=120)
    collector = WordField("in what capacity", max_length=10, words=Collector)
    signed = WordField(max_length=12, words=SignedBy)
    strokes = models.JSONField(default=list, blank=True)  # [[[x, y], …], …] within 1000 × 400
    mileage = models.PositiveIntegerField(
        "odometer reading, miles", null=True, blank=True, validators=[MaxValueValidator(2_000_000)]
    )
    keys_count = models.PositiveSmallIntegerField("keys", null=True, blank=True, validators=[MaxValueValidator(50)])
    note = models.CharField(max_length=500, blank=True)
    handed_over_by = models.CharField(max_length=120)
    file = models.FileField(upload_to="papers/%Y/%m/", blank=True)
    sha256 = models.CharField(max_length=64, blank=True)
    client_key = client_key_field()
    on = models.DateField()
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            within("release", field="collector", allowed=Collector.values),
            within("release", field="signed", allowed=SignedBy.values),
            models.CheckConstraint(
                condition=~models.Q(collected_by=""),
                name="release_has_name",
                violation_error_message="Say who collected the vehicle.",
            ),
        ]

    def __str__(self) -> str:
        return f"release to {self.collected_by}"


class TitleSending(Appended):
    """A title paper went out of the lot's hands: to whom, how and when."""

    consignment = models.ForeignKey(Consignment, on_delete=models.PROTECT, related_name="title_sendings")
    paper = models.ForeignKey(TitlePaper, on_delete=models.PROTECT, null=True, blank=True, related_name="sendings")
    to_whom = models.CharField("sent to", max_length=120)
    way = models.CharField("how it was sent, tracking number", max_length=120, blank=True)
    on = models.DateField()
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=~models.Q(to_whom=""),
                name="titlesending_says_to_whom",
                violation_error_message="Say who the paper was sent to.",
            )
        ]
        indexes = [models.Index(fields=["consignment", "id"], name="titlesending_by_consignment")]

    def __str__(self) -> str:
        return f"title sent to {self.to_whom}"
