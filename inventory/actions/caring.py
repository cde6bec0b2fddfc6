"""Standing vehicles are looked after: what was done, and how often it is wanted."""

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.db import transaction

from inventory.actions import logbook
from inventory.actions.writing import add, add_all, change, locked, refuse_stale, trade_day
from inventory.errors import NotFound, Refused
from inventory.models import CareDone, CareRule, Consignment
from inventory.rules import care as rules
from inventory.rules.floor_words import CareKind
from inventory.rules.plausibility import check_not_future
from inventory.rules.roles import Act, Actor, require


@dataclass(frozen=True)
class Cared:
    """One vehicle that was seen to, with what was read at it."""

    consignment_id: int
    reading: Decimal | None = None


@transaction.atomic
def record_care(
    cared: Sequence[Cared], *, kind: str, note: str = "", on: date | None = None,
    client_key: uuid.UUID | None = None, by: Actor, at: datetime,
) -> list[CareDone]:  # fmt: skip
    """One kind of care for one vehicle or for several at once: all of them, or none. Sent again it counts once."""
    require(by, Act.SEE_LOT)
    _check_kind(kind)
    if not cared:
        raise Refused("nobody", "No vehicle is chosen.", field="stays", mend="Choose one or more.")
    today = trade_day(at)
    day = check_not_future(on or today, today=today, field="on")
    keys = {one.consignment_id: _key(client_key, stay_id=one.consignment_id) for one in cared}
    known = list(CareDone.objects.filter(client_key__in=[key for key in keys.values() if key]))
    waiting = [one for one in cared if one.consignment_id not in {row.consignment_id for row in known}]
    stays = _locked_stays([one.consignment_id for one in waiting])
    rows = [
        CareDone(
            consignment=_looked_after(stays, stay_id=one.consignment_id, day=day), kind=kind, reading=one.reading,
            unit=rules.check_reading(one.reading, kind=kind).unit if one.reading is not None else "",
            note=note.strip(), client_key=keys[one.consignment_id], on=day, by=by.name, at=at,
        )
        for one in waiting
    ]  # fmt: skip
    made = [add(row) for row in rows] if len(rows) == 1 else add_all(rows)
    logbook.record_all("care.done", [(row, row.consignment, _told(row)) for row in made], by=by, at=at)
    return [*known, *made]


def _check_kind(kind: str) -> None:
    if kind not in CareKind.values:
        raise Refused(
            "no_such_kind", f"There is no care of the kind {kind}.", field="kind", got=kind,
            mend=f"Use one of {', '.join(CareKind.values)}.",
        )  # fmt: skip


def _key(client_key: uuid.UUID | None, *, stay_id: int) -> uuid.UUID | None:
    return None if client_key is None else uuid.uuid5(client_key, str(stay_id))


def _locked_stays(ids: Sequence[int]) -> dict[int, Consignment]:
    rows = Consignment.objects.select_for_update(of=("self",)).filter(pk__in=ids).order_by("pk")
    return {row.pk: row for row in rows}


def _looked_after(stays: dict[int, Consignment], *, stay_id: int, day: date) -> Consignment:
    stay = stays.get(stay_id)
    if stay is None:
        raise NotFound("not_found", "There is no such consignment.", got=stay_id)
    if stay.arrived_on is None or stay.released_on is not None:
        raise Refused(
            "not_here", f"{stay.stock_number} is not here.", field="stays", got=stay.stock_number,
            mend="Care is recorded for vehicles on the lot.",
        )  # fmt: skip
    if day < stay.arrived_on:
        raise Refused(
            "before_arrival", f"{day} is before {stay.stock_number} arrived on {stay.arrived_on}.", field="on",
            got=day, mend=f"Give a date from {stay.arrived_on} on.",
        )  # fmt: skip
    return stay


def _told(row: CareDone) -> dict[str, str]:
    read = "" if row.reading is None else f": {row.reading.normalize():f} {row.unit}"
    return {"kind": row.get_kind_display(), "reading": read}


@transaction.atomic
def set_care_rule(
    kind: str, *, every_days: int | None, what: str = "", consignment_id: int | None = None,
    version: int | None = None, by: Actor, at: datetime,
) -> CareRule:  # fmt: skip
    """How often a kind of care is due, on the whole lot or for one stay; without days it is not wanted."""
    require(by, Act.SET_UP_FLOOR)
    _check_kind(kind)
    stay = None if consignment_id is None else locked(consignment_id)
    row = CareRule.objects.select_for_update().filter(kind=kind, consignment=stay).first()
    if row is None:
        row = add(CareRule(consignment=stay, kind=kind, every_days=every_days, what=what.strip()))
    else:
        refuse_stale(row, version=version)
        if (row.every_days, row.what) == (every_days, what.strip()):
            return row
        change(row, every_days=every_days, what=what.strip())
    often = "not wanted" if every_days is None else f"each {every_days} days"
    whose = "" if stay else ", on the whole lot"
    logbook.record("care.rule", row, by=by, at=at, consignment=stay, kind=row.get_kind_display(), often=often + whose)
    return row


@transaction.atomic
def drop_own_rule(consignment_id: int, *, kind: str, by: Actor, at: datetime) -> None:
    """The stay follows the rule of the lot again."""
    require(by, Act.SET_UP_FLOOR)
    stay = locked(consignment_id)
    row = CareRule.objects.select_for_update().filter(kind=kind, consignment=stay).first()
    if row is None:
        raise Refused(
            "no_own_rule", f"{stay.stock_number} has no rule of its own for this care.", field="how", got=kind,
            mend="It follows the rule of the lot already.",
        )  # fmt: skip
    logbook.record(
        "care.rule", row, by=by, at=at, consignment=stay, kind=row.get_kind_display(), often="as the lot does"
    )
    row.delete()


@transaction.atomic
def start_rota(*, by: Actor, at: datetime) -> int:
    """The usual set, for kinds that have no rule yet. How many were set."""
    require(by, Act.SET_UP_FLOOR)
    known = set(CareRule.objects.filter(consignment__isnull=True).values_list("kind", flat=True))
    wanted = [rule for rule in rules.STARTING_SET if rule.kind not in known]
    for rule in wanted:
        set_care_rule(rule.kind, every_days=rule.every_days, what=rule.what, by=by, at=at)
    return len(wanted)
