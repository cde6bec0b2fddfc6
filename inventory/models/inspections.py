"""Intake inspections and what their checks found."""

from datetime import datetime

from django.db import models

from inventory.models.base import Appended
from inventory.models.consignments import Consignment
from inventory.models.fields import (
    GradeField,
    WordField,
    client_key_field,
    interval_checks,
    points_field,
    within,
)
from inventory.models.policy import ScorePolicy
from inventory.rules.words import Basis, Verdict


class IntakeInspection(models.Model):
    """One dated walk of a vehicle. Finished, it is frozen: a further look is a new inspection."""

    consignment = models.ForeignKey(Consignment, on_delete=models.PROTECT, related_name="inspections")
    number = models.PositiveIntegerField()
    policy = models.ForeignKey(ScorePolicy, on_delete=models.PROTECT, related_name="+")
    begun_at = models.DateTimeField()
    begun_by = models.CharField(max_length=120)
    finished_at = models.DateTimeField(null=True, blank=True)
    finished_by = models.CharField(max_length=120, blank=True)
    condition_low = points_field()
    condition_high = points_field()
    originality_low = points_field()
    originality_high = points_field()
    asked = models.JSONField("codes of the checks that applied when it was finished", null=True, blank=True)
    note = models.TextField(blank=True)
    work_order = models.ForeignKey(
        "WorkOrder", on_delete=models.PROTECT, null=True, blank=True, related_name="inspections"
    )  # a look at what was worked on; all else is carried over

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["consignment", "number"], name="intakeinspection_number_is_unique"),
            models.UniqueConstraint(
                fields=["consignment"],
                condition=models.Q(finished_at__isnull=True),
                name="intakeinspection_one_open_per_consignment",
                violation_error_message="An inspection of this vehicle is open already.",
            ),
            *interval_checks("intakeinspection", field="condition"),
            *interval_checks("intakeinspection", field="originality"),
        ]

    def __str__(self) -> str:
        return f"inspection {self.number}"

    @property
    def is_open(self) -> bool:
        return self.finished_at is None


class CheckResult(Appended):
    """What one check found; the latest told row of a check counts, the others stay.

    `told_at` is when it was said on a device, by the house's clock, `made_at` by the device's own; both are null where
    it was said to the house itself.
    """

    inspection = models.ForeignKey(IntakeInspection, on_delete=models.PROTECT, related_name="results")
    check_code = models.CharField(max_length=60)
    verdict = WordField(max_length=12, words=Verdict)
    grade = GradeField(null=True, blank=True)
    basis = WordField(max_length=20, words=Basis)
    reading = models.DecimalField(max_digits=10, decimal_places=3, null=True, blank=True)
    unit = models.CharField(max_length=30, blank=True)
    compared_with = models.DecimalField(
        "figure that the reading's limit depends on", max_digits=10, decimal_places=3, null=True, blank=True
    )
    note = models.CharField(max_length=500, blank=True)
    told_at = models.DateTimeField(null=True, blank=True)
    made_at = models.DateTimeField(null=True, blank=True)
    device = models.CharField(max_length=36, blank=True)
    carried_from = models.ForeignKey("self", on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    client_key = client_key_field()
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            within("checkresult", field="verdict", allowed=Verdict.values),
            within("checkresult", field="basis", allowed=Basis.values),
            models.CheckConstraint(
                condition=models.Q(verdict=Verdict.GRADED, grade__isnull=False, grade__gte=0, grade__lte=4)
                | (~models.Q(verdict=Verdict.GRADED) & models.Q(grade__isnull=True)),
                name="checkresult_grade_0_to_4_where_graded",
                violation_error_message="A graded check has a grade from 0 to 4, any other has none.",
            ),
            models.CheckConstraint(
                condition=models.Q(reading__isnull=True) | ~models.Q(unit=""),
                name="checkresult_reading_has_unit",
                violation_error_message="A reading has a unit.",
            ),
        ]
        indexes = [models.Index(fields=["inspection", "check_code", "id"], name="result_by_inspection")]

    def __str__(self) -> str:
        return f"{self.check_code}: {self.get_verdict_display()}"

    @property
    def told_order(self) -> tuple[datetime, str, int]:
        """Of two results of one check the greater counts: said later, then by the device's name, then written later."""
        return (self.told_at or self.at, self.device, self.pk)
