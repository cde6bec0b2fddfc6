"""The people of the demo lot: what was said, a pair of doubles, and who shares in the commissions."""

from datetime import datetime, timedelta
from decimal import Decimal

from inventory.actions import merging, people, recording, sharing
from inventory.actions.contacting import contact_for
from inventory.actions.writing import trade_day
from inventory.models import Consignment, Consignor, Settlement, User
from inventory.rules.floor_words import StaffPart
from inventory.rules.roles import Role, command
from inventory.rules.states import State

BY = command("demo")
_CALLS = (
    ("phone", "from_them", "Asked how the week went. Told of two inquiries and one showing.", 6),
    ("message", "to_them", "Sent the new pictures of the engine bay.", 4),
    ("phone", "from_them", "Would listen to offers a little below the ask.", 2),
)


def load(*, at: datetime) -> None:
    _merge_most(at=at)
    _talk(at=at)
    _call(at=at)
    _share(at=at)


def _merge_most(*, at: datetime) -> None:
    """Whoever brought several vehicles was typed in each time: merged, but for one pair that is left to look at."""
    first: dict[str, Consignor] = {}
    rows = list(Consignor.objects.filter(is_lot=False).order_by("pk"))
    left_alone = rows[-1].name if rows else ""
    for row in rows:
        into = first.setdefault(row.name, row)
        if into != row and (row.name != left_alone or row != rows[-1]):
            merging.merge("consignors", double_id=row.pk, into_id=into.pk, by=BY, at=at - timedelta(days=3))


def _talk(*, at: datetime) -> None:
    for stay in Consignment.objects.filter(state=State.LISTED).order_by("pk")[:3]:
        for way, direction, text, days in _CALLS:
            people.log_note(
                "consignors", person_id=stay.consignor_id, way=way, direction=direction, text=text,
                consignment_id=stay.pk, on=trade_day(at - timedelta(days=days)), by=BY, at=at,
            )  # fmt: skip


def _call(*, at: datetime) -> None:
    """Two contacts who are one person: once with the number alone, once with the e-mail."""
    first = contact_for(name="Ottilie Varga", phone="555-0177-204", by=BY, at=at)
    second = contact_for(name="O. Varga", email="ottilie@example.org", by=BY, at=at)
    if first is None or second is None:
        return
    people.correct_person("contacts", person_id=second.pk, values={"phone": "(555) 0177 204"}, by=BY, at=at)
    people.log_note(
        "contacts", person_id=first.pk, way="phone", direction="from_them", by=BY, at=at,
        text="Looks for something closed, from the fifties, that starts in winter.",
    )  # fmt: skip


def _share(*, at: datetime) -> None:
    """Recorded on the day of the statement, where there is one: a month that is over stands."""
    recording.change_lot({"brought_in_percent": Decimal(10), "sold_percent": Decimal("12.5")}, by=BY, at=at)
    staff = {row.role: row for row in User.objects.order_by("pk")}
    settled = {row.consignment_id: row.at for row in Settlement.objects.order_by("pk")}
    stays = Consignment.objects.filter(state__in=[State.SOLD, State.SETTLED], consignor__is_lot=False).order_by("pk")
    for number, stay in enumerate(stays):
        told_at = settled.get(stay.pk, at)
        sharing.share(stay.pk, user_id=staff[Role.SALES].pk, part=StaffPart.SOLD, by=BY, at=told_at)
        if number % 2 == 0:
            sharing.share(stay.pk, user_id=staff[Role.INTAKE].pk, part=StaffPart.BROUGHT_IN, by=BY, at=told_at)
