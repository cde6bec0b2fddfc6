"""The places of the lot are set up; keys go from hand to hand. Where a vehicle stands is `recording.record_place`."""

import uuid
from datetime import datetime
from typing import Any

from django.db import transaction

from inventory.actions import logbook
from inventory.actions.writing import add, again, change, locked, refuse_stale
from inventory.errors import NotFound, Refused
from inventory.models import Consignment, Movement, Place
from inventory.queries.places import standing_at
from inventory.rules.roles import Act, Actor, require

PLACE_FACTS = frozenset({"name", "kind", "not_for_sale", "order"})


@transaction.atomic
def hand_keys(
    consignment_id: int, *, keys: str, note: str = "", client_key: uuid.UUID | None = None, by: Actor, at: datetime
) -> Movement:
    """The keys go to somebody or to a hook; the vehicle stays where it is."""
    require(by, Act.SEE_LOT)
    stay = locked(consignment_id)
    if (known := again(Movement, client_key=client_key)) is not None:
        return known
    last = stay.movements.select_related("at_place").order_by("-pk").first()
    if last is None:
        raise Refused(
            "no_place", f"Where {stay.stock_number} stands is not recorded.", field="keys", got=keys,
            mend="Record its place together with the keys.",
        )  # fmt: skip
    if not keys.strip():
        raise Refused(
            "empty", "Nobody is named.", field="keys", mend="Say who has the keys, or on which hook they are."
        )
    row = add(
        Movement(
            consignment=stay, place=last.place, at_place=last.at_place, not_for_sale=last.not_for_sale,
            expected_back_on=last.expected_back_on, keys=keys.strip(), note=note.strip() or last.note,
            client_key=client_key, by=by.name, at=at,
        )
    )  # fmt: skip
    logbook.record("movement.keys", row, by=by, at=at, consignment=stay, keys=row.keys)
    return row


@transaction.atomic
def set_key_tag(
    consignment_id: int, *, key_tag: str, version: int | None = None, by: Actor, at: datetime
) -> Consignment:
    """The tag on the keys; one tag hangs on the keys of one vehicle that is here."""
    require(by, Act.SEE_LOT)
    stay = locked(consignment_id, version=version)
    tag, was = key_tag.strip(), stay.key_tag
    if tag == was:
        return stay
    if tag:
        _refuse_taken(tag, stay=stay)
    change(stay, key_tag=tag)
    logbook.record(
        "movement.key_tag", stay, by=by, at=at, now=tag or "none", was=f", before {was}" if was else "",
    )  # fmt: skip
    return stay


def _refuse_taken(tag: str, *, stay: Consignment) -> None:
    others = Consignment.objects.still_here().exclude(pk=stay.pk).select_related("vehicle")
    other = others.filter(key_tag__iexact=tag).first()
    if other is not None:
        raise Refused(
            "tag_taken", f"Tag {tag} is on the keys of {other.stock_number}, {other.vehicle}.", field="key_tag",
            got=tag, mend="Take another tag, or take this one off those keys first.",
        )  # fmt: skip


@transaction.atomic
def add_place(name: str, *, kind: str, not_for_sale: bool = False, order: int = 0, by: Actor, at: datetime) -> Place:
    require(by, Act.SET_UP_FLOOR)
    row = add(Place(name=name.strip(), kind=kind, not_for_sale=not_for_sale, order=order))
    logbook.record("place.added", row, by=by, at=at, name=row.name)
    return row


@transaction.atomic
def change_place(
    place_id: int, *, values: dict[str, Any], retired: bool = False, version: int | None = None, by: Actor,
    at: datetime,
) -> Place:  # fmt: skip
    """Rename or retire a place. What was moved there before keeps the name it had."""
    require(by, Act.SET_UP_FLOOR)
    row = Place.objects.select_for_update().filter(pk=place_id).first()
    if row is None:
        raise NotFound("not_found", "There is no such place.", got=place_id)
    refuse_stale(row, version=version)
    unknown = sorted(set(values) - PLACE_FACTS)
    if unknown:
        raise Refused(
            "not_editable", f"{', '.join(unknown)} cannot be changed here.", field=unknown[0],
            mend=f"These can: {', '.join(sorted(PLACE_FACTS))}.",
        )  # fmt: skip
    changed = {name: value for name, value in values.items() if getattr(row, name) != value}
    if retired != (row.retired_at is not None):
        if retired:
            _refuse_if_taken(row)
        changed["retired_at"] = at if retired else None
    if changed:
        change(row, **changed)
        told = ["retired" if name == "retired_at" and retired else name for name in sorted(changed)]
        logbook.record("place.changed", row, by=by, at=at, name=row.name, fields=", ".join(told))
    return row


def _refuse_if_taken(place: Place) -> None:
    standing = standing_at(place)
    if standing:
        raise Refused(
            "place_taken", f"{', '.join(standing)} stands at {place.name}.", field="retired", got=place.name,
            mend="Move what stands there first.",
        )  # fmt: skip
