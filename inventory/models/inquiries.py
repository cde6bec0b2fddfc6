"""Who asked about a vehicle, who came to see it, and who drove it."""

from django.core.validators import MaxValueValidator
from django.db import models

from inventory.models.base import Appended
from inventory.models.consignments import Consignment
from inventory.models.contacts import Contact
from inventory.models.fields import WordField, at_least, client_key_field, code_field, within
from inventory.rules.floor_words import InquiryAim
from inventory.rules.words import InquiryWay, SignedBy


class Inquiry(Appended):
    """Somebody asked about a vehicle that is for sale. Many do not say who they are."""

    erasable = ("who", "about")

    consignment = models.ForeignKey(Consignment, on_delete=models.PROTECT, related_name="inquiries")
    contact = models.ForeignKey(Contact, on_delete=models.PROTECT, null=True, blank=True, related_name="inquiries")
    way = WordField("by what way", max_length=16, words=InquiryWay)
    aim = WordField("what for", max_length=10, words=InquiryAim, default=InquiryAim.QUESTION)
    who = models.CharField("who asked", max_length=120, blank=True)
    about = models.CharField("what about", max_length=200, blank=True)
    follow_up_on = models.DateField("to be followed up on", null=True, blank=True)
    client_key = client_key_field()
    on = models.DateField("date")
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            within("inquiry", field="way", allowed=InquiryWay.values),
            within("inquiry", field="aim", allowed=InquiryAim.values),
            models.CheckConstraint(
                condition=models.Q(follow_up_on__isnull=True) | models.Q(follow_up_on__gte=models.F("on")),
                name="inquiry_followed_up_afterwards",
                violation_error_message="An inquiry is followed up on its day or later.",
            ),
        ]
        indexes = [
            models.Index(fields=["consignment", "id"], name="inquiry_by_consignment"),
            models.Index(fields=["on", "id"], name="inquiry_by_date"),
            models.Index(
                fields=["follow_up_on"], condition=models.Q(follow_up_on__isnull=False), name="inquiry_by_follow_up"
            ),
        ]

    def __str__(self) -> str:
        return f"inquiry of {self.on}, {self.get_way_display()}"


class FollowUp(Appended):
    """What came of going after an inquiry, and when to go after it again. Without a day it is done."""

    erasable = ("said",)

    inquiry = models.ForeignKey(Inquiry, on_delete=models.PROTECT, related_name="follow_ups")
    said = models.CharField("what came of it", max_length=300)
    next_on = models.DateField("again on", null=True, blank=True)
    client_key = client_key_field()
    on = models.DateField("date")
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(next_on__isnull=True) | models.Q(next_on__gt=models.F("on")),
                name="followup_next_is_later",
                violation_error_message="The next day to follow up is a later one.",
            ),
        ]

    def __str__(self) -> str:
        return f"follow-up of {self.on}"


class Showing(Appended):
    """Somebody saw a vehicle that is for sale, after an inquiry or without one."""

    erasable = ("who", "note")

    consignment = models.ForeignKey(Consignment, on_delete=models.PROTECT, related_name="showings")
    inquiry = models.ForeignKey(Inquiry, on_delete=models.PROTECT, related_name="showings", null=True, blank=True)
    contact = models.ForeignKey(Contact, on_delete=models.PROTECT, null=True, blank=True, related_name="showings")
    who = models.CharField("who came", max_length=120, blank=True)
    note = models.CharField(max_length=200, blank=True)
    client_key = client_key_field()
    on = models.DateField("date")
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        indexes = [models.Index(fields=["consignment", "id"], name="showing_by_consignment")]

    def __str__(self) -> str:
        return f"showing of {self.on}"


class TestDrive(models.Model):
    """A vehicle went out with somebody who might buy it, and came back. Names are emptied where a person is erased."""

    __test__ = False  # not a test, whatever a collector of tests thinks of the name

    code = code_field()
    consignment = models.ForeignKey(Consignment, on_delete=models.PROTECT, related_name="test_drives")
    inquiry = models.ForeignKey(Inquiry, on_delete=models.PROTECT, null=True, blank=True, related_name="test_drives")
    contact = models.ForeignKey(Contact, on_delete=models.PROTECT, null=True, blank=True, related_name="test_drives")
    driver = models.CharField("who drives", max_length=120)
    licence_from = models.CharField("where the licence was issued", max_length=60, blank=True)
    licence_valid_until = models.DateField(null=True, blank=True)
    licence_copy = models.FileField(upload_to="licences/%Y/%m/", blank=True)
    copy_kept_until = models.DateField("the copy is deleted after", null=True, blank=True)
    copy_deleted_at = models.DateTimeField(null=True, blank=True)
    waiver = models.TextField("the text that was signed", max_length=3000)
    signed = WordField(max_length=12, words=SignedBy)
    strokes = models.JSONField(default=list, blank=True)  # [[[x, y], …], …] within 1000 × 400
    plate = models.CharField("plate on the vehicle", max_length=20, blank=True)
    accompanied_by = models.CharField("who goes along", max_length=120, blank=True)
    out_at = models.DateTimeField()
    odometer_out = models.PositiveIntegerField("odometer going out", validators=[MaxValueValidator(2_000_000)])
    back_at = models.DateTimeField(null=True, blank=True)
    odometer_back = models.PositiveIntegerField(
        "odometer coming back", null=True, blank=True, validators=[MaxValueValidator(2_000_000)]
    )
    note_back = models.CharField("how it came back", max_length=300, blank=True)
    client_key = client_key_field()
    by = models.CharField(max_length=120)
    back_by = models.CharField(max_length=120, blank=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            within("testdrive", field="signed", allowed=SignedBy.values),
            models.UniqueConstraint(
                fields=["consignment"],
                condition=models.Q(back_at__isnull=True),
                name="testdrive_one_out_per_consignment",
                violation_error_message="This vehicle is out on a test drive already.",
            ),
            models.CheckConstraint(
                condition=models.Q(back_at__isnull=True, odometer_back__isnull=True)
                | models.Q(
                    back_at__isnull=False,
                    odometer_back__isnull=False,
                    back_at__gte=models.F("out_at"),
                    odometer_back__gte=models.F("odometer_out"),
                ),
                name="testdrive_back_after_out",
                violation_error_message="It comes back later than it went, with no fewer miles.",
            ),
            models.CheckConstraint(
                condition=models.Q(licence_copy="") | models.Q(copy_kept_until__isnull=False),
                name="testdrive_copy_has_an_end",
                violation_error_message="A copy of a licence has a day after which it is deleted.",
            ),
            at_least("testdrive", field="odometer_out"),
        ]
        indexes = [models.Index(fields=["consignment", "id"], name="testdrive_by_consignment")]

    def __str__(self) -> str:
        return f"test drive by {self.driver}"
