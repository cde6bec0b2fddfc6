"""What the tyres of a vehicle say as they are written: size, date of make, rim; and what they ask."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from itertools import chain

from inventory.errors import Refused
from inventory.rules import limits, tyre_dates, tyre_fit
from inventory.rules.questions import Meaning, Question, Said, asked
from inventory.rules.rims import Rim, parse_rim
from inventory.rules.tyre_dates import TinReading
from inventory.rules.tyre_sizes import parse_size
from inventory.rules.tyres import TyreSize
from inventory.rules.words import DrivenAxle, TyrePosition

AXLES: dict[str, tuple[TyrePosition, TyrePosition]] = {
    DrivenAxle.FRONT: (TyrePosition.LEFT_FRONT, TyrePosition.RIGHT_FRONT),
    DrivenAxle.REAR: (TyrePosition.LEFT_REAR, TyrePosition.RIGHT_REAR),
}
ROAD_POSITIONS = tuple(chain.from_iterable(AXLES.values()))


@dataclass(frozen=True, kw_only=True)
class Tyre:
    """One tyre as it was written down; empty where nothing was."""

    position: TyrePosition
    size: str = ""
    tin: str = ""
    rim: str = ""

    @property
    def where(self) -> str:
        return f"Tyre, {self.position.label}"


@dataclass(frozen=True)
class TyreSaid:
    """What one tyre says, and its size where that could be read."""

    said: Said
    size: TyreSize | None


def read_tyre(tyre: Tyre, *, on: date) -> TyreSaid:
    """What a tyre's size, date and rim mean on a day. A text that cannot be read is told, and kept as it is."""
    meanings: list[Meaning] = []
    size, rim, tin = _size(tyre, meanings), _rim(tyre, meanings), _tin(tyre, meanings, on=on)
    questions: list[Question] = []
    if size is not None and rim is not None:
        width = None if rim.width_in is None else float(rim.width_in)
        fits = tyre_fit.fits_wheel(size, rim_diameter=float(rim.diameter_in), rim_width=width)
        questions += asked(*fits, where=tyre.where)
    if tin is not None:
        questions += _age_questions(tyre, tin)
    return TyreSaid(Said(tuple(meanings), tuple(questions)), size)


def axle_questions(tyres: Mapping[TyrePosition, TyreSaid]) -> tuple[Question, ...]:
    """Different tyres on one axle: the criterion of 49 CFR 570.9(b), once per axle, with what differs."""
    questions = []
    for axle, (left, right) in AXLES.items():
        sizes = [tyres[place].size for place in (left, right) if place in tyres]
        if len(sizes) == 2 and sizes[0] is not None and sizes[1] is not None:
            flag = limits.failed("tyre_match")
            differing = tyre_fit.differ_on_axle(sizes[0], sizes[1])
            text = " ".join([*(one.message for one in differing), *(one.mend for one in differing[:1])])
            if differing:
                where = f"{DrivenAxle(axle).label.capitalize()} axle"
                questions.append(Question(where, f"{text} {limits.DECIDES}", flag.section, flag.stops_drives))
    return tuple(questions)


def driven_diameter_in(tyres: Mapping[TyrePosition, TyreSaid], *, axle: str) -> float | None:
    """The largest free diameter the tyres of the driven axle can have, inches; None if their sizes do not say.

    The largest, so that a speed told is doubted only where no tyre that may be there gives it.
    """
    places = AXLES.get(axle, ROAD_POSITIONS)
    sizes = [tyres[place].size for place in places if place in tyres]
    ranges = [size.diameter_range_in for size in sizes if size is not None]
    return max((span[1] for span in ranges if span is not None), default=None)


def _size(tyre: Tyre, meanings: list[Meaning]) -> TyreSize | None:
    if not tyre.size:
        return None
    try:
        size = parse_size(tyre.size)
    except Refused as problem:
        meanings.append(Meaning("size", str(problem), unread=True))
        return None
    meanings.extend(Meaning("size", text) for text in _size_texts(size))
    return size


def _size_texts(size: TyreSize) -> Iterator[str]:
    sort = size.construction or "the size does not say whether it is radial"
    yield f"{size}: {sort}."
    yield _dimensions(size)
    if (load := size.load) is not None:
        yield f"Carries {load.lb:,} lb ({load.kg} kg): {load.source}."
    if (mph := size.speed_limit_mph) is not None:
        symbol = size.speed_symbol or size.size_speed
        yield f"Up to {mph:.0f} mph ({size.speed_limit_kmh} km/h): speed symbol {symbol}."


def _dimensions(size: TyreSize) -> str:
    width = "" if size.section_width_in is None else f", {size.section_width_in:.2f} in wide"
    if size.diameter_in is not None and size.revolutions_per_mile and size.loaded_revolutions_per_mile:
        free, loaded = size.revolutions_per_mile, size.loaded_revolutions_per_mile
        turns = f"{free:.0f} turns a mile free, about {loaded:.0f} under load"
        return f"{size.diameter_in:.2f} in across{width}; {turns}."
    span = size.diameter_range_in
    if span is None:
        return f"The size does not hold the diameter{width}; measure it."
    if span[0] == span[1]:
        return f"Near {span[0]:.1f} in across{width}, as makers printed it; the size itself does not hold it."
    return f"About {span[0]:.1f} to {span[1]:.1f} in across{width}; the size itself does not hold it."


def _rim(tyre: Tyre, meanings: list[Meaning]) -> Rim | None:
    if not tyre.rim:
        return None
    try:
        rim = parse_rim(tyre.rim)
    except Refused as problem:
        meanings.append(Meaning("rim", str(problem), unread=True))
        return None
    meanings.append(Meaning("rim", f"{rim}."))
    return rim


def _tin(tyre: Tyre, meanings: list[Meaning], *, on: date) -> TinReading | None:
    if not tyre.tin:
        return None
    try:
        reading = tyre_dates.read_tin(tyre.tin, on=on)
    except Refused as problem:
        meanings.append(Meaning("tin", str(problem), unread=True))
        return None
    meanings.append(Meaning("tin", reading.sentence))
    meanings.append(Meaning("tin", f"{_age(reading)} old on {on}."))
    return reading


def _age(reading: TinReading) -> str:
    youngest, oldest = float(reading.youngest_years), float(reading.oldest_years)
    if not reading.ambiguous:
        return f"{oldest:.1f} years"
    return f"Between {youngest:.1f} and {oldest:.1f} years"


def _age_questions(tyre: Tyre, reading: TinReading) -> list[Question]:
    """Flagged where it is too old in any decade the code allows; asked where only in some."""
    spare = tyre.position is TyrePosition.SPARE
    code = "spare_age" if spare else "tyre_age"
    certain, possible = limits.judge(code, reading.youngest_years), limits.judge(code, reading.oldest_years)
    if possible is None:
        return []
    told = f"{_age(reading)} old. {limits.limit_text(code)}"
    if reading.ambiguous and certain is None:
        return [Question(tyre.where, f"{told} Find out which week is meant.", possible.section)]
    # A spare that only lies there does not stop a drive.
    stops = possible.stops_drives and not spare
    return [Question(tyre.where, f"{told} {limits.DECIDES}", possible.section, stops)]
