"""What the condition report of one vehicle says: the last finished inspection, the ledger, flags and photos."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from django.utils import timezone

from inventory.models import Consignment, IntakeInspection, Photo, StationVisit
from inventory.papers.condition_report import ConditionReportPaper, PhotoPrinted, StationPrinted
from inventory.queries import facts, paper_facts
from inventory.queries.flags import FlagLine, flags_of
from inventory.queries.inspections import CheckFound, StationFound
from inventory.queries.ledger import Ledger, LedgerLine, ledger_of
from inventory.rules import limits, paper_words
from inventory.rules.flags import conditions_of
from inventory.rules.words import Judgement


def condition_report_paper(stay: Consignment, *, today: date) -> ConditionReportPaper:
    walk, stations = facts.finished_inspection(stay), paper_facts.stations_of(stay)
    ledger, flags = ledger_of(stay.vehicle_id), flags_of(stay, today=today)
    visits = _visits(walk)
    return ConditionReportPaper(
        **paper_facts.lot_head(facts.the_lot()), stock_number=stay.stock_number, made=f"Made {today}",
        caution=paper_words.DECIDES,
        flags=[
            paper_words.flag_said(line.where, message=line.message, section=line.section)
            for line in flags
            if line.is_open
        ],
        cleared=[_cleared(line) for line in flags if not line.is_open],
        facts=_facts(stay, walk=walk, stations=stations),
        faults=paper_facts.faults_told(stations, with_notes=True),
        stations=[_station(found, visits=visits) for found in stations],
        components=[_component(line) for line in ledger.written],
        component_notes=_component_notes(ledger),
        modifications=paper_facts.modifications_told(ledger),
        photos=_photos(stay),
    )  # fmt: skip


def _cleared(line: FlagLine) -> str:
    if line.clearance is None:
        raise ValueError(f"the flag {line.key} is open")
    row = line.clearance
    return paper_words.cleared_said(line.where, by=row.by, on=paper_facts.day_of(row.at), reason=row.reason)


def _facts(
    stay: Consignment, *, walk: IntakeInspection | None, stations: list[StationFound]
) -> list[tuple[str, str]]:  # fmt: skip
    vehicle = stay.vehicle
    return [
        ("Stock number", stay.stock_number),
        ("Vehicle", str(vehicle)),
        ("Year", paper_facts.year_told(stay)),
        ("VIN or serial", paper_facts.serial_told(stay)),
        ("Odometer", paper_words.odometer_said(stay.mileage, status=stay.odometer_status)),
        ("Title brand", paper_facts.title_told(stay)),
        ("Build class", str(vehicle.get_build_class_display()) if vehicle.build_class else paper_words.NOT_ESTABLISHED),
        *_inspected(walk, stations=stations),
    ]


def _inspected(walk: IntakeInspection | None, *, stations: list[StationFound]) -> list[tuple[str, str]]:
    if walk is None or walk.finished_at is None:
        return [("Inspection", "None is finished. What an unfinished one has found so far is not in this report.")]
    unseen = paper_facts.not_seen_told(stations) or "Every check was answered."
    return [
        ("Inspection", f"Number {walk.number}, finished {paper_facts.day_of(walk.finished_at)}. {unseen}"),
        ("Condition", paper_words.interval_said(walk.condition_low, high=walk.condition_high)),
        ("Originality", paper_words.interval_said(walk.originality_low, high=walk.originality_high)),
    ]


def _visits(walk: IntakeInspection | None) -> Mapping[str, list[StationVisit]]:
    visits: dict[str, list[StationVisit]] = {}
    for row in StationVisit.objects.filter(inspection=walk).order_by("pk") if walk else ():
        visits.setdefault(row.station, []).append(row)
    return visits


def _station(found: StationFound, *, visits: Mapping[str, list[StationVisit]]) -> StationPrinted:
    return StationPrinted(
        title=found.station.title, visited=_visited(found, visits=visits.get(found.station.code, [])),
        checks=[(line.check.wording, _found(line), _reading(line)) for line in found.checks],
    )  # fmt: skip


def _visited(found: StationFound, *, visits: list[StationVisit]) -> str:
    told = [f"{_moment(row.at)} by {row.by}, engine {row.get_engine_display()}" for row in visits]
    if told:
        return f"Visited {'; '.join(told)}."
    last = found.last
    return f"Last answer {_moment(last.told_at or last.at)} by {last.by}." if last else "Nobody was here."


def _moment(at: Any) -> str:
    return timezone.localtime(at).strftime("%Y-%m-%d %H:%M")


def _found(line: CheckFound) -> str:
    row = line.result
    if row is None:
        return paper_words.NOT_LOOKED_AT
    return paper_words.found_said(verdict=row.verdict, grade=row.grade, basis=row.basis)


def _reading(line: CheckFound) -> str:
    """The reading, the limit it is held against with its section, and what that says; then the note."""
    row = line.result
    if row is None:
        return ""
    said = []
    if row.reading is not None:
        compared = f", compared with {line.compared_with}" if line.compared_with else ""
        said += [f"Reading {paper_facts.reading_of(line)}{compared}.", _judged(line)]
    elif line.flag is not None:
        said.append(line.flag.message)
    if row.note:
        said.append(f"“{row.note}”")
    return " ".join(filter(None, said))


def _judged(line: CheckFound) -> str:
    """A reading without a limit is only shown; one that cannot be held against its limit says why."""
    if not line.check.limit:
        return ""
    given = conditions_of(line.check, compared_with=line.result.compared_with if line.result else None)
    if line.flag is not None:
        return f"BEYOND THE LIMIT: {line.flag.message}"
    if why := limits.unjudged(line.check.limit, **given):
        return f"Not judged. {why}"
    return f"Within the limit. {limits.limit_text(line.check.limit, **given)}"


def _component(line: LedgerLine) -> tuple[str, str, str, str]:
    row = line.record
    if row is None:
        raise ValueError(f"{line.component.code} has no line")
    built = paper_words.based(row.as_built, basis=row.as_built_basis) if row.as_built else "not established"
    judged = line.finding and line.finding.judgement != Judgement.EXPECTED
    doubt = f". {line.finding.judgement.label.capitalize()}" if line.finding and judged else ""
    return line.component.title, built, f"{paper_facts.component_said(row)}{doubt}", _numbered(line)


def _numbered(line: LedgerLine) -> str:
    row = line.record
    number = paper_words.based(row.number, basis=row.number_basis) if row and row.number else ""
    code = f"code {row.date_code}" if row and row.date_code else ""
    made = f"made {line.made}" if line.made else ""
    dated = ", ".join(filter(None, (code, made)))
    basis = row.date_basis if row else ""
    return "; ".join(filter(None, (number, paper_words.based(dated, basis=basis) if dated else ""))) or "none"


def _component_notes(ledger: Ledger) -> list[str]:
    """What contradicts itself, and what has no line: open, never taken as original."""
    disagreements = ledger.disagreements
    said = [*disagreements.contradictions, *disagreements.questions]
    open_parts = ", ".join(line.component.title for line in ledger.unwritten)
    return [*said, f"Not established: {open_parts}."] if open_parts else said


def _photos(stay: Consignment) -> list[PhotoPrinted]:
    """Those that consignor and buyers may see, in their small version."""
    rows = Photo.objects.shown().filter(consignment=stay, public=True).order_by("pk")
    return [_photo(row) for row in rows]


def _photo(row: Photo) -> PhotoPrinted:
    caption = row.caption or "no caption"
    try:
        with row.small.open("rb") as file:
            content = file.read()
    except FileNotFoundError:
        content = b""
    return PhotoPrinted(content=content, width=row.width or 4, height=row.height or 3, caption=caption)
