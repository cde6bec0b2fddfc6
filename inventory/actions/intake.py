"""A vehicle arrives: vehicle, consignor and consignment are logged together."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db import transaction

from inventory.actions import logbook
from inventory.actions.moving import move
from inventory.actions.writing import add, change, locked_lot, refuse_stale, trade_day
from inventory.errors import NotFound, Refused
from inventory.models import Consignment, Consignor, IdentityNumber, Lot, Vehicle
from inventory.rules import identity
from inventory.rules.plausibility import check_not_future
from inventory.rules.roles import Act, Actor, require
from inventory.rules.states import State
from inventory.rules.words import Basis, IdentityKind, OdometerStatus, SerialKind


@dataclass(frozen=True, kw_only=True)
class Arrival:
    """What is logged about an arriving vehicle. Empty means not known."""

    year: int
    year_built: int | None = None
    make: str
    model: str
    trim: str = ""
    body: str = ""
    engine: str = ""
    transmission: str = ""
    color: str = ""
    build_class: str = ""
    title_brand: str = ""
    vin: str = ""
    vin_reason: str = ""
    vin_read_off: str = IdentityKind.DASH_PLATE
    is_told: bool = False  # by the owner, of a vehicle that nobody of the lot has seen
    mileage: int | None = None
    odometer_status: str = OdometerStatus.NOT_STATED
    arrived_on: date | None = None
    booked_only: bool = False
    consignor_id: int | None = None
    consignor_name: str = ""
    consignor_email: str = ""
    consignor_phone: str = ""
    note: str = ""
    stock_number: str = ""  # the lot's own, of a vehicle that was here before the books were; empty: the next one
    key_tag: str = ""
    imported_with_id: int | None = None
    content_hash: str = ""


VEHICLE_FACTS = (
    "year", "year_built", "make", "model", "trim", "body", "engine", "transmission", "color", "build_class",
    "title_brand",
)  # fmt: skip


@transaction.atomic
def log_vehicle(arrival: Arrival, *, by: Actor, at: datetime) -> Consignment:
    """Log one stay of one vehicle; a vehicle known by its number comes back as itself."""
    require(by, Act.LOG_VEHICLE)
    return log_stay(arrival, by=by, at=at)


def log_stay(arrival: Arrival, *, by: Actor, at: datetime) -> Consignment:
    """The same inside the caller's transaction, for whoever may do the deed that this is part of."""
    today = trade_day(at)
    _check_years({"year": arrival.year, "year_built": arrival.year_built}, today=today)
    if arrival.arrived_on is not None:
        check_not_future(arrival.arrived_on, today=today, field="arrived_on")
    lot = locked_lot()  # one stock number at a time
    vehicle = _vehicle(arrival, by=by, at=at)
    consignor = _consignor(arrival, by=by, at=at)
    _refuse_second_stay(vehicle)
    row = add(
        Consignment(
            stock_number=arrival.stock_number or _next_stock_number(lot, year=today.year),
            vehicle=vehicle,
            consignor=consignor,
            state_at=at,
            state_by=by.name,
            booked_on=today,
            arrived_on=None if arrival.booked_only else arrival.arrived_on or today,
            mileage=arrival.mileage,
            odometer_status=arrival.odometer_status,
            note=arrival.note,
            key_tag=arrival.key_tag,
            imported_with_id=arrival.imported_with_id,
            content_hash=arrival.content_hash,
        )
    )
    logbook.record("vehicle.logged", row, by=by, at=at, stock_number=row.stock_number, vehicle=str(vehicle))
    if arrival.booked_only:
        return row
    return move(row.pk, to=State.ON_LOT, by=by, at=at)


@transaction.atomic
def correct_vehicle(
    vehicle_id: int, *, values: dict[str, Any], by: Actor, at: datetime, version: int | None = None
) -> Vehicle:
    """Change facts of the vehicle; the number it is known by goes through the same checks as on arrival."""
    require(by, Act.RECORD_FACTS)
    row = Vehicle.objects.select_for_update().filter(pk=vehicle_id).first()
    if row is None:
        raise NotFound("not_found", "There is no such vehicle.", got=vehicle_id)
    refuse_stale(row, version=version)
    values = dict(values)
    _check_years(values, today=trade_day(at))
    if "vin_reason" in values and "vin" not in values:
        raise Refused(
            "reason_alone", "A reason is given without the number it is for.", field="vin",
            mend="Give the number with it.",
        )  # fmt: skip
    if "vin" in values:
        year = values.get("year", row.year)
        reason = values.pop("vin_reason", row.serial_reason)
        values |= _serial(values.pop("vin"), year=year, reason=reason)
        _refuse_known_number(row.pk, values=values, make=values.get("make", row.make), year=year)
    changed = {name: value for name, value in values.items() if getattr(row, name) != value}
    if not changed:
        return row
    stay = row.consignments.filter(released_on__isnull=True).first()
    before = {name: getattr(row, name) for name in changed}
    change(row, **changed)
    logbook.record(
        "vehicle.corrected", row, by=by, at=at, consignment=stay,
        fields=", ".join(sorted(changed)), was=before, now=changed,
    )  # fmt: skip
    return row


def _check_years(values: dict[str, Any], *, today: date) -> None:
    """The year it is titled as and the year it was built are two facts; either may be given without the other."""
    for name, what in (("year", "model year"), ("year_built", "year built")):
        if values.get(name) is not None:
            identity.check_year(values[name], today=today, field=name, what=what)


def _vehicle(arrival: Arrival, *, by: Actor, at: datetime) -> Vehicle:
    number = _serial(arrival.vin, year=arrival.year, reason=arrival.vin_reason)
    facts = {name: getattr(arrival, name) for name in VEHICLE_FACTS}
    known = _known(number, make=arrival.make, year=arrival.year)
    if known is None:
        vehicle = add(Vehicle(**facts, **number, created_at=at))
    else:
        given = {name: value for name, value in facts.items() if value not in ("", None)}
        if arrival.is_told:  # what is told never takes the place of what is on record
            given = {name: value for name, value in given.items() if getattr(known, name) in ("", None)}
        vehicle = change(known, **given, serial_reason=number["serial_reason"] or known.serial_reason)
    if number["serial"] and arrival.vin_read_off:  # nobody has read it off the vehicle where that is not said
        add(
            IdentityNumber(
                vehicle=vehicle, kind=arrival.vin_read_off, value=number["serial"],
                basis=_basis_of(arrival), place=TOLD_BEFORE if arrival.is_told else "", by=by.name, at=at,
            )
        )  # fmt: skip
    if number["serial_reason"]:
        found = identity.assess(arrival.vin, year=arrival.year).of(identity.Severity.WARNING)
        logbook.record(
            "vehicle.serial_overridden", vehicle, by=by, at=at, serial=number["serial"],
            reason=number["serial_reason"], finding=" ".join(finding.message for finding in found),
        )  # fmt: skip
    return vehicle


TOLD_BEFORE = "told by the owner before arrival"


def _basis_of(arrival: Arrival) -> Basis:
    if arrival.is_told:
        return Basis.TOLD
    return Basis.DOCUMENTED if arrival.vin_read_off == IdentityKind.TITLE else Basis.SEEN


def _serial(text: str, *, year: int, reason: str) -> dict[str, str]:
    """The number's columns. A warning needs a reason; a reason without a warning is not kept."""
    found = identity.assess(text, year=year)
    if text.strip():  # a number may be missing on arrival; listing asks for it
        identity.require_answers(found, reason=reason)
    warned = any(finding.severity == identity.Severity.WARNING for finding in found.findings)
    return {
        "serial": found.value,
        "serial_kind": found.kind,
        "serial_reason": reason.strip() if warned and found.value else "",
    }


def _known(number: dict[str, str], *, make: str, year: int) -> Vehicle | None:
    rows = Vehicle.objects.select_for_update()
    if number["serial_kind"] == SerialKind.VIN:
        return rows.filter(serial_kind=SerialKind.VIN, serial=number["serial"]).first()
    if number["serial_kind"] == SerialKind.SERIAL:
        return rows.filter(serial_kind=SerialKind.SERIAL, serial=number["serial"], make__iexact=make, year=year).first()
    return None


def _refuse_known_number(vehicle_id: int, *, values: dict[str, Any], make: str, year: int) -> None:
    other = _known(values, make=make, year=year)
    if other is not None and other.pk != vehicle_id:
        raise Refused(
            "number_known",
            f"The number {values['serial']} belongs to {other} already.",
            field="vin",
            got=values["serial"],
            mend="Check the number on the vehicle.",
        )


def _refuse_second_stay(vehicle: Vehicle) -> None:
    stay = vehicle.consignments.filter(released_on__isnull=True).first()
    if stay is not None:
        raise Refused(
            "already_here",
            f"The vehicle with the number {vehicle.serial} is here already, as {stay.stock_number} "
            f"({stay.get_state_display()}).",
            field="vin",
            got=vehicle.serial,
            mend=f"Open {stay.stock_number}, or release it first.",
        )


def _consignor(arrival: Arrival, *, by: Actor, at: datetime) -> Consignor:
    if arrival.consignor_id is not None:
        known = Consignor.objects.select_related("merged_into").filter(pk=arrival.consignor_id).first()
        if known is None or known.erased_at is not None:
            raise NotFound("not_found", "There is no such consignor.", field="consignor")
        return known.merged_into or known
    row = add(
        Consignor(
            name=arrival.consignor_name.strip(), email=arrival.consignor_email.strip(),
            phone=arrival.consignor_phone.strip(), created_at=at,
        )
    )  # fmt: skip
    logbook.record("consignor.added", row, by=by, at=at, name=row.name)
    return row


def _next_stock_number(lot: Lot, *, year: int) -> str:
    """Counted under the lot's lock, so that no number is given twice."""
    prefix = identity.next_stock_number(None, year=year)[:3]
    taken = Consignment.objects.filter(stock_number__startswith=prefix).values_list("stock_number", flat=True)
    return identity.next_stock_number(identity.highest_stock_number(taken), year=year)
