"""What was done, by whom, when: written in the same transaction as the deed."""

from django.db import models

from inventory.models.base import Appended
from inventory.models.consignments import Consignment


class LogEntry(Appended):
    erasable = ("data",)  # names and addresses in it, where a person is erased

    at = models.DateTimeField()
    action = models.CharField(max_length=40)
    consignment = models.ForeignKey(Consignment, on_delete=models.PROTECT, null=True, blank=True, related_name="log")
    subject_kind = models.CharField(max_length=40)
    subject_id = models.BigIntegerField()
    actor_kind = models.CharField(max_length=10)
    actor_id = models.BigIntegerField(null=True, blank=True)
    actor_name = models.CharField(max_length=120)
    data = models.JSONField(default=dict, blank=True)

    class Meta:
        indexes = [
            models.Index(fields=["consignment", "id"], name="log_by_consignment"),
            models.Index(fields=["subject_kind", "subject_id", "id"], name="log_by_subject"),
        ]

    def __str__(self) -> str:
        return f"{self.at:%Y-%m-%d %H:%M} {self.actor_name}: {self.action}"
