"""What every kind of sheet may say of a vehicle. None means unknown."""

from dataclasses import dataclass
from decimal import Decimal

from inventory.rules.words import OdometerStatus


@dataclass(frozen=True, slots=True, kw_only=True)
class VehicleTold:
    year: int
    make: str
    model: str
    vin: str | None = None
    trim: str | None = None
    body: str | None = None
    engine: str | None = None
    transmission: str | None = None
    build_class: str | None = None
    color: str | None = None
    mileage_mi: int | None = None
    odometer_status: str = OdometerStatus.NOT_STATED.value
    title_brand: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ScoredTold(VehicleTold):
    """Of a vehicle that was sold: how it was, too."""

    condition_low: Decimal | None = None
    condition_high: Decimal | None = None
    originality_low: Decimal | None = None
    originality_high: Decimal | None = None
    modifications: tuple[str, ...] | None = None
    """None where nothing is said, () where there are said to be none."""
