"""What was measured or read off a vehicle is recorded: tyres, engine, driveline, electrics and fluid."""

import uuid
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from decimal import Decimal
from typing import Any, TypeVar

from django.db import transaction

from inventory.actions import logbook
from inventory.actions.writing import add, again, locked
from inventory.errors import Refused
from inventory.models import (
    Consignment,
    DrivelineFigures,
    ElectricFigures,
    EngineFigures,
    TyreRecord,
)
from inventory.models.figures import Statement
from inventory.queries.facts import open_inspection
from inventory.queries.figures import LABELS, NOTHING
from inventory.rules.figure_ranges import RANGES, check_displacement, check_figure, check_pressures
from inventory.rules.roles import Act, Actor, require
from inventory.rules.tyre_meaning import ROAD_POSITIONS
from inventory.rules.words import TyrePosition

Row = TypeVar("Row", bound=Statement)

FOLLOWER_OF = {"stated_displacement": "displacement_unit", "rest_volts": "rest_hours"}
"""A figure and what belongs to it: never one of an earlier reading with the other of a later one."""

ALIKE = ("size", "rim")
"""What four tyres may share. The TIN is each tyre's own."""


@dataclass(frozen=True, kw_only=True)
class Measured:
    """What was read at once, and on what it rests. A figure that is given as nothing is taken back."""

    figures: Mapping[str, Any] = field(default_factory=dict)
    basis: str
    note: str = ""
    client_key: uuid.UUID | None = None


@transaction.atomic
def record_tyre(
    consignment_id: int, *, position: str, measured: Measured, all_four: bool = False, by: Actor, at: datetime
) -> TyreRecord:
    """Write what was read off one tyre; with `all_four`, size and rim of the other three on the road as well."""
    require(by, Act.INSPECT)
    stay = locked(consignment_id)
    if (known := again(TyreRecord, client_key=measured.client_key)) is not None:
        return known
    if all_four:
        _refuse_alike(position, measured)
    row = _write_tyre(stay, position=position, measured=measured, by=by, at=at)
    if all_four:
        shared = {name: measured.figures[name] for name in ALIKE if name in measured.figures}
        for other in ROAD_POSITIONS:
            if other != position:
                key = uuid.uuid5(measured.client_key, other) if measured.client_key else None
                alike = replace(measured, figures=shared, note="", client_key=key)
                _write_tyre(stay, position=other, measured=alike, by=by, at=at)
    return row


def _write_tyre(stay: Consignment, *, position: str, measured: Measured, by: Actor, at: datetime) -> TyreRecord:
    row = add(_row(TyreRecord, stay=stay, measured=measured, by=by, at=at, position=position))
    logbook.record(
        "inspection.tyre", row, by=by, at=at, consignment=stay, position=TyrePosition(row.position).label,
        what=_told(row), basis=row.get_basis_display(),
    )  # fmt: skip
    return row


def _refuse_alike(position: str, measured: Measured) -> None:
    if position not in ROAD_POSITIONS:
        raise Refused(
            "tyre_alike", f"{position} is no tyre on the road.", field="all_four", got=position,
            mend=f"All four are like one of {', '.join(ROAD_POSITIONS)}.",
        )  # fmt: skip
    if all(measured.figures.get(name) in NOTHING for name in ALIKE):
        raise Refused(
            "tyre_alike", "Nothing was given that four tyres can share.", field="all_four", got=position,
            mend="Give the size or the rim of this one; each tyre has its own TIN.",
        )  # fmt: skip


@transaction.atomic
def record_engine(consignment_id: int, *, measured: Measured, by: Actor, at: datetime) -> EngineFigures:
    return _record(EngineFigures, "inspection.engine", consignment_id, measured=measured, by=by, at=at)


@transaction.atomic
def record_driveline(consignment_id: int, *, measured: Measured, by: Actor, at: datetime) -> DrivelineFigures:
    return _record(DrivelineFigures, "inspection.driveline", consignment_id, measured=measured, by=by, at=at)


@transaction.atomic
def record_electric(consignment_id: int, *, measured: Measured, by: Actor, at: datetime) -> ElectricFigures:
    return _record(ElectricFigures, "inspection.electric", consignment_id, measured=measured, by=by, at=at)


def _record(
    model: type[Row], action: str, consignment_id: int, *, measured: Measured, by: Actor, at: datetime
) -> Row:  # fmt: skip
    require(by, Act.INSPECT)
    stay = locked(consignment_id)
    if (known := again(model, client_key=measured.client_key)) is not None:
        return known
    row = add(_row(model, stay=stay, measured=measured, by=by, at=at))
    logbook.record(action, row, by=by, at=at, consignment=stay, what=_told(row), basis=row.get_basis_display())
    return row


def _row(
    model: type[Row], *, stay: Consignment, measured: Measured, by: Actor, at: datetime, **more: Any
) -> Row:  # fmt: skip
    figures = _whole(_known(model, measured.figures))
    given = {name: _checked(name, value, figures=figures) for name, value in figures.items() if value not in NOTHING}
    taken_back = sorted(name for name, value in figures.items() if value in NOTHING)
    note = measured.note.strip()
    if not (given or taken_back or note):
        raise Refused(
            "nothing_read", "No figure was given.", field=model.FIGURES[0],
            mend=f"Give at least one of {', '.join(model.FIGURES)}, or a note.",
        )  # fmt: skip
    return model(
        vehicle=stay.vehicle, inspection=open_inspection(stay), basis=measured.basis, note=note,
        client_key=measured.client_key, taken_back=taken_back, by=by.name, at=at, **given, **more,
    )  # fmt: skip


def _known(model: type[Statement], figures: Mapping[str, Any]) -> dict[str, Any]:
    """The figures with texts as they stand but for the space around them; a name that is not known is refused."""
    unknown = sorted(set(figures) - set(model.FIGURES))
    if unknown:
        raise Refused(
            "no_such_figure", f"{', '.join(unknown)} is not known here.", field=unknown[0], got=unknown[0],
            mend=f"Known are {', '.join(model.FIGURES)}.",
        )  # fmt: skip
    return {name: value.strip() if isinstance(value, str) else value for name, value in figures.items()}


def _whole(figures: dict[str, Any]) -> dict[str, Any]:
    """A figure with what belongs to it: what was not given with a new reading does not stay from the old one."""
    for lead, follower in FOLLOWER_OF.items():
        if follower in figures and lead not in figures:
            raise Refused(
                "figure_alone", f"{LABELS[lead]} was not given with it.", field=follower, got=str(figures[follower]),
                mend="Give both together.",
            )  # fmt: skip
        if lead in figures and (follower not in figures or figures[lead] in NOTHING):
            figures[follower] = None
    return figures


def _checked(name: str, value: Any, *, figures: Mapping[str, Any]) -> Any:
    """The value for its column, or Refused if it cannot be."""
    if name == "compression_psi":
        return check_pressures([Decimal(pressure) for pressure in value])
    if name == "stated_displacement":
        return check_displacement(Decimal(value), unit=figures.get("displacement_unit") or "")
    if name in RANGES:
        checked = check_figure(name, value)
        return checked if RANGES[name].places else int(checked)
    return value


def _told(row: Statement) -> str:
    """What the log says was recorded."""
    parts = [
        f"{LABELS.get(name, name.replace('_', ' ')).lower() if name != 'tin' else 'TIN'} {_plainly(getattr(row, name))}"
        for name in row.FIGURES
        if getattr(row, name) not in NOTHING
    ]
    parts += [f"{LABELS[name]} taken back" for name in row.taken_back if name in LABELS and name != "rest_hours"]
    return ", ".join(parts) or "a note"


def _plainly(value: Any) -> str:
    return " ".join(value) if isinstance(value, list) else str(value)
