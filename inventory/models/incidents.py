"""Damage, theft or worse while a vehicle was in the lot's care, and what was done about it."""

from django.db import models

from inventory.models.base import Appended
from inventory.models.consignments import Consignment
from inventory.models.fields import WordField, client_key_field, code_field, within
from inventory.models.media import Photo
from inventory.rules.floor_words import IncidentKind, IncidentStepKind


class Incident(Appended):
    """What happened and when. It is open until its last step closes it."""

    code = code_field()
    consignment = models.ForeignKey(Consignment, on_delete=models.PROTECT, related_name="incidents")
    kind = WordField(max_length=10, words=IncidentKind)
    what = models.TextField("what happened", max_length=2000)
    where = models.CharField(max_length=120, blank=True)
    client_key = client_key_field()
    on = models.DateField("date")
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            within("incident", field="kind", allowed=IncidentKind.values),
            models.CheckConstraint(
                condition=~models.Q(what=""),
                name="incident_says_what",
                violation_error_message="Say what happened.",
            ),
        ]
        indexes = [models.Index(fields=["consignment", "id"], name="incident_by_consignment")]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} of {self.on}"


class IncidentStep(Appended):
    incident = models.ForeignKey(Incident, on_delete=models.PROTECT, related_name="steps")
    kind = WordField(max_length=16, words=IncidentStepKind)
    text = models.CharField("to whom, how, what was said", max_length=500, blank=True)
    client_key = client_key_field()
    on = models.DateField("date")
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        constraints = [within("incidentstep", field="kind", allowed=IncidentStepKind.values)]

    def __str__(self) -> str:
        return self.get_kind_display()


class IncidentPhoto(Appended):
    incident = models.ForeignKey(Incident, on_delete=models.PROTECT, related_name="photos")
    photo = models.OneToOneField(Photo, on_delete=models.PROTECT, related_name="incident")
    at = models.DateTimeField()

    def __str__(self) -> str:
        return str(self.photo)
