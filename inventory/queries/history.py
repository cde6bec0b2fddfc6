"""Past sales as plain rows, and the snapshot a stay leaves behind."""

from typing import Any

from inventory.models import AskChange, Consignment, SaleOutcome
from inventory.queries.facts import finished_inspection
from inventory.rules.words import SaleChannel


def live_outcome(consignment: Consignment) -> SaleOutcome | None:
    """The end of the stay's chain of outcomes, whatever it says."""
    return SaleOutcome.objects.filter(consignment=consignment, followed_by__isnull=True).first()


def snapshot(consignment: Consignment) -> dict[str, Any]:
    """The vehicle as it is now, in the columns of the history. Missing stays missing."""
    vehicle = consignment.vehicle
    walk = finished_inspection(consignment)
    asks = list(AskChange.objects.filter(consignment=consignment).order_by("pk").values_list("amount", flat=True))
    return {
        "stock_number": consignment.stock_number,
        "vin": vehicle.serial,
        **{name: getattr(vehicle, name) for name in VEHICLE_COLUMNS},
        "mileage": consignment.mileage,
        "odometer_status": consignment.odometer_status,
        **{name: getattr(walk, name) if walk else None for name in SCORE_COLUMNS},
        "modifications": list(vehicle.modifications.order_by("pk").values_list("kind", flat=True)),
        "arrived_on": consignment.arrived_on,
        "listed_on": consignment.listed_on,
        "first_ask": asks[0] if asks else None,
        "last_ask": asks[-1] if asks else None,
    }


VEHICLE_COLUMNS = (
    "year", "make", "model", "trim", "body", "engine", "transmission", "build_class", "color", "title_brand",
)  # fmt: skip
SCORE_COLUMNS = ("condition_low", "condition_high", "originality_low", "originality_high")

# What a fit reads of each past sale.
FIT_COLUMNS = (
    *VEHICLE_COLUMNS, *SCORE_COLUMNS, "mileage", "odometer_status", "modifications", "channel", "ended_on",
    "effective_price",
)  # fmt: skip


def sales_for_fit() -> list[dict[str, Any]]:
    """Live, sold, arm's-length outcomes, in the order in which they happened."""
    return list(SaleOutcome.objects.for_fit().order_by("ended_on", "pk").values(*FIT_COLUMNS))


def newest_outcome_id() -> int:
    return SaleOutcome.objects.order_by("-pk").values_list("pk", flat=True).first() or 0


def subject(consignment: Consignment, *, on: Any) -> dict[str, Any]:
    """The vehicle as the band sees it on a day: as if it were sold on the lot then."""
    return {**snapshot(consignment), "channel": SaleChannel.LOT.value, "ended_on": on}
