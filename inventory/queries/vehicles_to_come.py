"""Vehicles that may come: the list, one of them with its band and proposed terms, and what a stay had before it."""

import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.core.paginator import Page, Paginator
from django.db.models import Count, F, OuterRef, QuerySet, Subquery

from inventory.errors import NotFound
from inventory.models import (
    Consignment,
    LogEntry,
    ModelFit,
    PriceOpinion,
    Prospect,
    ProspectPhoto,
    Terms,
    User,
    Vehicle,
)
from inventory.queries import check_next
from inventory.queries.consents import said_in
from inventory.queries.floor_lines import FloorLine
from inventory.queries.pricing_desk import (
    Drawing,
    PartRow,
    Standing,
    draw,
    fit_of_the_desk,
    part_rows,
    standing_of,
    unknown_inputs,
    weakness,
)
from inventory.queries.settlements import Net, net_at
from inventory.rules import prospecting as rules
from inventory.rules.floor_words import ProspectStage
from inventory.rules.identity import normalise
from inventory.rules.roles import STAFF_ROLES, Act, Actor, may
from inventory.rules.scores import Interval
from inventory.rules.terms_words import in_words
from inventory.rules.wording import log_sentence
from inventory.rules.words import SaleChannel

PER_PAGE = 50
LOG_SHOWN = 30


def prospect_page(*, stage: str, number: str) -> Page[Any]:
    """Those to follow up first; without a stage those that may still come."""
    latest = PriceOpinion.objects.filter(prospect=OuterRef("pk")).order_by("-pk")
    rows = Prospect.objects.select_related("contact", "consignor", "brought_in_by", "consignment")
    rows = rows.filter(stage=stage) if stage else rows.filter(stage__in=rules.OPEN_STAGES)
    priced = rows.annotate(low=Subquery(latest.values("low")[:1]), high=Subquery(latest.values("high")[:1]))
    return Paginator(priced.order_by(F("follow_up_on").asc(nulls_last=True), "-pk"), PER_PAGE).get_page(number)


def stage_counts() -> list[tuple[str, str, int]]:
    """Value, label and number of each stage, in one query."""
    counted = dict(Prospect.objects.values_list("stage").annotate(count=Count("pk")).order_by())
    return [(stage.value, stage.label, counted.get(stage.value, 0)) for stage in ProspectStage]


def staff_choices() -> list[tuple[int, str]]:
    """Members of staff who may have brought a vehicle in; whoever left stays nameable."""
    rows = User.objects.filter(role__in=STAFF_ROLES).order_by("-is_active", "full_name", "username")
    return [(row.pk, f"{row}{'' if row.is_active else ' (left)'}") for row in rows]


def prospect_by_code(code: uuid.UUID) -> Prospect:
    rows = Prospect.objects.select_related("contact", "consignor", "contact__consignor", "brought_in_by", "consignment")
    row = rows.filter(code=code).first()
    if row is None:
        raise NotFound("not_found", "There is no such prospect.", got=str(code))
    return row


def photo_by_code(code: uuid.UUID) -> ProspectPhoto:
    row = ProspectPhoto.objects.filter(code=code).first()
    if row is None:
        raise NotFound("not_found", "There is no such photo.", got=str(code))
    return row


def condition_told(row: Prospect) -> Interval | None:
    return _interval(row.condition_low, high=row.condition_high)


def originality_told(row: Prospect) -> Interval | None:
    return _interval(row.originality_low, high=row.originality_high)


def _interval(low: Decimal | None, *, high: Decimal | None) -> Interval | None:
    return None if low is None or high is None else Interval(low, high)


TOLD_COLUMNS = (
    "year", "make", "model", "trim", "body", "engine", "transmission", "build_class", "color", "title_brand", "mileage",
)  # fmt: skip


def told_subject(row: Prospect, *, on: date) -> dict[str, Any]:
    """The vehicle as the band sees it on a day: what is told of it, taken widely, as if it were sold on the lot."""
    figures: dict[str, Decimal | None] = {}
    for name, told in (("condition", condition_told(row)), ("originality", originality_told(row))):
        taken = rules.told_interval(told)
        figures |= {f"{name}_low": taken.low if taken else None, f"{name}_high": taken.high if taken else None}
    return {
        **{name: getattr(row, name) for name in TOLD_COLUMNS},
        **figures,
        "odometer_status": rules.told_odometer(row.odometer_status),
        "modifications": None if row.modifications is None else [kind for kind, _ in row.modifications],
        "channel": SaleChannel.LOT.value,
        "ended_on": on,
    }


@dataclass(frozen=True, kw_only=True)
class PriceSeen:
    """The last band of a prospect, as the pricing desk draws one."""

    opinion: PriceOpinion
    drawing: Drawing
    parts: tuple[PartRow, ...]
    unknown: tuple[str, ...]
    weak: str
    standing: Standing
    why_wide: tuple[str, ...]


def _price_seen(row: Prospect, *, fit: ModelFit | None) -> PriceSeen | None:
    opinions = PriceOpinion.objects.select_related("fit").defer("fit__learned", "fit__record", "fit__selling")
    opinion = opinions.filter(prospect=row).order_by("-pk").first()
    if opinion is None:
        return None
    return PriceSeen(
        opinion=opinion, drawing=draw(opinion, hoped_for=row.hoped_for), parts=part_rows(opinion.parts),
        unknown=unknown_inputs(opinion.inputs), weak=weakness(opinion.evidence),
        standing=standing_of(opinion.fit, newest=fit), why_wide=rules.why_wide(_told(row, evidence=opinion.evidence)),
    )  # fmt: skip


def _told(row: Prospect, *, evidence: Mapping[str, Any]) -> rules.Told:
    return rules.Told(
        condition=condition_told(row), originality=originality_told(row), mileage=row.mileage,
        odometer_status=row.odometer_status, build_class=row.build_class,
        modifications_told=row.modifications is not None, make=row.make, model=row.model,
        sales_of_make=int(evidence.get("sales_of_make") or 0), sales_of_model=int(evidence.get("sales_of_model") or 0),
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Proposed:
    """The terms the lot proposes, in words, and what they would leave the owner of the vehicle."""

    row: Terms
    points: tuple[tuple[str, str], ...]
    by: str
    at: datetime
    net_sheet: tuple[Net, ...]


def proposed_columns(row: Prospect) -> dict[str, Any]:
    """The proposed terms as columns again, each amount exactly as it was proposed; none where none are."""
    said: Mapping[str, Any] = row.terms.get("columns", {})
    return {name: Terms._meta.get_field(name).to_python(value) for name, value in said.items()}  # type: ignore[union-attr]


def proposed_terms(row: Prospect) -> Terms | None:
    """As a row that is not saved: no stay is there yet."""
    if not row.terms:
        return None
    at = datetime.fromisoformat(row.terms["at"])
    terms = Terms(number=1, by=row.terms["by"], at=at, **proposed_columns(row))
    terms.last_quote = None
    return terms


def _proposed(
    row: Prospect, *, opinion: PriceOpinion | None, today: date, price: Decimal | None = None
) -> Proposed | None:
    terms = proposed_terms(row)
    if terms is None:
        return None
    places = [
        ("Band: low", opinion.low if opinion else None), ("Band: likely", opinion.likely if opinion else None),
        ("Band: high", opinion.high if opinion else None), ("Hoped for", row.hoped_for),
        ("At the price asked about", price),
    ]  # fmt: skip
    sheet = tuple(
        net_at(place, label=label, terms=terms, charges=[], on=today) for label, place in places if place is not None
    )
    return Proposed(row=terms, points=in_words(said_in(terms)), by=terms.by, at=terms.at, net_sheet=sheet)


@dataclass(frozen=True)
class LogLine:
    at: datetime
    who: str
    sentence: str


@dataclass(frozen=True, kw_only=True)
class ProspectSeen:
    row: Prospect
    is_open: bool
    condition: str
    originality: str
    modifications: tuple[str, ...] | None
    serial_questions: tuple[str, ...]
    stays_of_number: tuple[Consignment, ...]
    photos: tuple[ProspectPhoto, ...]
    price: PriceSeen | None
    has_fit: bool
    check_first: check_next.CheckNext | None
    proposed: Proposed | None
    log: tuple[LogLine, ...]

    @property
    def net_sheet(self) -> tuple[Net, ...]:
        return self.proposed.net_sheet if self.proposed else ()

    @property
    def person(self) -> str:
        return str(self.row.consignor or self.row.contact)

    @property
    def mileage(self) -> str:
        """The reading with its thousands marked."""
        return "" if self.row.mileage is None else f"{self.row.mileage:,}"

    @property
    def warned(self) -> bool:
        """Whether booking asks for a reason for the number."""
        return bool(self.row.serial) and rules.serial_needs_reason(self.row.serial, year=self.row.year)


def prospect_seen(row: Prospect, *, today: date, price: Decimal | None = None) -> ProspectSeen:
    """All that the page of one prospect shows, in a constant number of queries."""
    fit = fit_of_the_desk()
    seen = _price_seen(row, fit=fit)
    is_open = row.stage in rules.OPEN_STAGES
    condition, originality = condition_told(row), originality_told(row)
    return ProspectSeen(
        row=row,
        is_open=is_open,
        condition=rules.span_words(condition) if condition else "",
        originality=rules.span_words(originality) if originality else "",
        modifications=_modifications(row),
        serial_questions=rules.serial_questions(row.serial, year=row.year),
        stays_of_number=_stays_of(row),
        photos=tuple(row.photos.order_by("pk")),
        price=seen,
        has_fit=fit is not None,
        check_first=check_next.of_told(told_subject(row, on=today), fit_state=fit.learned)
        if fit and seen and is_open
        else None,
        proposed=_proposed(row, opinion=seen.opinion if seen else None, today=today, price=price),
        log=_log_of(row),
    )


def proposal_of(row: Prospect, *, today: date) -> Proposed:
    """What is printed for the owner of the vehicle."""
    opinion = PriceOpinion.objects.filter(prospect=row).order_by("-pk").first()
    found = _proposed(row, opinion=opinion, today=today)
    if found is None:
        raise NotFound("not_found", "No terms are proposed yet.", field="terms")
    return found


def _modifications(row: Prospect) -> tuple[str, ...] | None:
    if row.modifications is None:
        return None
    return tuple(rules.modification_words(kind, fitting=fitting) for kind, fitting in row.modifications)


def _stays_of(row: Prospect) -> tuple[Consignment, ...]:
    """Stays of a vehicle with this very number, the one this became left out."""
    number = normalise(row.serial)
    if not number:
        return ()
    stays = Consignment.objects.filter(vehicle__in=Vehicle.objects.filter(serial=number)).order_by("-pk")
    return tuple(stay for stay in stays if stay.pk != row.consignment_id)


def _log_of(row: Prospect) -> tuple[LogLine, ...]:
    entries = LogEntry.objects.filter(subject_kind="prospect", subject_id=row.pk).order_by("-pk")[:LOG_SHOWN]
    return tuple(LogLine(entry.at, entry.actor_name, log_sentence(entry.action, data=entry.data)) for entry in entries)


@dataclass(frozen=True, kw_only=True)
class BeforeArrival:
    """What was told of a stay before it came, beside the band of then and the band of now."""

    row: Prospect
    condition: str
    originality: str
    then: PriceOpinion | None
    now: PriceOpinion | None


def before_arrival(stay: Consignment) -> BeforeArrival | None:
    """In three queries at most; None for a stay that nobody told of before."""
    row = Prospect.objects.filter(consignment=stay).first()
    if row is None:
        return None
    condition, originality = condition_told(row), originality_told(row)
    return BeforeArrival(
        row=row,
        condition=rules.span_words(condition) if condition else "",
        originality=rules.span_words(originality) if originality else "",
        then=PriceOpinion.objects.filter(prospect=row).order_by("-pk").first(),
        now=PriceOpinion.objects.filter(consignment=stay).order_by("-pk").first(),
    )


def to_follow_up(by: Actor, today: date) -> list[FloorLine]:
    """One line for the floor, in one query."""
    if not may(by, Act.KEEP_PROSPECTS):
        return []
    count = due_on(today).count()
    if not count:
        return []
    return [FloorLine(text=f"Follow up {count} prospect{'' if count == 1 else 's'}", page="prospects")]


def due_on(day: date) -> QuerySet[Prospect]:
    return Prospect.objects.filter(stage__in=rules.OPEN_STAGES, follow_up_on__lte=day)
