"""What is done to a vehicle: estimate, consent, out and back, invoice, charge."""

from django.db import models

from inventory.models.agreements import ConsentRequest
from inventory.models.consignments import Charge, Consignment
from inventory.models.fields import MoneyField, WordField, at_least, client_key_field, code_field, within
from inventory.rules.words import BornBy, ChargeKind


class WorkOrder(models.Model):
    """One piece of work. Each step is a column filled once, and a line in the log."""

    code = code_field()
    consignment = models.ForeignKey(Consignment, on_delete=models.PROTECT, related_name="work_orders")
    kind = WordField(max_length=16, words=ChargeKind, default=ChargeKind.REPAIR)
    what = models.CharField(max_length=200)
    checks = models.JSONField("codes of the checks it is about", default=list, blank=True)
    vendor = models.CharField("who does it; empty is the lot's own shop", max_length=120, blank=True)
    borne_by = WordField(max_length=10, words=BornBy, default=BornBy.CONSIGNOR)
    estimate = MoneyField(null=True, blank=True)
    consent = models.OneToOneField(
        ConsentRequest, on_delete=models.PROTECT, null=True, blank=True, related_name="work_order"
    )
    started_from = models.CharField("what it began with", max_length=200, blank=True)
    opened_on = models.DateField()
    out_on = models.DateField("work began, or it left for the shop", null=True, blank=True)
    back_on = models.DateField("work done, or it came back", null=True, blank=True)
    found = models.CharField("what was done", max_length=300, blank=True)
    invoice = MoneyField(null=True, blank=True)
    invoice_number = models.CharField(max_length=60, blank=True)
    invoiced_on = models.DateField(null=True, blank=True)
    charge = models.OneToOneField(Charge, on_delete=models.PROTECT, null=True, blank=True, related_name="work_order")
    closed_on = models.DateField(null=True, blank=True)
    called_off = models.CharField("why it was called off", max_length=200, blank=True)
    client_key = client_key_field()
    by = models.CharField(max_length=120)
    at = models.DateTimeField()
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            within("workorder", field="kind", allowed=ChargeKind.values),
            within("workorder", field="borne_by", allowed=BornBy.values),
            at_least("workorder", field="estimate"),
            at_least("workorder", field="invoice"),
            models.CheckConstraint(
                condition=~models.Q(what=""),
                name="workorder_says_what",
                violation_error_message="Say what is to be done.",
            ),
            models.CheckConstraint(
                condition=models.Q(back_on__isnull=True)
                | models.Q(out_on__isnull=False, out_on__lte=models.F("back_on")),
                name="workorder_back_after_out",
                violation_error_message="Work is done after it began.",
            ),
            models.CheckConstraint(
                condition=models.Q(closed_on__isnull=True) | models.Q(opened_on__lte=models.F("closed_on")),
                name="workorder_closes_after_opening",
                violation_error_message="A work order may not close before it opened.",
            ),
            models.CheckConstraint(
                condition=models.Q(called_off="") | models.Q(closed_on__isnull=False, charge__isnull=True),
                name="workorder_called_off_is_closed",
                violation_error_message="Work that is called off is closed, and nobody is charged for it.",
            ),
        ]
        indexes = [
            models.Index(fields=["consignment", "id"], name="work_by_consignment"),
            models.Index(fields=["closed_on", "id"], name="work_by_closing"),
        ]

    def __str__(self) -> str:
        return self.what

    @property
    def is_open(self) -> bool:
        return self.closed_on is None
