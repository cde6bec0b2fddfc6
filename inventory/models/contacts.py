"""People who are not consignors (yet), and what was said between them and the lot."""

from django.db import models
from django.db.models.functions import Lower

from inventory.models.consignments import Consignment
from inventory.models.fields import WordField, client_key_field, code_field, within
from inventory.models.people import Consignor
from inventory.models.phones import phone_tail
from inventory.rules.floor_words import Direction, NoteWay


class Contact(models.Model):
    """Somebody who asked, came to see, or told of a vehicle. Of doubles one goes on, the others name it."""

    code = code_field()
    name = models.CharField(max_length=120)
    email = models.EmailField(blank=True)
    phone = models.CharField(max_length=40, blank=True)
    note = models.TextField("internal note", max_length=1000, blank=True)
    consignor = models.ForeignKey(
        Consignor, on_delete=models.PROTECT, null=True, blank=True, related_name="contacts"
    )  # the same person, known as a consignor too
    merged_into = models.ForeignKey("self", on_delete=models.PROTECT, null=True, blank=True, related_name="merged")
    erased_at = models.DateTimeField(null=True, blank=True)
    created_at = models.DateTimeField()
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=~models.Q(name=""),
                name="contact_has_name",
                violation_error_message="Give the name.",
            ),
            models.CheckConstraint(
                condition=models.Q(merged_into__isnull=True) | ~models.Q(merged_into=models.F("id")),
                name="contact_not_merged_into_itself",
                violation_error_message="Nobody is a double of themselves.",
            ),
        ]
        indexes = [
            models.Index(fields=["name", "id"], name="contact_by_name"),
            models.Index(Lower("name"), name="contact_by_lower_name"),
            models.Index(Lower("email"), name="contact_by_lower_email"),
            models.Index(phone_tail("phone"), name="contact_by_phone_tail"),
        ]

    def __str__(self) -> str:
        return self.name


class PersonNote(models.Model):
    """One message or call with a consignor or a contact. Never changed by hand; emptied where a person is erased."""

    consignor = models.ForeignKey(Consignor, on_delete=models.PROTECT, null=True, blank=True, related_name="notes")
    contact = models.ForeignKey(Contact, on_delete=models.PROTECT, null=True, blank=True, related_name="notes")
    consignment = models.ForeignKey(
        Consignment, on_delete=models.PROTECT, null=True, blank=True, related_name="person_notes"
    )
    way = WordField("how", max_length=10, words=NoteWay)
    direction = WordField(max_length=10, words=Direction, default=Direction.FROM_THEM)
    text = models.TextField("what was said", max_length=2000)
    erased_at = models.DateTimeField(null=True, blank=True)
    client_key = client_key_field()
    on = models.DateField("date")
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            within("personnote", field="way", allowed=NoteWay.values),
            within("personnote", field="direction", allowed=Direction.values),
            models.CheckConstraint(
                condition=models.Q(consignor__isnull=False, contact__isnull=True)
                | models.Q(consignor__isnull=True, contact__isnull=False),
                name="personnote_of_one_person",
                violation_error_message="A note is about one person.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_way_display()}, {self.on}"
