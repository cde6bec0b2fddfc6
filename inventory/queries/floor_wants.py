"""What places, care and incidents want today, as lines of the lot screen."""

from datetime import date

from inventory.queries import places
from inventory.queries.care import care_lines
from inventory.queries.floor_lines import FloorLine
from inventory.queries.incidents import open_incidents
from inventory.rules.roles import Actor


def overdue_back(by: Actor, today: date) -> list[FloorLine]:
    """Vehicles that should have been back by now."""
    return [
        FloorLine(
            text=f"Overdue back from {where.place}, expected {where.expected_back_on}", page="move_vehicle",
            stock_number=stay.stock_number, vehicle=str(stay.vehicle), is_urgent=True,
        )
        for stay, where in places.overdue_back(today=today)
    ]  # fmt: skip


def care_wanted(by: Actor, today: date) -> list[FloorLine]:
    count = len({line.stay_id for line in care_lines(today=today)})
    if not count:
        return []
    return [FloorLine(text="One vehicle wants care" if count == 1 else f"{count} vehicles want care", page="care")]


def incidents_open(by: Actor, today: date) -> list[FloorLine]:
    """Each with what is missing; it waits until everybody who has to know was told."""
    return [
        FloorLine(
            text=seen.said, page="vehicle_incidents", stock_number=seen.row.consignment.stock_number,
            vehicle=str(seen.row.consignment.vehicle), is_urgent=bool(seen.missing),
        )
        for seen in open_incidents()
    ]  # fmt: skip
