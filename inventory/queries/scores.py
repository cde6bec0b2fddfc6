"""Condition and originality of one inspection, opened up: from what was found, by the weights it was begun with."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property
from typing import Any

from django.utils import timezone

from inventory.errors import NotFound
from inventory.models import Consignment, IntakeInspection
from inventory.queries.inspections import graded_of, kind_of, latest_results, wording_of
from inventory.queries.ledger import Ledger, ledger_of
from inventory.rules import score_words, scores
from inventory.rules.catalogue import CHECKS, STATION_OF, asked_codes
from inventory.rules.components import ALL_TITLES, COMPONENTS
from inventory.rules.scores import Graded, Interval, Opened, ScoreLine, Stood
from inventory.rules.words import Verdict

TITLES = {"condition": "Condition", "originality": "Originality"}
CHECK_PLACE = {code: place for place, code in enumerate(CHECKS)}
COMPONENT_PLACE = {component.code: place for place, component in enumerate(COMPONENTS)}


@dataclass(frozen=True)
class Weighed:
    """What one inspection weighs: its findings and the ledger, both as they stood when it was finished, or stand."""

    inspection: IntakeInspection
    asked: frozenset[str] | None  # None: finished before that was written down, so all that its policy names
    found: dict[str, Graded]
    ledger: Ledger

    def opened(self, figure: str, *, policy: Mapping[str, Any] | None = None) -> Opened | None:
        """One figure by the inspection's own weights, or by others."""
        weights = self.inspection.policy.weights if policy is None else policy
        if figure == "originality":
            return self.ledger.opened(policy=weights)
        return scores.opened_condition(self.found.values(), policy=weights, asked=self.asked)

    def interval(self, figure: str, *, policy: Mapping[str, Any] | None = None) -> Interval | None:
        opened = self.opened(figure, policy=policy)
        return opened.interval if opened else None


def weighed_of(inspection: IntakeInspection) -> Weighed:
    vehicle = inspection.consignment.vehicle
    asked = inspection.asked
    if inspection.is_open:
        asked = asked_codes(**kind_of(vehicle))
    return Weighed(
        inspection,
        None if asked is None else frozenset(asked),
        {row.code: row for row in graded_of(latest_results(inspection))},
        ledger_of(vehicle.pk, until=inspection.finished_at),
    )


def stored_of(inspection: IntakeInspection, *, figure: str) -> Interval | None:
    """The ends that were frozen with the inspection; None where it is open, or where the figure was not known."""
    low = getattr(inspection, f"{figure}_low")
    return None if low is None else Interval(low, getattr(inspection, f"{figure}_high"))


@dataclass(frozen=True)
class LineSeen:
    """One line of a figure in words, and the codes of the screens where it is answered."""

    line: ScoreLine
    title: str
    place: str  # the station's title; "" for a component
    found: str
    share: Decimal
    makes: Decimal
    station: str = ""
    component: str = ""


@dataclass(frozen=True)
class ScorePage:
    figure: str
    inspection: IntakeInspection | None
    weighed: Weighed | None
    by_station: bool

    @property
    def title(self) -> str:
        return TITLES[self.figure]

    @cached_property
    def opened(self) -> Opened | None:
        return self.weighed.opened(self.figure) if self.weighed else None

    @property
    def is_open(self) -> bool:
        return self.inspection is not None and self.inspection.is_open

    @property
    def stored(self) -> Interval | None:
        return stored_of(self.inspection, figure=self.figure) if self.inspection else None

    @property
    def differs(self) -> bool:
        """Whether what is worked out here is not what was frozen: then the page must say so."""
        return not self.is_open and self.opened is not None and self.opened.interval != self.stored

    @cached_property
    def lines(self) -> list[LineSeen]:
        """Every line: what makes most of the width first, or in walking order."""
        if self.opened is None or self.weighed is None:
            return []
        read = _components if self.figure == "originality" else _checks
        seen = read(self.weighed, self.opened)
        return seen if self.by_station else sorted(seen, key=lambda one: -one.line.width)

    @property
    def left_out(self) -> list[str]:
        """What was looked at and is not weighed, with why."""
        if self.weighed is None or self.inspection is None:
            return []
        if self.figure == "originality":
            absent = self.weighed.ledger.never_had(policy=self.inspection.policy.weights)
            return [f"{ALL_TITLES.get(code, code)}: {why}" for code, why in sorted(absent.items())]
        known = [row for row in self.weighed.found.values() if row.grade is None and row.verdict != Verdict.NOT_SEEN]
        return [f"{wording_of(row.code)}: {score_words.check_said(row)}" for row in sorted(known, key=_place_of_row)]

    @property
    def held(self) -> list[str]:
        """What holds an end down, in words."""
        if self.opened is None or self.weighed is None:
            return []
        low, high = self.opened.low_cap, self.opened.high_cap
        both = [(low, ("low", "high"))] if low == high else [(low, ("low",)), (high, ("high",))]
        lines = {line.code: line for line in self.opened.lines}
        return [
            score_words.held_said(
                cap, wording=wording_of(cap[0]), row=self.weighed.found.get(cap[0]), line=lines[cap[0]], ends=ends
            )
            for cap, ends in both
            if cap is not None
        ]


def _place_of_row(row: Graded) -> int:
    return CHECK_PLACE.get(row.code, len(CHECK_PLACE))


def _checks(weighed: Weighed, opened: Opened) -> list[LineSeen]:
    lines = sorted(opened.lines, key=lambda line: (CHECK_PLACE.get(line.code, len(CHECK_PLACE)), line.code))
    seen = []
    for line in lines:
        station = STATION_OF.get(line.code)
        seen.append(
            LineSeen(
                line, wording_of(line.code), station.title if station else "",
                score_words.check_said(weighed.found.get(line.code)), opened.share(line), opened.makes(line),
                station=station.code if station and line.code in CHECKS else "",
            )
        )  # fmt: skip
    return seen


def _components(weighed: Weighed, opened: Opened) -> list[LineSeen]:
    ledger, changed = weighed.ledger, dict[str, str]()
    for modification in weighed.ledger.modifications:
        for code in modification.components:
            row = modification.row
            told = f"{row.what}, {row.get_fitting_display()} ({row.get_basis_display()})"
            changed[code] = f"{changed[code]}; {told}" if code in changed else told
    lines = sorted(opened.lines, key=lambda line: (COMPONENT_PLACE.get(line.code, len(COMPONENT_PLACE)), line.code))
    stood = {code: Stood(code, row.standing, row.basis) for code, row in ledger.records.items()}
    return [
        LineSeen(
            line, ALL_TITLES.get(line.code, line.code), "",
            score_words.stood_said(stood.get(line.code), changed=changed.get(line.code, "")),
            opened.share(line), opened.makes(line),
            component=line.code if line.code in COMPONENT_PLACE else "",
        )
        for line in lines
    ]  # fmt: skip


def score_page(stay: Consignment, *, figure: str, number: str = "", order: str = "") -> ScorePage:
    """The open inspection if there is one, else the last finished one; or the one with that number."""
    if figure not in TITLES:
        raise NotFound("not_found", f"There is no figure {figure}.", field="figure", got=figure)
    rows = IntakeInspection.objects.filter(consignment=stay).select_related("policy", "consignment__vehicle")
    if number:
        inspection = rows.filter(number=int(number)).first() if number.isdecimal() and len(number) < 6 else None
        if inspection is None:
            raise NotFound("not_found", f"There is no inspection {number}.", field="number", got=number)
    else:
        inspection = rows.order_by("-number").first()  # an open one is always the last
    weighed = weighed_of(inspection) if inspection else None
    return ScorePage(figure, inspection, weighed, by_station=order == "station")


@dataclass(frozen=True)
class InspectionSeen:
    """One inspection of a vehicle, with the two figures that were frozen."""

    row: IntakeInspection

    @property
    def name(self) -> str:
        """What an address calls it: its stay and its number."""
        return f"{self.row.consignment.stock_number}.{self.row.number}"

    @property
    def said(self) -> str:
        day = f"{timezone.localdate(self.row.finished_at)}" if self.row.finished_at else "open"
        return f"{self.row.consignment.stock_number}, inspection {self.row.number}, {day}"

    @property
    def condition(self) -> Interval | None:
        return stored_of(self.row, figure="condition")

    @property
    def originality(self) -> Interval | None:
        return stored_of(self.row, figure="originality")


def inspections_of(vehicle_id: int) -> list[InspectionSeen]:
    """Every inspection of a vehicle over all its stays, newest first."""
    rows = IntakeInspection.objects.filter(consignment__vehicle_id=vehicle_id)
    return [InspectionSeen(row) for row in rows.select_related("consignment", "policy").order_by("-begun_at", "-pk")]
