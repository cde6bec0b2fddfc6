"""Everything one vehicle's file shows, in a constant number of queries."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import Q

from inventory.models import (
    AskChange,
    Consignment,
    IntakeInspection,
    LogEntry,
    Movement,
    Photo,
    Release,
)
from inventory.queries.care import VehicleCare, care_of
from inventory.queries.facts import current_ask, open_inspection
from inventory.queries.figures import VehicleFigures, figures_of
from inventory.queries.flags import FlagLine, flags_of
from inventory.queries.identity import IdentityStanding, identity_of
from inventory.queries.incidents import IncidentSeen, open_incidents_of
from inventory.queries.inspections import (
    CheckFound,
    StationFound,
    asked_of,
    kind_of,
    latest_results,
    stations_found,
)
from inventory.queries.keyset import Piece, cut
from inventory.queries.ledger import Ledger, ledger_of
from inventory.queries.media import Media, media_of
from inventory.queries.receipts import ReceiptSeen, receipts_seen
from inventory.queries.releases import release_of
from inventory.queries.scores import InspectionSeen, inspections_of
from inventory.queries.shots import StationPhotos, shot_list, shots_wanted
from inventory.queries.titles import TitlePapers, title_papers_of
from inventory.queries.vehicles_to_come import BeforeArrival, before_arrival
from inventory.rules import titles
from inventory.rules.roles import Act, Actor, may
from inventory.rules.scores import Interval
from inventory.rules.wording import log_sentence

LOG_PER_PAGE = 25

# What somebody without sight of the money may read in the log: an entry not named here stays out of it.
_WITHOUT_MONEY = ("vehicle.", "consignor.", "consignment.", "inspection.", "modification.", "identity.", "title.",
                  "receipt.", "release.", "photo.", "clip.", "flag.", "movement.", "ask.", "listing.",
                  "care.", "incident.")  # fmt: skip


@dataclass(frozen=True)
class Findings:
    """The last finished inspection: its frozen intervals and what each station showed."""

    inspection: IntakeInspection
    condition: Interval | None
    originality: Interval | None
    stations: list[StationFound]

    @property
    def faults(self) -> list[CheckFound]:
        """What needs repair, failed or is missing, in walking order: it is read before the rest."""
        return [line for found in self.stations for line in found.faults]

    @property
    def not_seen(self) -> int:
        return sum(found.not_seen for found in self.stations)

    @property
    def checks(self) -> int:
        return sum(len(found.checks) for found in self.stations)


@dataclass(frozen=True, kw_only=True)
class VehicleFile:
    stay: Consignment
    identity: IdentityStanding
    receipts: tuple[ReceiptSeen, ...]
    titles: TitlePapers
    release: Release | None
    paper_read: bool
    ledger: Ledger
    findings: Findings | None
    walk_open: bool
    flags: list[FlagLine]
    figures: VehicleFigures
    media: Media
    stations: list[StationPhotos[Photo]]
    movements: list[Movement]
    other_stays: list[Consignment]
    inspections: list[InspectionSeen]
    ask: AskChange | None
    told_before: BeforeArrival | None
    care: VehicleCare
    incidents: list[IncidentSeen]

    @property
    def contradictions(self) -> list[str]:
        """What cannot all be true, in the order of its weight: identity, ledger, figures."""
        asked = [f"{one.where}: {one.text}" for one in self.figures.questions if not one.stops_drives]
        open_identity = [self.identity.open] if self.identity.open else []
        ledger = self.ledger.disagreements
        open_papers = [self.titles.question] if self.titles.question else []
        return [*open_identity, *open_papers, *ledger.contradictions, *ledger.questions, *asked]

    @property
    def not_established(self) -> list[str]:
        """What nobody has seen or said yet, as far as it moves a price or a sale."""
        said = []
        if not self.paper_read:
            said.append("No paper of ownership has been read.")
        if not self.stay.vehicle.build_class:
            said.append("The build class is not known.")
        if self.findings is None:
            said.append("No inspection is finished.")
        elif self.findings.not_seen:
            said.append(f"{self.findings.not_seen} of {self.findings.checks} checks were not seen.")
        if self.ledger.unwritten:
            said.append(f"{len(self.ledger.unwritten)} of {len(self.ledger.lines)} components have no line.")
        if self.ledger.build is None:
            said.append("When it was built is not recorded, so no part's date can be judged.")
        return said

    @property
    def finished_inspections(self) -> int:
        return sum(not seen.row.is_open for seen in self.inspections)

    @property
    def odometer(self) -> str:
        """The reading with its thousands marked."""
        return "" if self.stay.mileage is None else f"{self.stay.mileage:,}"


@dataclass(frozen=True)
class LogLine:
    at: datetime
    who: str
    sentence: str


def file_of(stay: Consignment, *, today: date) -> VehicleFile:
    vehicle = stay.vehicle
    papers = title_papers_of(stay, today=today)
    media = media_of(stay)
    wanted = shots_wanted(lacks=kind_of(vehicle)["lacks"])
    return VehicleFile(
        stay=stay,
        told_before=before_arrival(stay),
        identity=identity_of(vehicle),
        receipts=receipts_seen(stay),
        titles=papers,
        release=release_of(stay),
        paper_read=titles.ownership_paper_seen((paper.kind, paper.standing) for paper in papers.rows),
        ledger=ledger_of(vehicle.pk),
        findings=_findings(stay),
        flags=flags_of(stay, today=today),
        figures=figures_of(stay, today=today),
        walk_open=open_inspection(stay) is not None,
        media=media,
        stations=[one for one in shot_list(media.photos, wanted) if one.photos or one.wanted],
        movements=list(stay.movements.select_related("at_place").order_by("-pk")),
        other_stays=list(vehicle.consignments.exclude(pk=stay.pk).order_by("-pk")),
        inspections=inspections_of(vehicle.pk),
        ask=current_ask(stay),
        care=care_of(stay, today=today),
        incidents=open_incidents_of(stay),
    )


def _findings(stay: Consignment) -> Findings | None:
    rows = IntakeInspection.objects.filter(consignment=stay, finished_at__isnull=False)
    walk = rows.order_by("-number").first()
    if walk is None:
        return None
    results = latest_results(walk)
    return Findings(
        walk,
        _interval(walk.condition_low, walk.condition_high),
        _interval(walk.originality_low, walk.originality_high),
        stations_found(results, asked=asked_of(walk, now=())),
    )


def _interval(low: Any, high: Any) -> Interval | None:
    return None if low is None else Interval(low, high)


def log_piece(stay: Consignment, *, by: Actor, place: str) -> tuple[Piece[LogEntry], list[LogLine]]:
    """One piece of the log of the stay and of its vehicle, newest first, as sentences."""
    rows = LogEntry.objects.filter(
        Q(consignment=stay) | Q(consignment__isnull=True, subject_kind="vehicle", subject_id=stay.vehicle_id)
    )
    sees_money = may(by, Act.SEE_MONEY)
    if not sees_money:
        allowed = Q()
        for prefix in _WITHOUT_MONEY:
            allowed |= Q(action__startswith=prefix)
        rows = rows.filter(allowed)
    piece = cut(rows, order=["-pk"], size=LOG_PER_PAGE, place=place)
    return piece, list(_lines(piece.rows, with_reasons=sees_money))


def _lines(entries: Iterable[LogEntry], *, with_reasons: bool) -> Iterable[LogLine]:
    """Reasons of moves and asks are free text and may name amounts: they go with sight of the money."""
    for entry in entries:
        said = entry.data if with_reasons else {**entry.data, "because": ""}
        yield LogLine(entry.at, entry.actor_name, log_sentence(entry.action, data=said))


def asked_for(station: str, *, shot: str) -> str:
    """What the address asks a picture of, in words; empty where it asks for nothing that the catalogue knows."""
    found = next((one for one in shots_wanted(lacks=()) if one.code == station), None)
    if found is None:
        return ""
    wanted = next((one.title for one in found.shots if one.code == shot), "")
    return f"{found.title}: {wanted}" if wanted else found.title
