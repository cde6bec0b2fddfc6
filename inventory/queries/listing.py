"""What the description of a stay is written from, in a constant number of queries; and its versions."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from itertools import groupby
from typing import Any

from inventory.errors import NotFound
from inventory.models import ArrivalReceipt, CheckResult, Consignment, IntakeInspection, Listing
from inventory.queries.facts import the_lot
from inventory.queries.flags import FlagLine, flags_of
from inventory.queries.inspections import kind_of
from inventory.queries.ledger import Ledger, ledger_of
from inventory.rules.catalogue import CHECKS, EARLIER, asked_codes
from inventory.rules.claims import objections_in
from inventory.rules.components import COMPONENTS
from inventory.rules.listing import SECTIONS, described
from inventory.rules.listing_edit import read
from inventory.rules.listing_record import ChangeSaid, CheckSaid, PaperSaid, PartSaid, Record, Section
from inventory.rules.words import Judgement, Standing, Verdict


def record_of(stay: Consignment, *, today: date) -> Record:
    """All that a description of this stay may rest on."""
    vehicle, ledger, flags = stay.vehicle, ledger_of(stay.vehicle_id), flags_of(stay, today=today)
    return Record(
        **{name: getattr(vehicle, name) for name in OF_VEHICLE},
        mileage=stay.mileage,
        odometer_status=stay.odometer_status,
        highest_earlier_mileage=_earlier_mileage(stay),
        inspected=IntakeInspection.objects.filter(consignment=stay, finished_at__isnull=False).exists(),
        keys=_keys(stay),
        built=ledger.built,
        built_basis=ledger.build.basis if ledger.build else "not_established",
        asked=asked_codes(**kind_of(vehicle)),
        checks=_checks(stay, flags=flags),
        parts=_parts(ledger),
        never_had=_never_had(ledger),
        changes=_changes(ledger),
        papers=tuple(
            PaperSaid(id=pk, kind=kind, standing=standing)
            for pk, kind, standing in vehicle.title_papers.order_by("pk").values_list("pk", "kind", "standing")
        ),
        other_flags=tuple((line.key, f"{line.where}: {line.message}") for line in flags if not line.check_code),
    )


OF_VEHICLE = (
    "year", "make", "model", "trim", "body", "engine", "transmission", "color", "build_class", "title_brand", "serial",
    "serial_kind",
)  # fmt: skip


def _earlier_mileage(stay: Consignment) -> int | None:
    """The highest reading of the vehicle's earlier stays."""
    rows = stay.vehicle.consignments.filter(pk__lt=stay.pk, mileage__isnull=False)
    return rows.order_by("-mileage").values_list("mileage", flat=True).first()


def _keys(stay: Consignment) -> int | None:
    rows = ArrivalReceipt.objects.filter(consignment=stay, followed_by__isnull=True, signed_at__isnull=False)
    return rows.values_list("keys_count", flat=True).first()


def _checks(stay: Consignment, *, flags: list[FlagLine]) -> tuple[CheckSaid, ...]:
    """The latest answer to each check over all inspections of the stay, in walking order."""
    rows = CheckResult.objects.filter(inspection__consignment=stay).select_related("inspection")
    ordered = sorted(rows, key=lambda row: (row.check_code, row.inspection.number, row.told_order))
    latest = {code: list(group)[-1] for code, group in groupby(ordered, key=lambda row: row.check_code)}
    beyond = {line.check_code: line.message for line in flags if line.check_code}
    return tuple(
        CheckSaid(
            code=code, verdict=row.verdict, basis=row.basis, grade=row.grade, reading=row.reading, unit=row.unit,
            note=row.note if row.verdict == Verdict.GRADED else "", flag=beyond.get(code, ""),
        )
        for code in (*CHECKS, *EARLIER)
        if (row := latest.get(code)) is not None
    )  # fmt: skip


def _parts(ledger: Ledger) -> tuple[PartSaid, ...]:
    changed = {code for seen in ledger.modifications for code in seen.components}
    return tuple(
        PartSaid(
            code=line.component.code, standing=row.standing, basis=row.basis, as_found=row.as_found,
            as_built=row.as_built, as_built_basis=row.as_built_basis, number=row.number,
            number_basis=row.number_basis, not_fitted=row.not_fitted,
            contradicted=row.standing == Standing.ORIGINAL
            and (
                row.component in changed
                or (line.finding is not None and line.finding.judgement == Judgement.NOT_FACTORY)
            ),
        )
        for line in ledger.lines
        if (row := line.record) is not None
    )  # fmt: skip


def _never_had(ledger: Ledger) -> frozenset[str]:
    lacking = (part.code for part in COMPONENTS if part.belongs_to and part.belongs_to <= ledger.lacks)
    ticked = (row.component for row in ledger.records.values() if row.not_fitted)
    return frozenset((*lacking, *ticked))


def _changes(ledger: Ledger) -> tuple[ChangeSaid, ...]:
    return tuple(
        ChangeSaid(
            id=seen.row.pk, kind=seen.row.kind, what=seen.row.what, where=seen.row.where, fitting=seen.row.fitting,
            workmanship=seen.row.workmanship, papers=seen.row.papers, basis=seen.row.basis,
            components=seen.components,
        )
        for seen in ledger.modifications
    )  # fmt: skip


def draft_of(record: Record, *, tone: str) -> tuple[Section, ...]:
    """The description as the record stands now, in the lot's order."""
    return described(record, tone=tone, order=the_lot().listing_order)


def versions_of(stay: Consignment) -> list[Listing]:
    """Newest first."""
    return list(Listing.objects.filter(consignment=stay).order_by("-number"))


def latest_version(stay: Consignment) -> Listing | None:
    return Listing.objects.filter(consignment=stay).order_by("-number").first()


@dataclass(frozen=True)
class SectionSeen:
    """One section as the record would write it, beside what was kept of it."""

    code: str
    title: str
    draft: Section | None
    kept: Section | None
    objections: list[Mapping[str, Any]]


@dataclass(frozen=True, kw_only=True)
class ListingPage:
    sections: list[SectionSeen]
    versions: list[Listing]
    shown: Listing | None
    tone: str
    objections: list[dict[str, Any]]
    may_publish: bool

    @property
    def is_latest(self) -> bool:
        return self.shown is not None and self.shown == self.versions[0]

    @property
    def published(self) -> Listing | None:
        """The version that buyers read now."""
        return next((row for row in self.versions if row.published), None)


def listing_page(stay: Consignment, *, number: str, today: date) -> ListingPage:
    """The draft beside the latest version, or beside the one that was asked for."""
    versions = versions_of(stay)
    shown = _asked_for(versions, number=number)
    tone = shown.tone if shown else the_lot().listing_tone
    record = record_of(stay, today=today)
    draft = draft_of(record, tone=tone)
    kept = read(shown.sections) if shown else ()
    objections = objections_in(kept, draft=draft, record=record) if shown else []
    return ListingPage(
        sections=_side_by_side(draft, kept=kept, objections=objections),
        versions=versions, shown=shown, tone=tone, objections=objections,
        may_publish=stay.state in {"listed", "deposit"},
    )  # fmt: skip


def _asked_for(versions: list[Listing], *, number: str) -> Listing | None:
    if not number:
        return versions[0] if versions else None
    found = next((row for row in versions if str(row.number) == number), None)
    if found is None:
        raise NotFound("not_found", f"There is no version {number} of this description.", field="version", got=number)
    return found


def _side_by_side(
    draft: tuple[Section, ...], *, kept: tuple[Section, ...], objections: list[dict[str, Any]]
) -> list[SectionSeen]:
    first = kept or draft
    order = list(dict.fromkeys([*(section.code for section in (*first, *draft)), *SECTIONS]))
    drafted, keeping = ({section.code: section for section in one} for one in (draft, kept))
    return [
        SectionSeen(
            code, SECTIONS[code], drafted.get(code), keeping.get(code),
            [one for one in objections if one["section"] == code],
        )
        for code in order
    ]  # fmt: skip
