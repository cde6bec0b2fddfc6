"""The care rota: what standing vehicles want today, and what was done for one of them."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date

from django.db.models import Max, OuterRef, QuerySet, Subquery

from inventory.models import CareDone, CareRule, Consignment, ElectricFigures
from inventory.queries.places import NOWHERE, Whereabouts, last_moves_of, vehicles_here
from inventory.rules import care as rules
from inventory.rules.floor_words import CareKind
from inventory.rules.places import Order

SHOWN_DONE = 8


def lot_rules() -> list[CareRule]:
    """The rules of the lot, in the order of the kinds."""
    found = {row.kind: row for row in CareRule.objects.filter(consignment__isnull=True)}
    return [found[kind] for kind in CareKind if kind in found]


def _plain(rows: list[CareRule]) -> list[rules.Rule]:
    return [rules.Rule(row.kind, row.every_days, row.what) for row in rows]


@dataclass(frozen=True, kw_only=True)
class CareLine:
    """One kind of care that one vehicle wants today."""

    stay_id: int
    stock_number: str
    vehicle: str
    where: Whereabouts
    due: rules.Due
    days_over: int

    @property
    def rank(self) -> Order:
        return self.where.rank


def care_lines(*, today: date) -> list[CareLine]:
    """What is due today, by place. Vehicles that are away are not asked about. Four queries, none without a rule."""
    of_lot, own = _rules_by_stay()
    if not of_lot and not own:
        return []
    stays = vehicles_here().filter(arrived_on__isnull=False)
    where = last_moves_of(stays)
    done = _last_done(stays)
    lines = []
    for stay in stays.select_related("vehicle").order_by("pk"):
        at = where.get(stay.pk, NOWHERE)
        if not at.is_away and stay.arrived_on is not None:
            wanted = rules.in_effect(of_lot, own=own.get(stay.pk, ()))
            due = rules.care_due(wanted, arrived_on=stay.arrived_on, done=done.get(stay.pk, {}), today=today)
            lines += [_line(stay, where=at, due=one, today=today) for one in due]
    return sorted(lines, key=lambda line: line.rank)


def _rules_by_stay() -> tuple[list[rules.Rule], dict[int, list[rules.Rule]]]:
    """Of the lot and of stays that want it otherwise and are still here."""
    of_lot: list[rules.Rule] = []
    own: dict[int, list[rules.Rule]] = defaultdict(list)
    for row in CareRule.objects.filter(consignment__released_on__isnull=True):
        rule = rules.Rule(row.kind, row.every_days, row.what)
        (of_lot if row.consignment_id is None else own[row.consignment_id]).append(rule)
    return of_lot, own


def _last_done(stays: QuerySet[Consignment]) -> dict[int, dict[str, date]]:
    rows = CareDone.objects.filter(consignment__in=stays.order_by().values("pk")).order_by()
    found: dict[int, dict[str, date]] = defaultdict(dict)
    for stay_id, kind, last in (
        rows.values("consignment_id", "kind").annotate(last=Max("on")).values_list("consignment_id", "kind", "last")
    ):
        found[stay_id][kind] = last
    return found


def _line(stay: Consignment, *, where: Whereabouts, due: rules.Due, today: date) -> CareLine:
    return CareLine(
        stay_id=stay.pk, stock_number=stay.stock_number, vehicle=str(stay.vehicle), where=where, due=due,
        days_over=due.days_over(today),
    )  # fmt: skip


@dataclass(frozen=True)
class CareGroup:
    """What wants one kind of care today, and the places where it is wanted more than once."""

    kind: CareKind
    lines: list[CareLine]

    @property
    def label(self) -> str:
        return self.kind.label.capitalize()

    @property
    def gauge(self) -> rules.Gauge | None:
        return rules.GAUGES.get(self.kind)

    @property
    def what(self) -> str:
        """What is done, where all of them want the same."""
        said = {line.due.what for line in self.lines}
        return said.pop() if len(said) == 1 else ""

    @property
    def caution(self) -> str:
        return rules.START_UP_CAUTION if self.kind == CareKind.START_UP else ""

    @property
    def shared(self) -> list[tuple[str, int]]:
        counted: dict[str, int] = {}
        for line in self.lines:
            counted[line.where.place] = counted.get(line.where.place, 0) + 1
        return [(place, count) for place, count in counted.items() if place and count > 1]


def care_groups(*, today: date, place: str = "") -> list[CareGroup]:
    """By kind; of one place where it is named."""
    lines = [line for line in care_lines(today=today) if not place or line.where.place.casefold() == place.casefold()]
    groups = [CareGroup(kind, [line for line in lines if line.due.kind == kind]) for kind in CareKind]
    return [group for group in groups if group.lines]


@dataclass(frozen=True)
class CareSaid:
    """Care that was done, with its reading in words."""

    row: CareDone
    reading: str


def _with_system(rows: QuerySet[CareDone]) -> QuerySet[CareDone]:
    """Each with the voltage of the vehicle's system, where it is among its figures."""
    known = ElectricFigures.objects.filter(vehicle=OuterRef("consignment__vehicle"), system_volts__isnull=False)
    return rows.annotate(system_volts=Subquery(known.order_by("-pk").values("system_volts")[:1]))


def said(rows: QuerySet[CareDone]) -> list[CareSaid]:
    return [
        CareSaid(row, rules.reading_said(row.reading, unit=row.unit, system_volts=row.__dict__["system_volts"]))
        for row in _with_system(rows)
    ]


def told(ids: list[int]) -> str:
    """The stock numbers of what was done, each with what was read."""
    found = said(CareDone.objects.filter(pk__in=ids).select_related("consignment").order_by("consignment"))
    return ", ".join(f"{one.row.consignment}{f' ({one.reading})' if one.reading else ''}" for one in found)


@dataclass(frozen=True, kw_only=True)
class VehicleCare:
    """What one vehicle wants and what was done for it."""

    wanted: list[rules.Rule]
    own_kinds: frozenset[str]
    due: list[rules.Due]
    done: list[CareSaid]


def care_of(stay: Consignment, *, today: date) -> VehicleCare:
    """Two queries, and a third for what was done."""
    own = _plain(list(stay.care_rules.all()))
    wanted = rules.in_effect(_plain(lot_rules()), own=own)
    rows = CareDone.objects.filter(consignment=stay).order_by("-on", "-pk")
    last = dict(rows.order_by().values("kind").annotate(last=Max("on")).values_list("kind", "last"))
    asked = stay.arrived_on is not None and stay.released_on is None
    due = rules.care_due(wanted, arrived_on=stay.arrived_on or today, done=last, today=today) if asked else []
    return VehicleCare(
        wanted=wanted, own_kinds=frozenset(rule.kind for rule in own), due=due, done=said(rows[:SHOWN_DONE])
    )


def last_care(stays: QuerySet[Consignment]) -> dict[int, tuple[str, date]]:
    """What was done last for each, and when."""
    found: dict[int, tuple[str, date]] = {}
    for stay_id, kinds in _last_done(stays).items():
        kind = max(kinds, key=lambda one: kinds[one])
        found[stay_id] = (CareKind(kind).label, kinds[kind])
    return found
