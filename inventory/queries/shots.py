"""Photos by station, and which shots of a station are still missing."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from inventory.rules.catalogue import STATIONS, Shot

Shown = TypeVar("Shown")  # a photo, or anything else with a `station` and a `shot`


@dataclass(frozen=True)
class StationShots:
    code: str
    title: str
    shots: tuple[Shot, ...] = ()


@dataclass(frozen=True)
class StationPhotos(Generic[Shown]):
    code: str  # empty for what belongs to no station of the catalogue
    title: str
    photos: tuple[Shown, ...]
    missing: tuple[Shot, ...]
    wanted: int

    @property
    def answered(self) -> int:
        return self.wanted - len(self.missing)


def shot_list(photos: Iterable[Shown], wanted: Sequence[StationShots]) -> list[StationPhotos[Shown]]:
    """All stations in the order given, each with its photos and what is missing; then whatever belongs to none.

    A photo of a station that the catalogue no longer has is not lost: it stands with those that belong to none.
    """
    given: list[Any] = list(photos)
    listed = []
    for station in wanted:
        here = tuple(photo for photo in given if photo.station == station.code)
        there = {photo.shot for photo in here}
        missing = tuple(shot for shot in station.shots if shot.code not in there)
        listed.append(StationPhotos(station.code, station.title, here, missing, len(station.shots)))
    known = {station.code for station in wanted}
    elsewhere = tuple(photo for photo in given if photo.station not in known)
    if elsewhere:
        listed.append(StationPhotos("", "Not of one station", elsewhere, (), 0))
    return listed


def shots_wanted(*, lacks: Collection[str]) -> list[StationShots]:
    """The stations of the walk with the shots that apply to a vehicle known to lack some features."""
    return [
        StationShots(station.code, station.title, tuple(shot for shot in station.shots if shot.needs.isdisjoint(lacks)))
        for station in STATIONS
    ]
