"""Work on the demo's vehicles, and one that the lot owns itself."""

from datetime import datetime, timedelta
from decimal import Decimal

from inventory.actions import owning, working
from inventory.actions.intake import Arrival
from inventory.actions.owning import Cost
from inventory.actions.working import NewOrder
from inventory.models import Consignment
from inventory.rules.catalogue import CHECKS
from inventory.rules.floor_words import OwnCostKind
from inventory.rules.roles import command
from inventory.rules.states import State
from inventory.rules.words import BornBy, ChargeKind, OdometerStatus

BY = command("demo")
VENDOR = "Pell & Sorrel, brakes (invented)"
WHAT = "Brakes: renew lines and hoses, see to the failure lamp"


def load(*, at: datetime) -> None:
    """One order that waits for consent, one that is back to be graded again, one vehicle of the lot's own."""
    listed = Consignment.objects.filter(state=State.LISTED, consignor__is_lot=False).order_by("-pk")[:2]
    for stay, do in zip(listed, (_ask, _bring_back), strict=False):
        do(stay, at=at)
    _buy(at=at)


def _brakes() -> tuple[str, ...]:
    return tuple(code for code in CHECKS if "brake" in code)[:2]


def _ask(stay: Consignment, *, at: datetime) -> None:
    order = NewOrder(
        what=WHAT, checks=_brakes(), vendor=VENDOR, estimate=Decimal("1240.00")
    )  # fmt: skip
    row = working.open_order(stay.pk, order=order, by=BY, at=at - timedelta(days=2))
    working.ask_consignor(row.pk, by=BY, at=at - timedelta(days=2))


def _bring_back(stay: Consignment, *, at: datetime) -> None:
    order = NewOrder(what=WHAT, checks=_brakes(), borne_by=BornBy.LOT, estimate=Decimal("310.00"))
    row = working.open_order(stay.pk, order=order, by=BY, at=at - timedelta(days=6))
    working.send_out(row.pk, place="Lift 2", keys="Shop board", by=BY, at=at - timedelta(days=5))
    working.bring_back(
        row.pk, place="Bay 4", keys="Hook 15", found="mended, tried on the lift", by=BY, at=at - timedelta(days=1)
    )


def _buy(*, at: datetime) -> None:
    bought = at - timedelta(days=18)
    arrival = Arrival(
        year=1971, make="Merrow", model="Heron", body="estate", transmission="manual", color="sand", mileage=88400,
        odometer_status=OdometerStatus.NOT_STATED, vin="TH71-20418",
    )  # fmt: skip
    stay = owning.buy_vehicle(arrival, price=Decimal("9400.00"), paid_to="Estate of R. Quill", by=BY, at=bought)
    for kind, what, amount in (
        (OwnCostKind.TRANSPORT, "brought from the estate", "380.00"),
        (OwnCostKind.PAPERWORK, "title, plates", "95.00"),
    ):
        cost = Cost(kind=kind, what=what, amount=Decimal(amount))
        owning.add_cost(stay.pk, cost=cost, by=BY, at=bought + timedelta(days=1))
    order = NewOrder(kind=ChargeKind.DETAIL, what="Clean it inside and out", estimate=Decimal("240.00"))
    working.open_order(stay.pk, order=order, by=BY, at=bought + timedelta(days=2))
