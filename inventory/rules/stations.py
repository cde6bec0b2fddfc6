"""The stations of an intake inspection in walking order, their checks, and the main components.

A station has at least its overall check; further checks join the same table.
"""

from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Check:
    code: str
    wording: str
    weight: int  # share in the condition, the lot's policy (common practice, no source)
    unit: str = ""  # of its reading, where it has one
    structural: bool = False


@dataclass(frozen=True)
class Station:
    code: str
    title: str
    hint: str
    checks: tuple[Check, ...]
    caution: str = ""


def _station(code: str, title: str, hint: str, weight: int, **more: Any) -> Station:
    caution = more.pop("caution", "")
    return Station(code, title, hint, (Check(f"{code}.overall", f"{title}: overall", weight, **more),), caution)


ENGINE = "Running engine: fresh air, wheels chocked, hands clear of fan and belts."
FUEL = "Fuel and battery: no flame, no sparks, know where the extinguisher is."
LIFT = "Lift: use the maker's lifting points, set the locks, nobody inside the vehicle."
ROAD = "Licensed driver, plate and insurance in order; brakes and steering checked first."

STATIONS: tuple[Station, ...] = (
    _station(
        "cold_start",
        "Cold start",
        "before anything is warm: first turn, smoke, noises, idle",
        10,
        caution=ENGINE,
    ),
    _station("paperwork", "Paperwork and plates", "title, plates, stamps, books, keys", 4),
    _station("front", "Front", "bumper, grille, lamps, bonnet fit", 7),
    _station("left_side", "Left side", "flank from low down, doors, gaps, sills", 9),
    _station("rear", "Rear", "boot or bed, lamps, bumper", 7),
    _station("right_side", "Right side", "flank from low down, doors, gaps, sills", 9),
    _station("glass", "Glass and brightwork", "windshield, side glass, lenses, trim", 5),
    _station("engine_bay", "Engine bay", "leaks, hoses, wiring, mountings, belts", 11, caution=FUEL),
    _station("interior", "Interior and controls", "seats, floor, instruments, switches", 10),
    _station(
        "underside",
        "Underside on the lift",
        "frame, floors, lines, exhaust, suspension",
        14,
        structural=True,
        caution=LIFT,
    ),
    _station("tyres", "Tyres and wheels", "thinnest tread, age, size, match", 6, unit="32nds of an inch"),
    _station("road_test", "Road test", "starts, stops, steers, shifts, warms up", 8, caution=ROAD),
)

CHECKS: dict[str, Check] = {check.code: check for station in STATIONS for check in station.checks}
STATION_OF: dict[str, Station] = {check.code: station for station in STATIONS for check in station.checks}


@dataclass(frozen=True)
class Component:
    code: str
    title: str
    weight: int  # share in the originality, the lot's policy (common practice, no source)


COMPONENTS: tuple[Component, ...] = (
    Component("engine", "Engine", 20),
    Component("transmission", "Transmission", 12),
    Component("rear_axle", "Rear axle", 8),
    Component("body_shell", "Body shell", 18),
    Component("outer_panels", "Outer panels", 10),
    Component("paint", "Paint", 10),
    Component("interior_trim", "Interior trim", 10),
    Component("glass", "Glass", 4),
    Component("wheels", "Wheels", 4),
    Component("instruments", "Instruments", 4),
)
COMPONENT_TITLES: dict[str, str] = {component.code: component.title for component in COMPONENTS}
