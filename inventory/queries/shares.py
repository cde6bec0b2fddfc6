"""Who shares in the commission of one stay."""

from dataclasses import dataclass
from decimal import Decimal

from inventory.models import Consignment, Lot, StaffShare, User
from inventory.queries import facts
from inventory.rules.shares import WHOLE


@dataclass(frozen=True)
class SharesPage:
    """What is held now, what was before, and what is left to the lot."""

    live: tuple[StaffShare, ...]
    before: tuple[StaffShare, ...]
    left: Decimal
    lot: Lot


def page_of(stay: Consignment) -> SharesPage:
    rows = StaffShare.objects.filter(consignment=stay).select_related("user").order_by("-pk")
    live = live_shares(stay)
    ids = {row.pk for row in live}
    left = WHOLE - sum((row.percent for row in live), Decimal(0))
    return SharesPage(tuple(live), tuple(row for row in rows if row.pk not in ids), left, facts.the_lot())


def live_shares(stay: Consignment) -> list[StaffShare]:
    return list(StaffShare.objects.live().filter(consignment=stay).select_related("user").order_by("pk"))


def held_beside(stay: Consignment, *, user_id: int, part: str) -> Decimal:
    """The percent that others hold, and the same person for the other part."""
    others = (row for row in live_shares(stay) if (row.user_id, row.part) != (user_id, part))
    return sum((row.percent for row in others), Decimal(0))


def staff_choices(stay: Consignment) -> list[tuple[int, str]]:
    """Who may sign in, and whoever holds a share already."""
    held = {row.user_id: str(row.user) for row in live_shares(stay)}
    active = {row.pk: str(row) for row in User.objects.filter(is_active=True).order_by("full_name", "username")}
    return list({**active, **held}.items())
