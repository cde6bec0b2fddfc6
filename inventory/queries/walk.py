"""The walk as it stands: what is answered, what is left, and the intervals drawn so far."""

from dataclasses import dataclass

from inventory.errors import NotFound
from inventory.models import Consignment, IntakeInspection
from inventory.queries.facts import finished_inspection, open_inspection
from inventory.queries.inspections import (
    LedgerLine,
    StationFound,
    graded_of,
    latest_components,
    latest_results,
    ledger_lines,
    stations_found,
    stood_of,
)
from inventory.rules import scores
from inventory.rules.scores import Interval
from inventory.rules.states import State
from inventory.rules.stations import STATIONS


@dataclass(frozen=True, kw_only=True)
class Walk:
    """The open inspection if there is one; else the last finished one is only named."""

    inspection: IntakeInspection | None
    last: IntakeInspection | None
    may_begin: bool
    stations: list[StationFound]
    ledger: list[LedgerLine]
    condition: Interval | None
    originality: Interval | None

    @property
    def done(self) -> int:
        return sum(found.is_done for found in self.stations)

    @property
    def left(self) -> list[StationFound]:
        return [found for found in self.stations if not found.is_done]

    @property
    def established(self) -> int:
        """Components with a line in the ledger."""
        return sum(line.record is not None for line in self.ledger)


def walk_of(stay: Consignment) -> Walk:
    inspection = open_inspection(stay)
    results = latest_results(inspection) if inspection else {}
    components = latest_components(stay.vehicle_id)
    weights = inspection.policy.weights if inspection else None
    return Walk(
        inspection=inspection,
        last=finished_inspection(stay),
        may_begin=stay.state not in {State.BOOKED, State.RELEASED},
        stations=stations_found(results),
        ledger=ledger_lines(components),
        condition=scores.condition(graded_of(results), policy=weights) if weights else None,
        originality=scores.originality(stood_of(components), policy=weights) if weights else None,
    )


@dataclass(frozen=True)
class StationPage:
    """One station of the open walk with its neighbours in walking order."""

    found: StationFound
    number: int
    of: int
    before: str
    after: str
    is_open: bool


def station_page(stay: Consignment, *, code: str) -> StationPage:
    codes = [station.code for station in STATIONS]
    if code not in codes:
        raise NotFound("not_found", f"There is no station {code}.", field="station", got=code)
    here = codes.index(code)
    inspection = open_inspection(stay)
    stations = stations_found(latest_results(inspection) if inspection else {})
    return StationPage(
        stations[here],
        number=here + 1,
        of=len(codes),
        before=codes[here - 1] if here else "",
        after=codes[here + 1] if here + 1 < len(codes) else "",
        is_open=inspection is not None,
    )
