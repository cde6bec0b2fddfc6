"""The physical thing, its numbers and papers."""

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from inventory.models.base import Appended
from inventory.models.fields import WordField, client_key_field, code_field, within
from inventory.rules.words import (
    Basis,
    BuildClass,
    IdentityKind,
    NameJoin,
    OwnerKind,
    PaperStanding,
    SerialKind,
    SigningRight,
    TitleBrand,
    TitleKind,
)


class Vehicle(models.Model):
    """The physical thing. It may come back: each stay is a consignment of its own."""

    code = code_field()
    year = models.PositiveSmallIntegerField(
        "model year, as titled", validators=[MinValueValidator(1886), MaxValueValidator(2200)]
    )
    year_built = models.PositiveSmallIntegerField(  # null is unknown: never assumed to be the year it is titled as
        null=True, blank=True, validators=[MinValueValidator(1886), MaxValueValidator(2200)]
    )
    make = models.CharField(max_length=60)
    model = models.CharField(max_length=60)
    trim = models.CharField(max_length=60, blank=True)
    body = models.CharField(max_length=60, blank=True)
    engine = models.CharField(max_length=80, blank=True)
    transmission = models.CharField(max_length=60, blank=True)
    color = models.CharField(max_length=60, blank=True)
    build_class = WordField(max_length=20, words=BuildClass, blank=True)
    title_brand = WordField(max_length=20, words=TitleBrand, blank=True)
    serial = models.CharField("VIN or serial", max_length=40, blank=True)
    serial_kind = WordField(max_length=10, words=SerialKind, default=SerialKind.NONE)
    serial_reason = models.CharField("why the number is accepted although its check failed", max_length=200, blank=True)
    created_at = models.DateTimeField()
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["serial"],
                condition=models.Q(serial_kind=SerialKind.VIN),
                name="vehicle_vin_is_unique",
                violation_error_message="A vehicle with this VIN is known already.",
            ),
            models.UniqueConstraint(
                fields=["make", "year", "serial"],
                condition=models.Q(serial_kind=SerialKind.SERIAL),
                name="vehicle_serial_is_unique_in_make_and_year",
                violation_error_message="A vehicle of this make and year with this serial is known already.",
            ),
            models.CheckConstraint(
                condition=models.Q(year__gte=1886, year__lte=2200),
                name="vehicle_year_is_possible",
                violation_error_message="The year must be 1886 or later.",
            ),
            models.CheckConstraint(
                condition=models.Q(year_built__isnull=True) | models.Q(year_built__gte=1886, year_built__lte=2200),
                name="vehicle_year_built_is_possible",
                violation_error_message="The year built must be 1886 or later.",
            ),
            models.CheckConstraint(
                condition=~models.Q(make="") & ~models.Q(model=""),
                name="vehicle_has_make_and_model",
                violation_error_message="Give make and model.",
            ),
            models.CheckConstraint(
                condition=models.Q(serial="", serial_kind=SerialKind.NONE)
                | (~models.Q(serial="") & ~models.Q(serial_kind=SerialKind.NONE)),
                name="vehicle_serial_and_kind_agree",
                violation_error_message="The kind of identity number must match the number.",
            ),
            within("vehicle", field="build_class", allowed=["", *BuildClass.values]),
            within("vehicle", field="title_brand", allowed=["", *TitleBrand.values]),
        ]
        indexes = [models.Index(fields=["make", "model", "year"], name="vehicle_by_name")]

    def __str__(self) -> str:
        return " ".join(str(part) for part in (self.year, self.make, self.model, self.trim) if part)


class IdentityNumber(Appended):
    """One number as read off one place, or off one paper."""

    vehicle = models.ForeignKey(Vehicle, on_delete=models.PROTECT, related_name="identity_numbers")
    kind = WordField(max_length=20, words=IdentityKind)
    value = models.CharField(max_length=40)
    basis = WordField(max_length=20, words=Basis)
    place = models.CharField("where it was read", max_length=80, blank=True)
    note = models.CharField(max_length=200, blank=True)
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            within("identitynumber", field="kind", allowed=IdentityKind.values),
            within("identitynumber", field="basis", allowed=Basis.values),
        ]
        indexes = [models.Index(fields=["vehicle", "id"], name="identity_by_vehicle")]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}: {self.value}"


class IdentityResolution(Appended):
    """The owner's word on numbers that do not agree, for the numbers as they stood: one more reopens the question."""

    vehicle = models.ForeignKey(Vehicle, on_delete=models.PROTECT, related_name="identity_resolutions")
    question = models.CharField(max_length=600)
    reason = models.CharField(max_length=400)
    numbers_digest = models.CharField(max_length=64)
    client_key = client_key_field()
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=~models.Q(question="") & ~models.Q(reason=""),
                name="identityresolution_has_question_and_reason",
                violation_error_message="A resolution names the question and gives the reason.",
            ),
        ]
        indexes = [models.Index(fields=["vehicle", "id"], name="resolution_by_vehicle")]

    def __str__(self) -> str:
        return self.reason


class TitlePaper(Appended):
    """A paper that says whose the vehicle is. Papers can be false too: each has a standing."""

    vehicle = models.ForeignKey(Vehicle, on_delete=models.PROTECT, related_name="title_papers")
    kind = WordField(max_length=20, words=TitleKind)
    number = models.CharField(max_length=60, blank=True)
    name_on_paper = models.CharField(max_length=120, blank=True)
    more_names = models.CharField("further names on it", max_length=200, blank=True)
    names_joined = WordField("how the names are joined", max_length=10, words=NameJoin, blank=True)
    owner_kind = WordField("who that is", max_length=10, words=OwnerKind, blank=True)
    signer = models.CharField("who may sign for them", max_length=120, blank=True)
    signs_by = WordField("by what right", max_length=10, words=SigningRight, blank=True)
    in_hand_since = models.DateField("in the lot's hands since", null=True, blank=True)
    place = models.CharField(max_length=60, blank=True)
    standing = WordField(max_length=10, words=PaperStanding)
    seen_on = models.DateField()
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            within("titlepaper", field="kind", allowed=TitleKind.values),
            within("titlepaper", field="standing", allowed=PaperStanding.values),
            within("titlepaper", field="names_joined", allowed=["", *NameJoin.values]),
            within("titlepaper", field="owner_kind", allowed=["", *OwnerKind.values]),
            within("titlepaper", field="signs_by", allowed=["", *SigningRight.values]),
            models.CheckConstraint(
                condition=models.Q(signer="", signs_by="") | (~models.Q(signer="") & ~models.Q(signs_by="")),
                name="titlepaper_signer_has_right",
                violation_error_message="Say who may sign and by what right.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.number}".strip()
