"""What if: the band of one vehicle were something else found, mended or changed. Nothing of it is stored."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal
from functools import cached_property
from typing import Any

from inventory import bridge
from inventory.errors import Refused
from inventory.models import Consignment, ModelFit, Modification
from inventory.queries.drawn_bands import Drawn, drawn
from inventory.queries.facts import finished_inspection
from inventory.queries.history import subject
from inventory.queries.inspections import wording_of
from inventory.queries.ledger import ModificationSeen, modifications_of
from inventory.queries.supposed import Supposed, supposed_of
from inventory.rules import money, unanswered
from inventory.rules.catalogue import CHECKS, STATION_OF
from inventory.rules.components import ALL_TITLES
from inventory.rules.score_words import check_said, stood_said
from inventory.rules.scores import Stood
from inventory.rules.unanswered import FIGURES, INPUTS
from inventory.rules.words import Basis

CHECK_PLACE = {code: place for place, code in enumerate(CHECKS)}
Choices = list[tuple[str, str]]
NOT_INSPECTED = (
    "No inspection is finished yet, so condition and originality are not known: no check can be graded and no "
    "component established here."
)


@dataclass(frozen=True, kw_only=True)
class Addition:
    """A modification that is not there: its kind, how it is fitted, and the component it would change, if any."""

    kind: str
    fitting: str
    component: str = ""


@dataclass(frozen=True, kw_only=True)
class Plan:
    """What is supposed: grades by check, standings by component, modifications undone (their ids) and added, inputs."""

    grades: Mapping[str, int] = field(default_factory=dict)
    standings: Mapping[str, str] = field(default_factory=dict)
    undone: frozenset[int] = frozenset()
    added: Sequence[Addition] = ()
    inputs: Mapping[str, Any] = field(default_factory=dict)
    cost: Decimal | None = None

    @property
    def is_empty(self) -> bool:
        return not (self.grades or self.standings or self.undone or self.added or self.inputs)


@dataclass(frozen=True)
class Situation:
    """One vehicle as it is today: what the band sees, its last finished inspection, its modifications."""

    stay: Consignment
    row: dict[str, Any]
    supposed: Supposed | None
    modifications: list[ModificationSeen]

    @property
    def why_less(self) -> str:
        """Why some things are not offered; empty where all are."""
        return "" if self.supposed else NOT_INSPECTED

    @cached_property
    def checks(self) -> list[tuple[str, Choices]]:
        """Every check that is weighed, by station, with what was found."""
        if self.supposed is None:
            return []
        found, groups = self.supposed.weighed.found, dict[str, Choices]()
        lines = sorted(self.supposed.lines("condition"), key=lambda line: CHECK_PLACE.get(line.code, len(CHECKS)))
        for line in lines:
            station = STATION_OF.get(line.code)
            label = f"{wording_of(line.code)} – {check_said(found.get(line.code))}"
            groups.setdefault(station.title if station else "Other", []).append((line.code, label))
        return list(groups.items())

    @cached_property
    def components(self) -> Choices:
        """Every component that is weighed, with what is said of it."""
        if self.supposed is None:
            return []
        ledger, weights = self.supposed.weighed.ledger, self.supposed.weights
        absent, said = ledger.never_had(policy=weights), ledger.records
        stood = {code: Stood(code, row.standing, row.basis) for code, row in said.items()}
        codes = [code for code in weights["components"] if code not in absent]
        return [(code, f"{ALL_TITLES.get(code, code)} – {stood_said(stood.get(code))}") for code in codes]

    @property
    def undoable(self) -> Choices:
        return [(str(seen.row.pk), f"{seen.row.what}, {seen.row.get_fitting_display()}") for seen in self.modifications]

    @property
    def missing(self) -> tuple[str, ...]:
        return tuple(name for name in INPUTS if unanswered.is_missing(self.row[name], column=name))


def situation_of(stay: Consignment, *, today: date) -> Situation:
    inspection = finished_inspection(stay)
    supposed = supposed_of(inspection) if inspection else None
    return Situation(stay, subject(stay, on=today), supposed, modifications_of(stay.vehicle_id))


def supposed_row(here: Situation, *, plan: Plan) -> dict[str, Any]:
    """The vehicle as the band would see it. A figure that the plan does not move stays as it was frozen."""
    kinds = [seen.row.kind for seen in here.modifications if seen.row.pk not in plan.undone]
    row = {**here.row, **plan.inputs, "modifications": [*kinds, *(one.kind for one in plan.added)]}
    if here.supposed is None:
        return row
    then = _changed(here.supposed.graded(plan.grades).stood(plan.standings), plan=plan)
    for figure in FIGURES:
        if (interval := then.interval(figure)) != here.supposed.interval(figure):
            row |= unanswered.ends_of(interval, figure=figure)
    return row


def _changed(supposed: Supposed, *, plan: Plan) -> Supposed:
    """With the plan's modifications in the ledger, as if they had been seen."""
    ledger = supposed.weighed.ledger
    kept = [seen for seen in ledger.modifications if seen.row.pk not in plan.undone]
    added = [
        ModificationSeen(
            Modification(kind=one.kind, fitting=one.fitting, basis=Basis.SEEN),
            (one.component,) if one.component else (),
        )
        for one in plan.added
    ]
    ledger = replace(ledger, modifications=[*kept, *added])
    return replace(supposed, weighed=replace(supposed.weighed, ledger=ledger))


@dataclass(frozen=True)
class Outcome:
    """The band today and as supposed; None where there is none, with why in `problem`."""

    fit: ModelFit | None
    now: bridge.Band | None = None
    then: bridge.Band | None = None
    cost: Decimal | None = None
    problem: str = ""
    moved: tuple[tuple[str, str, str], ...] = ()  # condition and originality: what, today, then

    @property
    def lines(self) -> list[tuple[str, Decimal, Decimal, Decimal]]:
        """Low, likely and high: today, then, and the change."""
        if self.now is None or self.then is None:
            return []
        pairs = [(name, getattr(self.now, name), getattr(self.then, name)) for name in ("low", "likely", "high")]
        return [(name, now, then, then - now) for name, now, then in pairs]

    @property
    def gain(self) -> Decimal | None:
        return None if self.now is None or self.then is None else self.then.likely - self.now.likely

    @property
    def left(self) -> Decimal | None:
        """The gain less what it costs."""
        return None if self.gain is None or self.cost is None else self.gain - self.cost

    @property
    def drawing(self) -> tuple[Drawn, ...]:
        if self.now is None or self.then is None:
            return ()
        return drawn([("Today", self.now), ("Then", self.then)], left=140, top=20, gap=70)

    @property
    def spoken(self) -> str:
        said = [
            f"{name} {money.show_whole(now)} today, {money.show_whole(then)} then" for name, now, then, _ in self.lines
        ]
        return "; ".join(said)


def outcome_of(here: Situation, *, plan: Plan) -> Outcome:
    """Both bands by the last fit, in one batch."""
    fit = ModelFit.objects.defer("record", "selling").order_by("-pk").first()
    if fit is None:
        return Outcome(None, problem="The price band has not been fitted to past sales yet.")
    row = supposed_row(here, plan=plan)
    try:
        bands = bridge.bands_of([here.row, row], state=fit.learned)
    except Refused as problem:
        return Outcome(fit, problem=str(problem))
    said = [
        f"{when}, there is no band: {band.reason}."
        for when, band in zip(("Today", "As supposed"), bands, strict=True)
        if isinstance(band, bridge.Thin)
    ]
    now, then = (band if isinstance(band, bridge.Band) else None for band in bands)
    return Outcome(fit, now, then, plan.cost, " ".join(dict.fromkeys(said)), _moved(here.row, then=row))


def _moved(now: Mapping[str, Any], *, then: Mapping[str, Any]) -> tuple[tuple[str, str, str], ...]:
    return tuple((unanswered.TITLES[one], _span(now, figure=one), _span(then, figure=one)) for one in FIGURES)


def _span(row: Mapping[str, Any], *, figure: str) -> str:
    low, high = row[f"{figure}_low"], row[f"{figure}_high"]
    return "not known" if low is None else f"{low} to {high}"
