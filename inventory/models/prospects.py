"""Vehicles before they come: what their owners tell, and what the lot would do with them."""

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from inventory.models.consignments import Consignment
from inventory.models.contacts import Contact
from inventory.models.fields import (
    MoneyField,
    WordField,
    at_least,
    client_key_field,
    code_field,
    interval_checks,
    points_field,
    within,
)
from inventory.models.people import Consignor, User
from inventory.rules.floor_words import Declined, ProspectStage
from inventory.rules.words import BuildClass, InquiryWay, OdometerStatus, TitleBrand


class Prospect(models.Model):
    """A vehicle that somebody would consign. Every fact of it is told; nobody of the lot has seen it."""

    code = code_field()
    stage = WordField(max_length=10, words=ProspectStage, default=ProspectStage.OPEN)
    consignor = models.ForeignKey(Consignor, on_delete=models.PROTECT, null=True, blank=True, related_name="prospects")
    contact = models.ForeignKey(Contact, on_delete=models.PROTECT, null=True, blank=True, related_name="prospects")
    way = WordField("by what way they came", max_length=16, words=InquiryWay, blank=True)
    brought_in_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="prospects")
    year = models.PositiveSmallIntegerField("model year", validators=[MinValueValidator(1886), MaxValueValidator(2200)])
    make = models.CharField(max_length=60)
    model = models.CharField(max_length=60)
    trim = models.CharField(max_length=60, blank=True)
    body = models.CharField(max_length=60, blank=True)
    engine = models.CharField(max_length=80, blank=True)
    transmission = models.CharField(max_length=60, blank=True)
    color = models.CharField(max_length=60, blank=True)
    build_class = WordField(max_length=20, words=BuildClass, blank=True)
    title_brand = WordField(max_length=20, words=TitleBrand, blank=True)
    serial = models.CharField("VIN or serial, as told", max_length=40, blank=True)
    mileage = models.PositiveIntegerField(
        "odometer reading, miles", null=True, blank=True, validators=[MaxValueValidator(2_000_000)]
    )
    odometer_status = WordField(max_length=12, words=OdometerStatus, default=OdometerStatus.NOT_STATED)
    condition_low = points_field()
    condition_high = points_field()
    originality_low = points_field()
    originality_high = points_field()
    modifications = models.JSONField("kinds of modification, as told", null=True, blank=True)
    story = models.TextField("what the owner tells", max_length=4000, blank=True)
    hoped_for = MoneyField("what the owner hopes for", null=True, blank=True)
    follow_up_on = models.DateField(null=True, blank=True)
    terms = models.JSONField("terms that the lot proposes", default=dict, blank=True)
    declined = WordField("who declined", max_length=10, words=Declined, blank=True)
    declined_because = models.CharField(max_length=300, blank=True)
    ended_on = models.DateField(null=True, blank=True)
    consignment = models.OneToOneField(
        Consignment, on_delete=models.PROTECT, null=True, blank=True, related_name="prospect"
    )
    client_key = client_key_field()
    by = models.CharField(max_length=120)
    at = models.DateTimeField()
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            within("prospect", field="stage", allowed=ProspectStage.values),
            within("prospect", field="way", allowed=["", *InquiryWay.values]),
            within("prospect", field="build_class", allowed=["", *BuildClass.values]),
            within("prospect", field="title_brand", allowed=["", *TitleBrand.values]),
            within("prospect", field="odometer_status", allowed=OdometerStatus.values),
            within("prospect", field="declined", allowed=["", *Declined.values]),
            models.CheckConstraint(
                condition=~models.Q(make="") & ~models.Q(model=""),
                name="prospect_has_make_and_model",
                violation_error_message="Give make and model.",
            ),
            models.CheckConstraint(
                condition=models.Q(consignor__isnull=False) | models.Q(contact__isnull=False),
                name="prospect_has_person",
                violation_error_message="Say whose vehicle it is.",
            ),
            models.CheckConstraint(
                condition=models.Q(stage=ProspectStage.BOOKED, consignment__isnull=False)
                | (~models.Q(stage=ProspectStage.BOOKED) & models.Q(consignment__isnull=True)),
                name="prospect_booked_has_stay",
                violation_error_message="A booked prospect has its stay.",
            ),
            models.CheckConstraint(
                condition=(
                    models.Q(stage=ProspectStage.DECLINED) & ~models.Q(declined="") & ~models.Q(declined_because="")
                )
                | (~models.Q(stage=ProspectStage.DECLINED) & models.Q(declined="")),
                name="prospect_declined_has_reason",
                violation_error_message="Say who declined and why.",
            ),
            at_least("prospect", field="mileage"),
            at_least("prospect", field="hoped_for"),
            *interval_checks("prospect", field="condition"),
            *interval_checks("prospect", field="originality"),
        ]
        indexes = [models.Index(fields=["stage", "id"], name="prospect_by_stage")]

    def __str__(self) -> str:
        return " ".join(str(part) for part in (self.year, self.make, self.model, self.trim) if part)


class ProspectPhoto(models.Model):
    """A picture that the owner sent. Booked, it becomes a photo of the stay that says where it came from."""

    code = code_field()
    prospect = models.ForeignKey(Prospect, on_delete=models.PROTECT, related_name="photos")
    file = models.FileField(upload_to="prospects/%Y/%m/")
    thumbnail = models.FileField(upload_to="prospects/%Y/%m/", blank=True)
    width = models.PositiveIntegerField(null=True, blank=True)
    height = models.PositiveIntegerField(null=True, blank=True)
    digest = models.CharField(max_length=64)
    caption = models.CharField(max_length=120, blank=True)
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["prospect", "digest"],
                name="prospectphoto_once_per_prospect",
                violation_error_message="This photo is here already.",
            ),
        ]

    def __str__(self) -> str:
        return self.caption or f"photo {self.pk}"
