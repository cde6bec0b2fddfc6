"""The checks of an intake inspection in walking order: one catalogue, and what of it a vehicle is asked.

A check's code is stored with each result, so codes stay; what is no longer asked moves to `EARLIER`.
"""

from collections.abc import Collection

from inventory.errors import Refused
from inventory.rules.catalogue.arrival import COLD_START, PAPERWORK
from inventory.rules.catalogue.body import FRONT, GLASS, LEFT_SIDE, REAR, RIGHT_SIDE
from inventory.rules.catalogue.parts import (
    FAHRENHEIT,
    INCHES_OF_MERCURY,
    MILS,
    PSI,
    VOLTS,
    Check,
    Feature,
    Shot,
    Station,
)
from inventory.rules.catalogue.working import ENGINE_BAY, INTERIOR, ROAD_TEST, TYRES, UNDERSIDE
from inventory.rules.limit_rows import THIRTY_SECONDS
from inventory.rules.words import BuildClass

__all__ = [
    "CHECKS",
    "EARLIER",
    "FAHRENHEIT",
    "INCHES_OF_MERCURY",
    "MILS",
    "PSI",
    "SHOTS",
    "STATION",
    "STATIONS",
    "STATION_OF",
    "VOLTS",
    "Check",
    "Feature",
    "Shot",
    "Station",
    "asked",
    "asked_codes",
]

STATIONS: tuple[Station, ...] = (
    COLD_START,
    PAPERWORK,
    FRONT,
    LEFT_SIDE,
    REAR,
    RIGHT_SIDE,
    GLASS,
    ENGINE_BAY,
    INTERIOR,
    UNDERSIDE,
    TYRES,
    ROAD_TEST,
)

STATION: dict[str, Station] = {station.code: station for station in STATIONS}
CHECKS: dict[str, Check] = {check.code: check for station in STATIONS for check in station.checks}
SHOTS: dict[str, Shot] = {shot.code: shot for station in STATIONS for shot in station.shots}

_EARLIER_WEIGHTS = {
    "cold_start": 10, "paperwork": 4, "front": 7, "left_side": 9, "rear": 7, "right_side": 9,
    "glass": 5, "engine_bay": 11, "interior": 10, "underside": 14, "tyres": 6, "road_test": 8,
}  # fmt: skip


def _overall(station: Station) -> Check:
    return Check(
        code=f"{station.code}.overall",
        wording=f"{station.title}: overall",
        weight=_EARLIER_WEIGHTS[station.code],
        unit=THIRTY_SECONDS if station is TYRES else "",
        structural=station is UNDERSIDE,
    )


_OVERALL = {station.code: _overall(station) for station in STATIONS}
EARLIER: dict[str, Check] = {check.code: check for check in _OVERALL.values()}
"""One check a station, as walks had before there were more: no longer asked, still read."""

STATION_OF: dict[str, Station] = {
    check.code: station for station in STATIONS for check in (*station.checks, _OVERALL[station.code])
}
"""The station of each check, earlier ones included."""


def asked(
    station: Station, *, has: Collection[str], lacks: Collection[str], build_class: str = ""
) -> tuple[Check, ...]:
    """The checks of a station that this vehicle is asked, in walking order.

    What nobody said about a vehicle narrows nothing: not to ask is the costlier mistake.
    """
    _words_known(has, lacks=lacks, build_class=build_class)
    return tuple(
        check
        for check in station.checks
        if check.needs.isdisjoint(lacks) and check.unless.isdisjoint(has) and build_class not in check.not_for
    )


def asked_codes(*, has: Collection[str], lacks: Collection[str], build_class: str = "") -> frozenset[str]:
    """The codes of all checks that this vehicle is asked, over all stations."""
    return frozenset(
        check.code for station in STATIONS for check in asked(station, has=has, lacks=lacks, build_class=build_class)
    )


def _words_known(has: Collection[str], *, lacks: Collection[str], build_class: str) -> None:
    """A misspelt word would narrow nothing and tell nobody; one both had and lacked would hide too much."""
    if unknown := set(has).union(lacks).difference(Feature.values):
        got = ", ".join(sorted(unknown))
        raise Refused(
            "unknown_feature", f"No vehicle has or lacks “{got}” here.", field="features", got=got,
            mend=f"Use {', '.join(Feature.values)}.",
        )  # fmt: skip
    if both := set(has).intersection(lacks):
        got = ", ".join(sorted(both))
        raise Refused(
            "feature_both_ways", f"The vehicle is said both to have and to lack “{got}”.", field="features", got=got,
            mend="Say one of the two, or leave it unknown.",
        )  # fmt: skip
    if build_class and build_class not in BuildClass.values:
        raise Refused(
            "unknown_build_class", f"“{build_class}” is no build class.", field="build_class", got=build_class,
            mend=f"Use {', '.join(BuildClass.values)}, or leave it empty.",
        )  # fmt: skip
