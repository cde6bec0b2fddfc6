"""The measured figures of a vehicle as they count now: what each means, and what they ask."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from itertools import chain
from typing import Any

from inventory.models import Consignment, DrivelineFigures, ElectricFigures, EngineFigures, TyreRecord
from inventory.models.figures import Statement
from inventory.rules.electric_meaning import Electrics, read_electrics
from inventory.rules.engine_meaning import Driveline, Engine, read_driveline, read_engine
from inventory.rules.figure_ranges import DISPLACEMENTS, PRESSURE, RANGES, plain
from inventory.rules.odometer_meaning import Reading, read_odometer
from inventory.rules.questions import Meaning, Question, Said, gravest_first
from inventory.rules.tyre_meaning import Tyre, TyreSaid, axle_questions, driven_diameter_in, read_tyre
from inventory.rules.words import DrivenAxle, OdometerStatus, TyrePosition

LABELS = {
    "size": "Size", "tin": "TIN", "rim": "Rim", "compression_psi": "Compression", "driven_axle": "Driven axle",
    "system_volts": "System", "fluid_kind": "Brake fluid", "fluid_colour": "Colour of the brake fluid",
    **{name: found.label for name, found in RANGES.items()},
}  # fmt: skip
FOLLOWS = frozenset({"displacement_unit", "rest_hours"})  # shown with the figure they belong to
NOTHING: tuple[Any, ...] = (None, "", [])


@dataclass(frozen=True, kw_only=True)
class Stated:
    """One figure that counts: what was written, on what it rests, by whom and when, and what it means."""

    name: str
    label: str
    shown: str
    basis: str = ""
    basis_label: str = ""
    by: str = ""
    at: datetime | None = None
    meanings: tuple[Meaning, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Part:
    """One tyre, or one group of figures. `also` are meanings of figures that were not stated themselves."""

    code: str
    title: str
    stated: tuple[Stated, ...] = ()
    also: tuple[Meaning, ...] = ()
    questions: tuple[Question, ...] = ()
    note: str = ""
    values: Mapping[str, Any] = field(default_factory=dict)

    @property
    def in_short(self) -> str:
        """What stands on a tyre; else only how much there is."""
        if "size" in self.values or "tin" in self.values:
            return ", ".join(one.shown for one in self.stated)
        return "one figure" if len(self.stated) == 1 else f"{len(self.stated)} figures"

    @property
    def is_empty(self) -> bool:
        return not (self.stated or self.note)


@dataclass(frozen=True, kw_only=True)
class VehicleFigures:
    tyres: tuple[Part, ...]
    axles: tuple[Question, ...]
    engine: Part
    driveline: Part
    electrics: Part
    odometer: Part

    @property
    def measured(self) -> tuple[Part, ...]:
        """The parts of which anything was recorded."""
        every = (*self.tyres, self.engine, self.driveline, self.electrics)
        return tuple(part for part in every if not part.is_empty)

    @property
    def questions(self) -> tuple[Question, ...]:
        """All that is asked, with what stops drives first."""
        every = (*self.tyres, self.engine, self.driveline, self.electrics, self.odometer)
        found = chain(self.axles, *(part.questions for part in every))
        return gravest_first(found)


def figures_of(stay: Consignment, *, today: date) -> VehicleFigures:
    """All figures of the vehicle, in a constant number of queries."""
    rows = list(TyreRecord.objects.filter(vehicle_id=stay.vehicle_id).order_by("pk"))
    places = {place: [row for row in rows if row.position == place] for place in TyrePosition}
    tyres = {place: _tyre(place, counting(found), on=today) for place, found in places.items()}
    engine_rows, driveline_rows, electric_rows = (
        list(model.objects.filter(vehicle_id=stay.vehicle_id).order_by("pk"))
        for model in (EngineFigures, DrivelineFigures, ElectricFigures)
    )
    engine, driveline, electrics = (
        counting(engine_rows), counting(driveline_rows), counting(electric_rows)
    )  # fmt: skip
    return VehicleFigures(
        tyres=tuple(
            _part(place, place.label.capitalize(), counting(places[place]), said=tyre.said, rows=places[place])
            for place, tyre in tyres.items()
        ),
        axles=axle_questions(tyres),
        engine=_part("engine", "Engine", engine, said=read_engine(Engine(**values_of(engine))), rows=engine_rows),
        driveline=_part(
            "driveline", "Driveline", driveline, said=_driveline(driveline, engine=engine, tyres=tyres),
            rows=driveline_rows,
        ),
        electrics=_part(
            "electrics", "Electrics and fluid", electrics,
            said=read_electrics(Electrics(**values_of(electrics))), rows=electric_rows,
        ),
        odometer=_odometer(stay, today=today),
    )  # fmt: skip


Counting = Mapping[str, Statement]


def counting(rows: Iterable[Statement]) -> dict[str, Statement]:
    """For each figure the statement that counts: the latest that gave it, unless it was taken back since."""
    found: dict[str, Statement] = {}
    for row in rows:
        for name in row.FIGURES:
            if getattr(row, name) not in NOTHING:
                found[name] = row
        for name in row.taken_back:
            found.pop(name, None)
    return found


def values_of(found: Counting) -> dict[str, Any]:
    return {name: getattr(row, name) for name, row in found.items()}


def _part(code: str, title: str, found: Counting, *, said: Said, rows: list[Any]) -> Part:
    values = values_of(found)
    stated = tuple(
        Stated(
            name=name, label=LABELS[name], shown=_shown(row, name), basis=row.basis,
            basis_label=str(row.get_basis_display()), by=row.by, at=row.at, meanings=said.of(name),
        )
        for name, row in sorted(found.items(), key=lambda pair: pair[1].FIGURES.index(pair[0]))
        if name not in FOLLOWS
    )  # fmt: skip
    told = {one.name for one in stated}
    return Part(
        code=code, title=title, stated=stated, questions=said.questions, values=values,
        also=tuple(meaning for meaning in said.meanings if meaning.of not in told),
        note=next((row.note for row in reversed(rows) if row.note), ""),
    )  # fmt: skip


def _shown(row: Statement, name: str) -> str:
    """A figure as people write it, with its unit."""
    value = getattr(row, name)
    field_of = row._meta.get_field(name)
    if choices := getattr(field_of, "choices", None):
        return str(dict(choices).get(value, value))
    if name == "stated_displacement":
        return f"{plain(value)} {DISPLACEMENTS[row.displacement_unit].unit}"  # type: ignore[attr-defined]
    if name == "compression_psi":
        return f"{', '.join(value)} {PRESSURE.unit}"
    if name == "system_volts":
        return f"{value} V"
    if name not in RANGES:
        return str(value)
    hours = getattr(row, "rest_hours", None) if name == "rest_volts" else None
    rested = "" if hours is None else f", {plain(hours)} hours at rest"
    written = plain(value) if isinstance(value, Decimal) else f"{value:,}"
    return f"{written} {RANGES[name].unit}".strip() + rested


def _tyre(place: TyrePosition, found: Counting, *, on: date) -> TyreSaid:
    return read_tyre(Tyre(position=place, **values_of(found)), on=on)


def _driveline(found: Counting, *, engine: Counting, tyres: Mapping[TyrePosition, TyreSaid]) -> Said:
    """The tyres are those of the driven axle: the rear one where nobody said otherwise."""
    driveline = Driveline(**values_of(found))
    diameter = driven_diameter_in(tyres, axle=driveline.driven_axle or DrivenAxle.REAR)
    return read_driveline(driveline, engine=Engine(**values_of(engine)), tyre_diameter_in=diameter)


def _odometer(stay: Consignment, *, today: date) -> Part:
    rows = stay.vehicle.consignments.exclude(pk=stay.pk).filter(mileage__isnull=False).order_by("pk")
    others = [
        Reading(row.mileage, row.arrived_on or row.booked_on, row.stock_number, is_later=row.pk > stay.pk)
        for row in rows
        if row.mileage is not None
    ]
    said = read_odometer(
        stay.mileage, on=stay.arrived_on or stay.booked_on, status=stay.odometer_status,
        model_year=stay.vehicle.year, today=today, others=others,
    )  # fmt: skip
    status = OdometerStatus(stay.odometer_status).label
    stated = [Stated(name="status", label="Status", shown=status, meanings=said.of("status"))]
    if stay.mileage is not None:
        stated.insert(0, Stated(name="reading", label="Reading", shown=f"{stay.mileage:,} miles"))
    return Part(
        code="odometer", title="Odometer", stated=tuple(stated), questions=said.questions,
        also=(*said.of("exemption"), *said.of("others")),
    )  # fmt: skip
