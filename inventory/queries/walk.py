"""The walk as it stands: what is answered, what is left, and the intervals drawn so far."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from inventory.errors import NotFound
from inventory.models import CheckResult, Consignment, IntakeInspection, LateTap, StationVisit
from inventory.queries.facts import finished_inspection, open_inspection
from inventory.queries.flags import FlagLine, drives_stopped, flags_of
from inventory.queries.inspections import (
    CheckFound,
    StationFound,
    answers_of,
    features_of,
    graded_of,
    kind_of,
    latest_results,
    stations_found,
)
from inventory.queries.ledger import Ledger, ledger_of
from inventory.queries.shots import shots_wanted
from inventory.rules import scores
from inventory.rules.catalogue import STATION, STATIONS, Feature, Shot, Station, asked_codes
from inventory.rules.flags import ROAD_TEST
from inventory.rules.scores import Interval
from inventory.rules.states import State
from inventory.rules.walk import was_seen


@dataclass(frozen=True, kw_only=True)
class Walk:
    """The open inspection if there is one; else the last finished one is only named."""

    inspection: IntakeInspection | None
    last: IntakeInspection | None
    may_begin: bool
    stations: list[StationFound]
    ledger: Ledger
    condition: Interval | None
    originality: Interval | None
    flags: list[FlagLine]
    features_known: int
    late: list[LateTap]

    @property
    def carried(self) -> int:
        """Answers of an inspection before that were taken over as they were."""
        shown = [found.result for one in self.stations for found in one.checks]
        return sum(row is not None and row.carried_from_id is not None for row in shown)

    @property
    def again(self) -> list[tuple[Station, CheckFound]]:
        """Of a look at what was worked on: the checks it asks."""
        order = self.inspection.work_order if self.inspection else None
        codes = order.checks if order is not None else ()
        return [(one.station, found) for one in self.stations for found in one.checks if found.check.code in codes]

    @property
    def done(self) -> int:
        return sum(found.is_done for found in self.stations)

    @property
    def answered(self) -> int:
        return sum(found.answered for found in self.stations)

    @property
    def checks(self) -> int:
        return sum(len(found.checks) for found in self.stations)

    @property
    def left(self) -> list[StationFound]:
        return [found for found in self.stations if not found.is_done]

    @property
    def resume(self) -> StationFound | None:
        """Where to go on: the station begun last and not done, else the first that is not."""
        begun = [found for found in self.left if found.last is not None]
        if begun:
            return max(begun, key=lambda found: found.last.told_order if found.last else ())
        return self.left[0] if self.left else None

    @property
    def feature_count(self) -> int:
        return len(Feature.values)


def walk_of(stay: Consignment, *, today: date) -> Walk:
    inspection = open_inspection(stay)
    results = latest_results(inspection) if inspection else {}
    ledger = ledger_of(stay.vehicle_id)
    weights = scores.renewed(inspection.policy.weights) if inspection else None
    kind = kind_of(stay.vehicle)
    asked = asked_codes(**kind)
    return Walk(
        inspection=inspection,
        last=finished_inspection(stay),
        may_begin=stay.state not in {State.BOOKED, State.RELEASED},
        stations=stations_found(results, asked=asked),
        ledger=ledger,
        condition=scores.condition(graded_of(results), policy=weights, asked=asked) if weights else None,
        originality=ledger.originality(policy=weights) if weights else None,
        flags=flags_of(stay, today=today),
        features_known=len(kind["has"]) + len(kind["lacks"]),
        late=late_taps(stay),
    )


def late_taps(stay: Consignment) -> list[LateTap]:
    """Taps that came after their inspection was finished, newest first."""
    return list(LateTap.objects.filter(inspection__consignment=stay).select_related("inspection").order_by("-pk"))


@dataclass(frozen=True, kw_only=True)
class StationPage:
    """One station of the open walk with its neighbours in walking order."""

    inspection: IntakeInspection | None
    found: StationFound
    number: int
    of: int
    before: Station | None
    after: Station | None
    other_side: str  # JSON for the device: what was seen there, by check
    visit: StationVisit | None
    stopped_by: list[FlagLine]
    shots: Sequence[Shot]
    shots_missing: Sequence[Shot]

    @property
    def is_open(self) -> bool:
        return self.inspection is not None

    @property
    def has_twins(self) -> bool:
        return any(line.check.twin for line in self.found.checks)


def station_page(stay: Consignment, *, code: str, today: date) -> StationPage:
    if code not in STATION:
        raise NotFound("not_found", f"There is no station {code}.", field="station", got=code)
    here = list(STATION).index(code)
    inspection = open_inspection(stay)
    results = latest_results(inspection) if inspection else {}
    kind = kind_of(stay.vehicle)
    found = stations_found(results, asked=asked_codes(**kind))[here]
    shots = next(one.shots for one in shots_wanted(lacks=kind["lacks"]) if one.code == code)
    taken = set(stay.photos.filter(station=code, hiding__isnull=True).values_list("shot", flat=True))
    visits = StationVisit.objects.filter(inspection=inspection, station=code) if inspection else None
    return StationPage(
        inspection=inspection,
        found=found,
        number=here + 1,
        of=len(STATIONS),
        before=STATIONS[here - 1] if here else None,
        after=STATIONS[here + 1] if here + 1 < len(STATIONS) else None,
        other_side=json.dumps(_seen_there(found, results)),
        visit=visits.order_by("-pk").first() if visits is not None else None,
        stopped_by=drives_stopped(stay, today=today) if code == ROAD_TEST else [],
        shots=shots,
        shots_missing=[shot for shot in shots if shot.code not in taken],
    )


def _seen_there(found: StationFound, results: Mapping[str, CheckResult]) -> dict[str, str]:
    """The answers of the twins of this station's checks, as far as somebody saw them."""
    twins = {line.check.twin for line in found.checks}
    return {
        code: answer.verdict if answer.grade is None else str(answer.grade)
        for code, answer in answers_of(results).items()
        if code in twins and was_seen(answer)
    }


@dataclass(frozen=True)
class FeatureLine:
    """One thing that decides on questions, and whether the vehicle has it (None: nobody said)."""

    feature: Feature
    present: bool | None


def feature_lines(stay: Consignment) -> list[FeatureLine]:
    known = features_of(stay.vehicle)
    return [FeatureLine(feature, known.get(feature)) for feature in Feature]
