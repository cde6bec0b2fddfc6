"""Who of the staff shares in the commission of a stay. A share is changed by a new row; zero takes it back."""

from datetime import datetime
from decimal import Decimal

from django.db import transaction

from inventory.actions import logbook
from inventory.actions.writing import add, locked, trade_day
from inventory.errors import NotFound, Refused
from inventory.models import Consignment, StaffShare, User
from inventory.queries import facts
from inventory.queries.shares import held_beside, live_shares
from inventory.rules.floor_words import StaffPart
from inventory.rules.roles import Act, Actor, ActorKind, require
from inventory.rules.shares import WHOLE, check_percent

ZERO = Decimal(0)


@transaction.atomic
def share(
    consignment_id: int, *, user_id: int, part: str, percent: Decimal | None = None, by: Actor, at: datetime
) -> StaffShare:
    """Say who brought a vehicle in or sold it. Without a percent it is the lot's own for that part.

    A month that is over has been reckoned: what was settled in it is shared as it was.
    """
    require(by, Act.SHARE_COMMISSION)
    stay = locked(consignment_id)
    if part not in StaffPart.values:
        raise Refused(
            "part_unknown", f"“{part}” is not a part in a sale.", field="part", got=part,
            mend=f"Give one of {', '.join(StaffPart.values)}.",
        )  # fmt: skip
    user = User.objects.filter(pk=user_id).first()
    if user is None:
        raise NotFound("not_found", "There is no such member of staff.", field="user_id", got=user_id)
    _refuse_where_none(stay, at=at)
    wanted = _usual(part) if percent is None else percent
    check_percent(wanted, of_others=held_beside(stay, user_id=user.pk, part=part))
    return _append(stay, user=user, part=StaffPart(part), percent=wanted, by=by, at=at)


def share_in_sale(stay: Consignment, *, by: Actor, at: datetime) -> StaffShare | None:
    """Whoever of the staff marks a vehicle sold is put down for it, inside that transaction, where the lot shares."""
    if by.kind != ActorKind.STAFF or by.id is None:
        return None
    percent = facts.the_lot().sold_percent
    return _put_down(stay, user=User.objects.get(pk=by.id), part=StaffPart.SOLD, percent=percent, by=by, at=at)


def share_in_booking(stay: Consignment, *, user: User, by: Actor, at: datetime) -> StaffShare | None:
    """Whoever brought a prospect in is put down for it when it is booked, inside that transaction."""
    percent = facts.the_lot().brought_in_percent
    return _put_down(stay, user=user, part=StaffPart.BROUGHT_IN, percent=percent, by=by, at=at)


def _put_down(
    stay: Consignment, *, user: User, part: StaffPart, percent: Decimal, by: Actor, at: datetime
) -> StaffShare | None:
    """By the lot's own percent, where it shares and nobody holds the part already."""
    held = live_shares(stay)
    if percent <= 0 or stay.consignor.is_lot or any(row.part == part for row in held):
        return None
    if percent + sum((row.percent for row in held), ZERO) > WHOLE:
        logbook.record("share.unfit", stay, by=by, at=at, who=str(user), percent=_shown(percent))
        return None
    return _append(stay, user=user, part=part, percent=percent, by=by, at=at)


def take_back_sold(stay: Consignment, *, by: Actor, at: datetime) -> None:
    """A sale that is unwound was sold by nobody; inside that transaction."""
    for row in live_shares(stay):
        if row.part == StaffPart.SOLD:
            _append(stay, user=row.user, part=StaffPart.SOLD, percent=ZERO, by=by, at=at)


def _refuse_where_none(stay: Consignment, *, at: datetime) -> None:
    if stay.consignor.is_lot:
        raise Refused(
            "own_stock", f"{stay} is the lot's own: it has no commission.", field="user_id",
            mend="Share in consigned vehicles only.",
        )  # fmt: skip
    settled = facts.settlement_of(stay)
    today = trade_day(at)
    if settled is not None and (settled.on.year, settled.on.month) < (today.year, today.month):
        raise Refused(
            "month_is_over", f"{stay} was settled on {settled.on}: the pay report of that month stands.",
            field="percent", mend="Settle the difference with your staff apart.",
        )  # fmt: skip


def _usual(part: str) -> Decimal:
    lot = facts.the_lot()
    percent = lot.brought_in_percent if part == StaffPart.BROUGHT_IN else lot.sold_percent
    if percent <= 0:
        raise Refused(
            "no_usual_share", "The lot has set no usual share for this.", field="percent",
            mend="Give a percent, or set the usual one with the lot's settings.",
        )  # fmt: skip
    return percent


def _append(stay: Consignment, *, user: User, part: StaffPart, percent: Decimal, by: Actor, at: datetime) -> StaffShare:
    last = StaffShare.objects.filter(
        consignment=stay, user=user, part=part, followed_by__isnull=True
    ).first()  # fmt: skip
    was = last.percent if last else ZERO
    if last is not None and was == percent:
        return last
    if last is None and not percent:
        raise Refused(
            "no_share", f"{user} holds no such share of {stay}.", field="percent", got="0",
            mend="Give a percent above zero.",
        )  # fmt: skip
    row = add(
        StaffShare(
            consignment=stay, user=user, part=part, percent=percent, follows=last, on=trade_day(at), by=by.name, at=at
        )
    )  # fmt: skip
    logbook.record(
        "share.recorded", row, by=by, at=at, consignment=stay, who=str(user), part=part.label, was=_shown(was),
        percent=_shown(percent),
    )  # fmt: skip
    return row


def _shown(percent: Decimal) -> str:
    """Without zeros at the end: the log would take a Decimal for money."""
    return f"{percent.normalize():f}"
