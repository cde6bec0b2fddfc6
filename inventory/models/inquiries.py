"""Who asked about a vehicle, and who came to see it."""

from django.db import models

from inventory.models.base import Appended
from inventory.models.consignments import Consignment
from inventory.models.fields import WordField, client_key_field, within
from inventory.rules.words import InquiryWay


class Inquiry(Appended):
    """Somebody asked about a vehicle that is for sale. Many do not say who they are."""

    consignment = models.ForeignKey(Consignment, on_delete=models.PROTECT, related_name="inquiries")
    way = WordField("by what way", max_length=16, words=InquiryWay)
    who = models.CharField("who asked", max_length=120, blank=True)
    about = models.CharField("what about", max_length=200, blank=True)
    client_key = client_key_field()
    on = models.DateField("date")
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        constraints = [within("inquiry", field="way", allowed=InquiryWay.values)]
        indexes = [models.Index(fields=["consignment", "id"], name="inquiry_by_consignment")]

    def __str__(self) -> str:
        return f"inquiry of {self.on}, {self.get_way_display()}"


class Showing(Appended):
    """Somebody saw a vehicle that is for sale, after an inquiry or without one."""

    consignment = models.ForeignKey(Consignment, on_delete=models.PROTECT, related_name="showings")
    inquiry = models.ForeignKey(Inquiry, on_delete=models.PROTECT, related_name="showings", null=True, blank=True)
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
