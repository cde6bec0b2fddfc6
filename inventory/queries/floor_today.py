"""What the floor wants today, from every corner of it. Each source asks a constant number of queries."""

from collections.abc import Callable
from datetime import date, datetime

from django.utils import timezone

from inventory.queries import floor_wants
from inventory.queries.drives import drives_out_long
from inventory.queries.floor_lines import FloorLine
from inventory.queries.floor_work import work_lines
from inventory.queries.follow_ups import follow_ups_today
from inventory.queries.shown import shown_wrong
from inventory.queries.vehicles_to_come import to_follow_up
from inventory.rules.roles import Actor

OfDay = Callable[[Actor, date], list[FloorLine]]
OfMoment = Callable[[Actor, datetime], list[FloorLine]]

# What many vehicles want at once is one line with their number; one vehicle's own trouble is a line of its own.
_OF_MOMENT: tuple[OfMoment, ...] = (drives_out_long,)
_OF_DAY: tuple[OfDay, ...] = (
    follow_ups_today,
    shown_wrong,
    to_follow_up,
    work_lines,
    floor_wants.overdue_back,
    floor_wants.incidents_open,
    floor_wants.care_wanted,
)


def floor_today(*, by: Actor, at: datetime) -> list[FloorLine]:
    """For whoever may do it; what is urgent first."""
    today = timezone.localdate(at)
    lines = [line for source in _OF_MOMENT for line in source(by, at)]
    lines += [line for source in _OF_DAY for line in source(by, today)]
    return sorted(lines, key=lambda line: not line.is_urgent)
