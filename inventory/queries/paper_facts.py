"""What several papers say of one stay: the lot's head, the sentences of faults, changes and parts."""

from datetime import date, datetime
from typing import Any

from django.utils import timezone

from inventory.models import Consignment, IdentityNumber, Lot, TitlePaper
from inventory.queries import facts
from inventory.queries.inspections import CheckFound, StationFound, asked_of, latest_results, stations_found
from inventory.queries.ledger import Ledger
from inventory.queries.opinion_paper import DEMO
from inventory.queries.titles import counting_paper
from inventory.rules import paper_words
from inventory.rules.components import ALL_TITLES


def lot_head(lot: Lot) -> dict[str, str]:
    """What stands over every paper."""
    return {"lot_name": lot.name, "lot_address": lot.address, "demo": DEMO if lot.is_demo else ""}


def contact_of(lot: Lot) -> str:
    return " · ".join(filter(None, (lot.phone.strip(), lot.email.strip())))


def stations_of(stay: Consignment) -> list[StationFound]:
    """Of the last finished inspection; empty without one."""
    walk = facts.finished_inspection(stay)
    return [] if walk is None else stations_found(latest_results(walk), asked=asked_of(walk, now=()))


def faults_told(stations: list[StationFound], *, with_notes: bool) -> list[str]:
    """What needs repair, failed or is missing, in walking order. Notes are the inspector's, for the report alone."""
    return [_fault(line, with_notes=with_notes) for found in stations for line in found.faults]


def _fault(line: CheckFound, *, with_notes: bool) -> str:
    if line.result is None or line.result.grade is None:
        raise ValueError(f"a fault has a grade, got none for {line.check.code}")
    said = paper_words.fault_said(line.check.wording, grade=line.result.grade, reading=reading_of(line))
    return f"{said}. “{line.result.note}”" if with_notes and line.result.note else said


def reading_of(line: CheckFound) -> str:
    return f"{line.reading} {line.result.unit}".strip() if line.result and line.reading else ""


def not_seen_told(stations: list[StationFound]) -> str:
    """How much of the last inspection nobody saw; that is no pass."""
    missed, asked = sum(found.not_seen for found in stations), sum(len(found.checks) for found in stations)
    return f"{missed} of {asked} checks of the inspection were not seen." if missed else ""


def modifications_told(ledger: Ledger) -> list[str]:
    return [
        paper_words.modification_said(
            row.what, where=row.where, material=row.material, fitting=row.fitting, workmanship=row.workmanship,
            basis=row.basis, papers=row.papers,
        )
        for row in (seen.row for seen in ledger.modifications)
    ]  # fmt: skip


def component_said(record: Any) -> str:
    return paper_words.component_told(
        record.component, standing=record.standing, as_found=record.as_found, basis=record.basis,
        not_fitted=record.not_fitted,
    )  # fmt: skip


def component_title(code: str) -> str:
    return ALL_TITLES.get(code, code)


def serial_told(stay: Consignment) -> str:
    """The number with every place it was read at; the latest word of each place."""
    rows = {row.kind: row for row in IdentityNumber.objects.filter(vehicle=stay.vehicle_id).order_by("pk")}
    numbers = [
        (str(row.get_kind_display()), row.value, row.basis, str(row.get_basis_display())) for row in rows.values()
    ]
    vehicle = stay.vehicle
    return paper_words.serial_said(vehicle.serial, kind=str(vehicle.get_serial_kind_display()), numbers=numbers)


def title_told(stay: Consignment) -> str:
    paper: TitlePaper | None = counting_paper(stay)
    brand = str(stay.vehicle.get_title_brand_display()) if stay.vehicle.title_brand else ""
    return paper_words.title_said(brand, read_on=paper.seen_on if paper else None)


def year_told(stay: Consignment) -> str:
    built = stay.vehicle.year_built
    return f"{stay.vehicle.year}, as titled; {f'built {built}' if built else 'year built not known'}"


def day_of(moment: datetime) -> date:
    return timezone.localdate(moment)
