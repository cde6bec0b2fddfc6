"""The floor of the demo lot: its bays, who stands where, whose keys hang where, the rota, and one incident."""

from datetime import date, datetime, timedelta
from decimal import Decimal

from inventory.actions import caring, incidents, placing, recording
from inventory.actions.caring import Cared
from inventory.actions.writing import trade_day
from inventory.models import Consignment
from inventory.rules.floor_words import CareKind, IncidentKind, IncidentStepKind, PlaceKind
from inventory.rules.roles import command
from inventory.rules.states import State

BY = command("demo")
BAYS = 6
SHOP, DETAIL, SHOW = "Shop", "Wash bay", "Invented Falls Sunday show"
DAY = timedelta(days=1)


def bay(place: int) -> str:
    return f"Bay {place % BAYS + 1}"


def set_up(*, at: datetime) -> None:
    """The places, before anything stands there."""
    for number in range(BAYS):
        placing.add_place(bay(number), kind=PlaceKind.BAY, order=number + 1, by=BY, at=at)
    placing.add_place(SHOP, kind=PlaceKind.SHOP, not_for_sale=True, by=BY, at=at)
    placing.add_place(DETAIL, kind=PlaceKind.DETAIL, by=BY, at=at)
    placing.add_place(SHOW, kind=PlaceKind.EVENT, by=BY, at=at)


def load(*, at: datetime) -> None:
    """What happened on the floor in the last days."""
    here = list(Consignment.objects.still_here().exclude(state=State.BOOKED).order_by("pk"))
    for number, stay in enumerate(here, start=1):
        placing.set_key_tag(stay.pk, key_tag=f"K{number:02d}", by=BY, at=at)
    inspected = [stay for stay in here if stay.state == State.INSPECTED]
    listed = [stay for stay in here if stay.state == State.LISTED]
    if len(inspected) < 3 or len(listed) < 6:
        return
    _move(inspected, listed=listed, at=at)
    _care(listed, at=at)
    _incident(inspected[0], at=at)


def _move(inspected: list[Consignment], *, listed: list[Consignment], at: datetime) -> None:
    """Two are worked on, one is out for longer than it should be, one has its keys with somebody."""
    recording.record_place(
        inspected[1].pk, place=SHOP, keys="With the mechanic", expected_back_on=trade_day(at) + 2 * DAY,
        note="brake lines", by=BY, at=at - 2 * DAY,
    )  # fmt: skip
    recording.record_place(inspected[2].pk, place=DETAIL, keys="Hook 8", by=BY, at=at - DAY)
    recording.record_place(
        listed[1].pk, place=SHOW, keys="Sol Amberley", expected_back_on=trade_day(at) - DAY, by=BY, at=at - 3 * DAY
    )
    placing.hand_keys(listed[2].pk, keys="Sol Amberley", note="a showing", by=BY, at=at)


def _care(listed: list[Consignment], *, at: datetime) -> None:
    """The usual rota; some of what is for sale was seen to, so that today asks for the rest."""
    caring.start_rota(by=BY, at=at)
    seen = [Cared(stay.pk) for stay in listed if _arrived(stay) <= trade_day(at) - 10 * DAY][:6]
    caring.record_care(seen, kind=CareKind.COVER, by=BY, at=at - 3 * DAY)
    caring.record_care(seen[:4], kind=CareKind.START_UP, by=BY, at=at - 5 * DAY)
    for one, volts in zip(seen[:3], ("12.62", "12.31", "12.48"), strict=False):
        read = [Cared(one.consignment_id, Decimal(volts))]
        caring.record_care(read, kind=CareKind.BATTERY, by=BY, at=at - 4 * DAY)


def _arrived(stay: Consignment) -> date:
    return stay.arrived_on or stay.booked_on


def _incident(stay: Consignment, *, at: datetime) -> None:
    row = incidents.log_incident(
        stay.pk, kind=IncidentKind.DAMAGE, what="A hand truck rolled against the left door: a dent, two inches across.",
        where="between bays 1 and 2", by=BY, at=at - DAY,
    )  # fmt: skip
    incidents.add_step(
        row.pk, kind=IncidentStepKind.INSURER_TOLD, text="by phone; they want pictures", by=BY, at=at - DAY
    )
