"""The component ledger as its pages, the vehicle file and the scores read it: in five queries, however long it is."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from typing import Any

from django.db.models import Model, OuterRef, QuerySet, Subquery

from inventory.errors import NotFound
from inventory.models import (
    BuildDate,
    ComponentRecord,
    Modification,
    ModificationComponent,
    Vehicle,
    VehicleFeature,
)
from inventory.queries import decoder
from inventory.queries.decoder import Meanings
from inventory.rules import ledger as rules
from inventory.rules import scores
from inventory.rules.catalogue import Feature
from inventory.rules.components import (
    ALL_TITLES,
    COMPONENT_OF,
    COMPONENTS,
    DATA_PLATE,
    EARLIER_COMPONENTS,
    Component,
)
from inventory.rules.date_codes import DateSpan, Finding, spoken
from inventory.rules.scores import Changed, Interval, Opened, Stood


def latest_components(vehicle_id: int, *, until: datetime | None = None) -> dict[str, ComponentRecord]:
    """The line of the ledger that counts of each component, or that counted at a moment."""
    rows = _until(ComponentRecord, until).filter(vehicle_id=vehicle_id).order_by("pk")
    return {row.component: row for row in rows}


def _until(model: type[Model], until: datetime | None) -> QuerySet[Any]:
    rows = model._default_manager.all()
    return rows if until is None else rows.filter(at__lte=until)


def build_date_of(vehicle_id: int, *, until: datetime | None = None) -> BuildDate | None:
    row: BuildDate | None = _until(BuildDate, until).filter(vehicle_id=vehicle_id).order_by("-pk").first()
    return row


def made_span(record: ComponentRecord | None) -> DateSpan | None:
    """When the part was made, where the line says so."""
    if record is None or record.earliest_on is None or record.latest_on is None:
        return None
    return DateSpan(earliest=record.earliest_on, latest=record.latest_on, basis=record.date_basis)


def build_span(row: BuildDate | None) -> DateSpan | None:
    return None if row is None else DateSpan(earliest=row.earliest_on, latest=row.latest_on, basis=row.basis)


def finding_of(record: ComponentRecord | None, *, build: BuildDate | None) -> Finding | None:
    return rules.judged(made_span(record), build=build_span(build))


def notes_on(record: ComponentRecord, *, finding: Finding | None) -> list[str]:
    """What whoever wrote the line is told."""
    return rules.notes(
        record.component, standing=record.standing, basis=record.basis, number=record.number, finding=finding
    )


@dataclass(frozen=True)
class LedgerLine:
    """One component, the line that counts if there is one, and what its date says."""

    component: Component
    record: ComponentRecord | None
    finding: Finding | None = None

    @property
    def made(self) -> str:
        span = made_span(self.record)
        return span.said if span else ""


@dataclass(frozen=True)
class ModificationSeen:
    row: Modification
    components: tuple[str, ...]

    @property
    def titles(self) -> str:
        return ", ".join(ALL_TITLES.get(code, code) for code in self.components)


@dataclass(frozen=True)
class Ledger:
    """What is known of the parts of one vehicle."""

    records: Mapping[str, ComponentRecord]
    build: BuildDate | None
    modifications: list[ModificationSeen]
    lacks: frozenset[str]  # features that the vehicle is known not to have

    @property
    def built(self) -> str:
        return spoken(self.build.earliest_on, latest=self.build.latest_on) if self.build else ""

    @cached_property
    def lines(self) -> list[LedgerLine]:
        """All components of the catalogue, and those of earlier ones that have a line."""
        earlier = [component for component in EARLIER_COMPONENTS if component.code in self.records]
        return [
            LedgerLine(component, record, finding_of(record, build=self.build))
            for component in (*COMPONENTS, *earlier)
            for record in [self.records.get(component.code)]
        ]

    @property
    def written(self) -> list[LedgerLine]:
        return [line for line in self.lines if line.record is not None]

    @property
    def unwritten(self) -> list[LedgerLine]:
        return [line for line in self.lines if line.record is None]

    @cached_property
    def disagreements(self) -> rules.Disagreements:
        said = [
            rules.Said(
                code=line.component.code, title=line.component.title, standing=line.record.standing,
                made=made_span(line.record),
            )
            for line in self.lines
            if line.record is not None
        ]  # fmt: skip
        changed: dict[str, list[str]] = {}
        for seen in self.modifications:
            for code in seen.components:
                changed.setdefault(code, []).append(seen.row.what)
        return rules.disagreements(said, build=build_span(self.build), changed=changed)

    def never_had(self, *, policy: Mapping[str, Any]) -> dict[str, str]:
        """Components that leave the weighing, each with why: the one place that says so."""
        ticked = {row.component for row in self.records.values() if row.not_fitted}
        changed = {code for seen in self.modifications for code in seen.components}
        lacking = scores.never_had(policy, lacks=self.lacks, said=changed.union(self.records))
        features = policy.get("lacking", {})
        return dict.fromkeys(ticked, "never had one") | {
            code: "the vehicle has " + " and ".join(f"no {Feature(one).label}" for one in features[code])
            for code in lacking
        }

    def opened(self, *, policy: Mapping[str, Any]) -> Opened | None:
        return scores.opened_originality(
            [Stood(row.component, row.standing, row.basis) for row in self.records.values()],
            policy=policy,
            absent=self.never_had(policy=policy),
            changed=[
                Changed(code, seen.row.fitting, seen.row.basis)
                for seen in self.modifications
                for code in seen.components
            ],
        )

    def originality(self, *, policy: Mapping[str, Any]) -> Interval | None:
        opened = self.opened(policy=policy)
        return opened.interval if opened else None


def ledger_of(vehicle_id: int, *, until: datetime | None = None) -> Ledger:
    """The ledger as it counts, or as it stood at a moment."""
    return Ledger(
        latest_components(vehicle_id, until=until),
        build_date_of(vehicle_id, until=until),
        modifications_of(vehicle_id, until=until),
        _lacks(vehicle_id, until=until),
    )


def _lacks(vehicle_id: int, *, until: datetime | None) -> frozenset[str]:
    return _lacking(_until(VehicleFeature, until).filter(vehicle_id=vehicle_id).order_by("pk"))


def _lacking(rows: Iterable[VehicleFeature]) -> frozenset[str]:
    known = {row.feature: row.present for row in rows}
    return frozenset(feature for feature, present in known.items() if not present)


def modifications_of(vehicle_id: int, *, until: datetime | None = None) -> list[ModificationSeen]:
    rows = _until(Modification, until).filter(vehicle_id=vehicle_id).select_related("by").order_by("pk")
    named: dict[int, list[str]] = {}
    for change in ModificationComponent.objects.filter(modification__vehicle_id=vehicle_id).order_by("pk"):
        named.setdefault(change.modification_id, []).append(change.component)
    return [ModificationSeen(row, tuple(named.get(row.pk, ()))) for row in rows]


def ledgers_of(wanted: Mapping[int, tuple[int, datetime | None]], *, vehicles: QuerySet[Any]) -> dict[int, Ledger]:
    """Many ledgers in four queries, each as its vehicle's stood at its moment (None: now), for the scores.

    `wanted` names vehicle and moment by a key of the caller's, `vehicles` selects the ids. Build dates are left out.
    """
    read = ("vehicle_id", "component", "standing", "basis", "not_fitted", "at")  # bare: a large lot has many lines
    lines = ComponentRecord.objects.filter(vehicle__in=vehicles).values_list(*read, named=True)
    records = _by_vehicle(lines)
    modifications = _by_vehicle(Modification.objects.filter(vehicle__in=vehicles))
    features = _by_vehicle(VehicleFeature.objects.filter(vehicle__in=vehicles))
    named: dict[int, list[str]] = {}
    for change in ModificationComponent.objects.filter(modification__vehicle__in=vehicles).order_by("pk"):
        named.setdefault(change.modification_id, []).append(change.component)
    return {
        key: Ledger(
            {row.component: row for row in _before(records.get(vehicle_id, ()), until)},
            None,
            [ModificationSeen(row, tuple(named.get(row.pk, ())))
             for row in _before(modifications.get(vehicle_id, ()), until)],
            _lacking(_before(features.get(vehicle_id, ()), until)),
        )
        for key, (vehicle_id, until) in wanted.items()
    }  # fmt: skip


def _by_vehicle(rows: QuerySet[Any]) -> dict[int, list[Any]]:
    found: dict[int, list[Any]] = {}
    for row in rows.order_by("pk"):
        found.setdefault(row.vehicle_id, []).append(row)
    return found


def _before(rows: Sequence[Any], until: datetime | None) -> list[Any]:
    return [row for row in rows if until is None or row.at <= until]


@dataclass(frozen=True, kw_only=True)
class LinePage:
    """One line of the ledger, with what the lot's decoder table says of its codes and what changed the part."""

    line: LedgerLine
    number: int
    of: int
    before: Component | None
    after: Component | None
    build: BuildDate | None
    built: str
    changed_by: list[Modification]


def line_page(vehicle: Vehicle, *, code: str) -> LinePage:
    if code not in COMPONENT_OF:
        raise NotFound("not_found", f"There is no component {code}.", field="component", got=code)
    ledger = ledger_of(vehicle.pk)
    here = next(place for place, line in enumerate(ledger.lines) if line.component.code == code)
    return LinePage(
        line=ledger.lines[here],
        number=here + 1,
        of=len(COMPONENTS),
        before=COMPONENTS[here - 1] if here else None,
        after=COMPONENTS[here + 1] if here + 1 < len(COMPONENTS) else None,
        build=ledger.build,
        built=ledger.built,
        changed_by=[seen.row for seen in ledger.modifications if code in seen.components],
    )


def meanings_for(vehicle: Vehicle, *, component: str, codes: Sequence[str], plate: str) -> list[Meanings]:
    """What the decoder table says of the codes read off one component, and of what the data plate says of it.

    Codes the table does not know are left out.
    """
    asked = [(component, code) for code in codes] + [(DATA_PLATE, plate)]
    found = [
        decoder.meanings(code, component=stands_on, make=vehicle.make, year=vehicle.year)
        for stands_on, code in asked
        if code
    ]
    return [meant for meant in found if meant.entries]


def with_build_date(rows: QuerySet[ComponentRecord]) -> QuerySet[Any]:
    """Each line with the build date of its vehicle that counts, so that its date can be judged without a query more."""
    latest = BuildDate.objects.filter(vehicle=OuterRef("vehicle")).order_by("-pk")
    return rows.annotate(
        built_earliest=Subquery(latest.values("earliest_on")[:1]),
        built_latest=Subquery(latest.values("latest_on")[:1]),
        built_basis=Subquery(latest.values("basis")[:1]),
    )


def judged_row(row: Any) -> Finding | None:
    """What the date of a row of `with_build_date` says."""
    if row.built_earliest is None:
        return None
    build = DateSpan(earliest=row.built_earliest, latest=row.built_latest, basis=row.built_basis)
    return rules.judged(made_span(row), build=build)
