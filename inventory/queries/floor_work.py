"""What of the work on vehicles wants somebody today."""

from collections.abc import Callable
from datetime import date

from inventory.queries.floor_lines import FloorLine
from inventory.queries.work import OrderSeen, open_orders
from inventory.rules.roles import Act, Actor, may
from inventory.rules.work import OUT_TOO_LONG_DAYS, Stage

Wanted = Callable[[OrderSeen, date], bool]

# what is said of one, of several, whom it is for, which they are
_LINES: tuple[tuple[str, str, Act, Wanted], ...] = (
    ("Work waits for consent: {what}", "{count} work orders wait for consent", Act.ORDER_WORK,
     lambda one, _: one.stage in {Stage.ASK, Stage.CONSENT, Stage.DECLINED}),
    ("At work for {days} days: {what}", f"{{count}} at work for more than {OUT_TOO_LONG_DAYS} days", Act.ORDER_WORK,
     lambda one, today: one.days_out(today=today) > OUT_TOO_LONG_DAYS),
    ("Back and not graded again: {what}", "{count} back and not graded again", Act.ORDER_WORK,
     lambda one, _: one.stage is Stage.REGRADE),
    ("Invoice not charged: {what}", "{count} invoices not charged", Act.ADD_CHARGE,
     lambda one, _: one.stage is Stage.CHARGE),
)  # fmt: skip


def work_lines(by: Actor, today: date) -> list[FloorLine]:
    """One line for each kind of waiting; a single vehicle has its own."""
    if not may(by, Act.ORDER_WORK):
        return []
    found = open_orders()
    lines = []
    for alone, several, act, wanted in _LINES:
        waiting = [one for one in found if wanted(one, today)] if may(by, act) else []
        if len(waiting) == 1:
            lines.append(_alone(waiting[0], text=alone, today=today))
        elif waiting:
            lines.append(FloorLine(text=several.format(count=len(waiting)), page="work_orders"))
    return lines


def _alone(one: OrderSeen, *, text: str, today: date) -> FloorLine:
    stay, days = one.row.consignment, one.days_out(today=today)
    return FloorLine(
        text=text.format(what=one.row.what, days=days), page="work", stock_number=stay.stock_number,
        vehicle=str(stay.vehicle), is_urgent=days > OUT_TOO_LONG_DAYS,
    )  # fmt: skip
