"""Past sales as plain rows, and the snapshot a stay leaves behind."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from inventory.models import AskChange, Consignment, IntakeInspection, MarketSale, Modification, SaleOutcome
from inventory.queries.facts import finished_inspection
from inventory.rules.elsewhere_words import kind_of
from inventory.rules.states import BEFORE_SOLD, State
from inventory.rules.words import SaleChannel


def live_outcome(consignment: Consignment) -> SaleOutcome | None:
    """The end of the stay's chain of outcomes, whatever it says."""
    return SaleOutcome.objects.filter(consignment=consignment, followed_by__isnull=True).first()


def snapshot(consignment: Consignment) -> dict[str, Any]:
    """The vehicle as it is now, in the columns of the history. Missing stays missing."""
    asks = AskChange.objects.filter(consignment=consignment).order_by("pk").values_list("amount", flat=True)
    kinds = consignment.vehicle.modifications.order_by("pk").values_list("kind", flat=True)
    return _columns(consignment, walk=finished_inspection(consignment), asks=list(asks), modifications=list(kinds))


def _columns(
    stay: Consignment, *, walk: IntakeInspection | None, asks: Sequence[Decimal], modifications: list[str]
) -> dict[str, Any]:
    return {
        "stock_number": stay.stock_number,
        "vin": stay.vehicle.serial,
        **{name: getattr(stay.vehicle, name) for name in VEHICLE_COLUMNS},
        "mileage": stay.mileage,
        "odometer_status": stay.odometer_status,
        **{name: getattr(walk, name) if walk else None for name in SCORE_COLUMNS},
        "modifications": modifications,
        "arrived_on": stay.arrived_on,
        "listed_on": stay.listed_on,
        "first_ask": asks[0] if asks else None,
        "last_ask": asks[-1] if asks else None,
    }


VEHICLE_COLUMNS = (
    "year", "make", "model", "trim", "body", "engine", "transmission", "build_class", "color", "title_brand",
)  # fmt: skip
SCORE_COLUMNS = ("condition_low", "condition_high", "originality_low", "originality_high")

# What a fit reads of each past sale.
FIT_COLUMNS = (
    "id", *VEHICLE_COLUMNS, *SCORE_COLUMNS, "mileage", "odometer_status", "modifications", "channel", "ended_on",
    "effective_price",
)  # fmt: skip


def sales_for_fit() -> list[dict[str, Any]]:
    """Live, sold, arm's-length outcomes, in the order in which they happened."""
    return list(SaleOutcome.objects.for_fit().order_by("ended_on", "pk").values(*FIT_COLUMNS))


# What a fit reads of each sale elsewhere.
ELSEWHERE_COLUMNS = (
    "id", *VEHICLE_COLUMNS, *SCORE_COLUMNS, "mileage", "odometer_status", "modifications", "channel", "ended_on",
    "price", "source", "sold", "premium",
)  # fmt: skip


def elsewhere_for_fit() -> list[dict[str, Any]]:
    """Sales elsewhere as they stand, with their `kind`, in the order in which they happened."""
    return with_kind(MarketSale.objects.live().order_by("ended_on", "pk").values(*ELSEWHERE_COLUMNS))


def with_kind(rows: Iterable[dict[str, Any]]) -> list[dict[str, Any]]:
    return [row | {"kind": kind_of(sold=row["sold"], premium=row["premium"])} for row in rows]


def newest_elsewhere_id() -> int:
    return MarketSale.objects.order_by("-pk").values_list("pk", flat=True).first() or 0


def count_for_fit() -> int:
    return SaleOutcome.objects.for_fit().count()


def newest_outcome_id() -> int:
    return SaleOutcome.objects.order_by("-pk").values_list("pk", flat=True).first() or 0


def subject(consignment: Consignment, *, on: Any) -> dict[str, Any]:
    """The vehicle as the band sees it on a day: as if it were sold on the lot then."""
    return {**snapshot(consignment), "channel": SaleChannel.LOT.value, "ended_on": on}


STOCK = tuple(state for state in BEFORE_SOLD if state != State.BOOKED)


def stock_subjects(*, on: date, states: Sequence[State] = STOCK) -> list[tuple[Consignment, dict[str, Any]]]:
    """Every vehicle that stands on the lot unsold, as `subject` sees it: in four queries, however many there are."""
    stock = Consignment.objects.filter(state__in=states)
    walks, asks, kinds = {}, defaultdict(list), defaultdict(list)
    for walk in IntakeInspection.objects.filter(consignment__in=stock, finished_at__isnull=False).order_by("number"):
        walks[walk.consignment_id] = walk  # the last one counts
    for stay_id, amount in (
        AskChange.objects.filter(consignment__in=stock).order_by("pk").values_list("consignment_id", "amount")
    ):
        asks[stay_id].append(amount)
    for vehicle_id, kind in (
        Modification.objects.filter(vehicle__consignments__in=stock).order_by("pk").values_list("vehicle_id", "kind")
    ):
        kinds[vehicle_id].append(kind)
    day = {"channel": SaleChannel.LOT.value, "ended_on": on}
    return [
        (stay, _columns(
            stay, walk=walks.get(stay.pk), asks=asks[stay.pk], modifications=kinds[stay.vehicle_id]) | day
        )
        for stay in stock.select_related("vehicle", "consignor").order_by("pk")
    ]  # fmt: skip
