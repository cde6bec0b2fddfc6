"""What belongs to a walk beside its checks: what the vehicle has, visits, cleared flags, taps that came too late."""

from django.db import models

from inventory.models.base import Appended
from inventory.models.consignments import Consignment
from inventory.models.fields import WordField, client_key_field, within
from inventory.models.inspections import IntakeInspection
from inventory.models.vehicles import Vehicle
from inventory.rules.words import EngineState


class VehicleFeature(Appended):
    """Whether the vehicle has one of the things that decide which questions are asked; the latest row counts."""

    vehicle = models.ForeignKey(Vehicle, on_delete=models.PROTECT, related_name="features")
    feature = models.CharField(max_length=40)
    present = models.BooleanField()
    client_key = client_key_field()
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        indexes = [models.Index(fields=["vehicle", "id"], name="feature_by_vehicle")]

    def __str__(self) -> str:
        return f"{self.feature}: {'yes' if self.present else 'no'}"


class StationVisit(Appended):
    """One visit of one station: who was there, when, and whether the engine was cold. The latest row counts."""

    inspection = models.ForeignKey(IntakeInspection, on_delete=models.PROTECT, related_name="visits")
    station = models.CharField(max_length=40)
    engine = WordField(max_length=10, words=EngineState)
    client_key = client_key_field()
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        constraints = [within("stationvisit", field="engine", allowed=EngineState.values)]
        indexes = [models.Index(fields=["inspection", "id"], name="visit_by_inspection")]

    def __str__(self) -> str:
        return f"{self.station}, engine {self.engine}"


class FlagClearance(Appended):
    """The owner cleared one safety flag. `key` names the answer or figure that raised it: a new one raises its own."""

    consignment = models.ForeignKey(Consignment, on_delete=models.PROTECT, related_name="flag_clearances")
    key = models.CharField(max_length=60)
    flag = models.CharField("what was cleared", max_length=600)
    reason = models.CharField(max_length=500)
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["consignment", "key"],
                name="flagclearance_once_per_flag",
                violation_error_message="This flag is cleared already.",
            ),
            models.CheckConstraint(
                condition=~models.Q(reason=""),
                name="flagclearance_has_reason",
                violation_error_message="Say why the flag is cleared.",
            ),
        ]

    def __str__(self) -> str:
        return f"cleared: {self.reason}"


class LateTap(Appended):
    """A tap that reached the house after its inspection was frozen: kept word for word, and counted nowhere."""

    inspection = models.ForeignKey(IntakeInspection, on_delete=models.PROTECT, related_name="late_taps")
    said = models.JSONField()
    told_at = models.DateTimeField()
    client_key = client_key_field()
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    def __str__(self) -> str:
        return f"tap after {self.inspection} was finished"
