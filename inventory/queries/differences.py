"""The difference between two finished inspections of one vehicle, over all its stays."""

from collections.abc import Mapping
from dataclasses import dataclass

from inventory.errors import NotFound
from inventory.models import CheckResult, Consignment
from inventory.queries.inspections import CheckFound, answers_of, latest_results
from inventory.queries.scores import CHECK_PLACE, InspectionSeen, inspections_of
from inventory.rules.catalogue import CHECKS, EARLIER, STATION_OF
from inventory.rules.differences import Turn, turn_of


@dataclass(frozen=True)
class Turned:
    """One check that was answered differently."""

    turn: Turn
    station: str
    before: CheckFound
    after: CheckFound


@dataclass(frozen=True)
class Group:
    turn: Turn
    checks: list[Turned]


@dataclass(frozen=True)
class Comparison:
    """Two inspections side by side; both None where there are not two to compare."""

    choices: list[InspectionSeen]
    before: InspectionSeen | None
    after: InspectionSeen | None
    groups: list[Group]
    same: int  # checks with an answer in either that say the same


def comparison_of(stay: Consignment, *, a: str = "", b: str = "") -> Comparison:
    """Of the finished inspections `a` and `b`, “number” of this stay or “stock number.number”; at first the last two.

    The earlier one comes first, whichever way round they were named.
    """
    choices = [seen for seen in inspections_of(stay.vehicle_id) if not seen.row.is_open]
    if len(choices) < 2:
        return Comparison(choices, None, None, [], 0)
    chosen = [
        _chosen(stay, choices, name=name) if name else usual for name, usual in ((a, choices[1]), (b, choices[0]))
    ]
    before, after = sorted(chosen, key=lambda seen: (seen.row.finished_at, seen.row.pk))
    rows = [latest_results(seen.row) for seen in (before, after)]
    turned, same = _turned(*rows)
    groups = [Group(turn, [one for one in turned if one.turn == turn]) for turn in Turn]
    return Comparison(choices, before, after, [group for group in groups if group.checks], same)


def _chosen(stay: Consignment, choices: list[InspectionSeen], *, name: str) -> InspectionSeen:
    whole = name if "." in name else f"{stay.stock_number}.{name}"
    found = next((seen for seen in choices if seen.name == whole), None)
    if found is None:
        raise NotFound("not_found", f"There is no finished inspection {name}.", field="inspection", got=name)
    return found


def _turned(before: Mapping[str, CheckResult], after: Mapping[str, CheckResult]) -> tuple[list[Turned], int]:
    was, now = answers_of(before), answers_of(after)
    turned, same = [], 0
    for code in sorted({*was, *now}, key=lambda one: (CHECK_PLACE.get(one, len(CHECK_PLACE)), one)):
        turn = turn_of(was.get(code), now.get(code))
        if turn is None:
            same += 1
            continue
        found = [CheckFound(CHECKS.get(code) or EARLIER[code], rows.get(code)) for rows in (before, after)]
        turned.append(Turned(turn, STATION_OF[code].title, *found))
    return turned, same
