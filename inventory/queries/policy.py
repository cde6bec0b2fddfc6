"""The weights in force, their versions, and what other weights would make of the stock."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.core.paginator import Page, Paginator
from django.db.models import Exists, OuterRef, QuerySet
from django.db.models.functions import Coalesce

from inventory.models import CheckResult, IntakeInspection, ScorePolicy
from inventory.queries.inspections import kinds_of
from inventory.queries.ledger import ledgers_of
from inventory.queries.scores import Weighed
from inventory.rules import policy as rules
from inventory.rules import scores
from inventory.rules.catalogue import CHECKS, STATIONS, Feature, asked_codes
from inventory.rules.components import COMPONENTS
from inventory.rules.policy import PARTS, WeightChange
from inventory.rules.scores import Graded, Interval

VERSIONS_PER_PAGE = 20
SHOWN = 100


@dataclass(frozen=True)
class InForce:
    """The weights that the next inspection begins with. `row` is None before the first one."""

    row: ScorePolicy | None
    weights: dict[str, Any]

    @property
    def number(self) -> int:
        return self.row.number if self.row else 0


def in_force() -> InForce:
    """The latest version, brought to the checks that are asked now."""
    row = ScorePolicy.objects.order_by("-number").first()
    return InForce(row, scores.renewed(row.weights if row else {}))


@dataclass(frozen=True)
class Version:
    row: ScorePolicy
    changes: list[WeightChange]
    is_first: bool


def versions(page: str) -> tuple[Page[ScorePolicy], list[Version]]:
    """One page of all versions, newest first, each with what it changed in the one before."""
    found = Paginator(ScorePolicy.objects.order_by("-number"), VERSIONS_PER_PAGE).get_page(page)
    rows = list(found.object_list)
    if not rows:
        return found, []
    before, told = ScorePolicy.objects.filter(number__lt=rows[-1].number).order_by("-number").first(), []
    for row, earlier in zip(rows, [*rows[1:], before], strict=True):
        changes = rules.changes(earlier.weights, row.weights) if earlier else []
        told.append(Version(row, changes, is_first=earlier is None))
    return found, told


@dataclass(frozen=True)
class Effect:
    """What other weights make of one vehicle's figures."""

    stock_number: str
    vehicle: str
    condition: tuple[Interval | None, Interval | None]
    originality: tuple[Interval | None, Interval | None]

    @property
    def moves(self) -> Decimal:
        """The most that any end of either figure moves."""
        return max(_moved(*self.condition), _moved(*self.originality))


def _moved(before: Interval | None, after: Interval | None) -> Decimal:
    if before is None or after is None:
        return Decimal(0) if before is after else Decimal(100)
    return max(abs(before.low - after.low), abs(before.high - after.high))


@dataclass(frozen=True)
class Effects:
    """The whole stock under other weights: what moves most first, and how many do not move."""

    changes: list[WeightChange]
    mark: str
    rows: list[Effect]

    @property
    def moved(self) -> list[Effect]:
        return [row for row in self.rows if row.moves]

    @property
    def shown(self) -> list[Effect]:
        return self.moved[:SHOWN]

    @property
    def not_shown(self) -> int:
        return len(self.moved) - len(self.shown)


def effects_of(weights: Mapping[str, Any]) -> Effects:
    """Each vehicle that is not released and has an inspection, weighed by the weights in force and by these."""
    now = in_force().weights
    changes = rules.changes(now, weights)
    touched = {figure for change in changes for figure in rules.PARTS[change.part].figures}
    rows = [_effect(one, now=now, then=weights, touched=touched) for one in weighed_stock()]
    rows.sort(key=lambda row: (-row.moves, row.stock_number))
    return Effects(changes, rules.mark_of(weights), rows)


def _effect(one: Weighed, *, now: Mapping[str, Any], then: Mapping[str, Any], touched: Collection[str]) -> Effect:
    stay, found = one.inspection.consignment, {}
    for figure in ("condition", "originality"):
        before = one.interval(figure, policy=now)
        found[figure] = (before, one.interval(figure, policy=then) if figure in touched else before)
    return Effect(stay.stock_number, str(stay.vehicle), **found)


def weighed_stock() -> list[Weighed]:
    """The last inspection of every stay that is not released, in a constant number of queries."""
    later = IntakeInspection.objects.filter(consignment=OuterRef("consignment"), number__gt=OuterRef("number"))
    walks = IntakeInspection.objects.filter(~Exists(later), consignment__released_on__isnull=True)
    rows = list(walks.select_related("consignment__vehicle", "policy"))
    found = _found(walks)
    vehicles = walks.values("consignment__vehicle")
    ledgers = ledgers_of({row.pk: (row.consignment.vehicle_id, row.finished_at) for row in rows}, vehicles=vehicles)
    kinds = kinds_of({row.pk: row.consignment.vehicle for row in rows if row.is_open}, vehicles=vehicles)
    asked = {row.pk: asked_codes(**kinds[row.pk]) if row.is_open else row.asked for row in rows}
    return [
        Weighed(row, None if codes is None else frozenset(codes), found.get(row.pk, {}), ledgers[row.pk])
        for row in rows
        for codes in [asked[row.pk]]
    ]


def _found(walks: QuerySet[IntakeInspection]) -> dict[int, dict[str, Graded]]:
    """What each inspection found, as bare values: a lot of a thousand has a hundred thousand results."""
    found: dict[int, dict[str, Graded]] = {}
    rows = CheckResult.objects.filter(inspection__in=walks.values("pk"))
    # the order of `CheckResult.told_order`: names of devices are hexadecimal, so any database sorts them alike
    told = rows.order_by(Coalesce("told_at", "at"), "device", "pk")
    read = told.values_list("inspection_id", "check_code", "verdict", "grade", "basis")
    for walk, code, verdict, grade, basis in read.iterator():
        found.setdefault(walk, {})[code] = Graded(code, verdict, grade, basis)
    return found


@dataclass(frozen=True)
class WeightGroup:
    """Weights that are shown together, each with its title."""

    title: str
    means: str
    lines: list[tuple[str, Any]]
    adds_up: bool

    @property
    def total(self) -> int:
        return sum(figure for _, figure in self.lines)


def groups_in_force(force: InForce) -> list[WeightGroup]:
    """Checks by station, then the other parts: what a lot may set."""
    checks, parts = force.weights["checks"], PARTS.values()
    return [
        WeightGroup(station.title, "", [(check.wording, checks[check.code]) for check in station.checks], adds_up=True)
        for station in STATIONS
    ] + [
        WeightGroup(
            part.title, part.means, [(title, force.weights[part.code][code]) for code, title in part.titles.items()],
            adds_up=part.must_weigh,
        )
        for part in parts if part.code != "checks"
    ]  # fmt: skip


def carrying() -> list[str]:
    """The checks whose grade caps the condition: the house's own."""
    return [check.wording for check in CHECKS.values() if check.structural]


def belonging() -> list[str]:
    """Components that leave the weighing where the vehicle is known to lack what they belong to: the house's own."""
    return [
        f"{component.title}: without {' and '.join(Feature(one).label for one in sorted(component.belongs_to))}"
        for component in COMPONENTS
        if component.belongs_to
    ]
