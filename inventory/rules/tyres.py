"""What a tyre size says: construction, dimensions, load and speed. What a form does not say is None, never guessed.

Sources: the dimensions are arithmetic from the size itself. Load indices and speed symbols: ISO 4000-1, UN
Regulation 30 and the ETRTO manual, indices 71 to 110 and most symbols read, the rest from memory. Load letters:
the tables of FMVSS 109, from memory. `tyre_sizes.py` reads the text, `tyre_fit.py` compares it with the wheel.
"""

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from inventory.errors import Refused
from inventory.rules.engine_figures import MM_PER_IN, revolutions_per_mile

KG_PER_LB = 0.45359237
KM_PER_MILE = 1.609344

LOADED_SHARE = 0.97
"""A loaded tyre rolls as one of about 97 % of its free diameter: one maker's 648 turns a mile against the 32.0 in
it prints is 0.973. Common practice."""


class Form(StrEnum):
    """How a size is written. Metric sizes are told apart further by their `Service`."""

    METRIC = "metric"
    FLOTATION = "flotation"
    LETTER = "letter"
    NUMERIC = "numeric"


class Service(StrEnum):
    """What a size says the tyre is for, by a letter before or after it."""

    PASSENGER = "P"
    LIGHT_TRUCK = "LT"
    TEMPORARY_SPARE = "T"
    COMMERCIAL = "C"


class Construction(StrEnum):
    """Letter and numeric sizes without R are known only not to be radial: bias and belted share the form."""

    RADIAL = "radial"
    BIAS = "bias ply"
    BELTED = "bias belted"
    NOT_RADIAL = "bias ply or bias belted"


_MARKS: dict[Construction | None, str] = {Construction.RADIAL: "R", Construction.BIAS: "D", Construction.BELTED: "B"}

LOAD_INDEX_KG: dict[int, int] = dict(
    zip(
        range(60, 131),
        (
            *(250, 257, 265, 272, 280, 290, 300, 307, 315, 325),
            *(335, 345, 355, 365, 375, 387, 400, 412, 425, 437),
            *(450, 462, 475, 487, 500, 515, 530, 545, 560, 580),
            *(600, 615, 630, 650, 670, 690, 710, 730, 750, 775),
            *(800, 825, 850, 875, 900, 925, 950, 975, 1000, 1030),
            *(1060, 1090, 1120, 1150, 1180, 1215, 1250, 1285, 1320, 1360),
            *(1400, 1450, 1500, 1550, 1600, 1650, 1700, 1750, 1800, 1850),
            1900,
        ),
        strict=True,
    )
)
"""Kilograms one tyre carries, by load index (ISO 4000-1; UN Regulation 30; 71 to 110 read, the rest from memory)."""

SPEED_KMH: dict[str, int] = {
    **{"K": 110, "L": 120, "M": 130, "N": 140, "P": 150, "Q": 160, "R": 170, "S": 180},
    **{"T": 190, "U": 200, "H": 210, "V": 240, "W": 270, "Y": 300},
}
"""Highest speed by symbol, km/h (UN Regulation 30; M, N and P from memory). H stands between U and V."""

OPEN_ENDED = frozenset({"V", "Z"})
"""Inside the size (VR, ZR) these only say “above”, with no limit of their own. From memory."""

LETTER_LB: dict[str, int] = {
    **{"A": 1060, "B": 1150, "C": 1230, "D": 1320, "E": 1400},
    **{"F": 1500, "G": 1620, "H": 1770, "J": 1860, "L": 1970},
}
"""Pounds by load letter at 32 psi, load range B (tables of FMVSS 109, from memory; B is the least sure)."""

_LETTER_SOURCE = "load letter {letter} at 32 psi, load range B (FMVSS 109, from memory)"
_INDEX_SOURCE = "load index {index} (ISO 4000-1)"

PRINTED_IN: dict[tuple[str, int, int], tuple[float, float | None]] = {
    ("G", 78, 15): (28.0, 8.4),
    ("F", 78, 14): (26.5, None),
}
"""Diameter and width in inches of letter sizes that are not radial, as makers printed them: the code gives neither."""

_NUMERIC_RIMS = range(13, 16)
_NUMERIC_BELOW = Decimal(9)
_FULL_SHAPE, _LOW_SHAPE = 92, 82
NEAR = 0.05
"""How far a diameter by the custom for numeric sizes may be off, either way: our choice."""


@dataclass(frozen=True)
class Load:
    """What one tyre carries, kilograms and pounds, and by what it is known."""

    kg: int
    lb: int
    source: str


@dataclass(frozen=True, kw_only=True)
class TyreSize:
    """A size as its text says it; `parse_size` makes it. Two texts of one size are equal.

    `rim` is in inches, or in millimetres from 100 on. `width` is in millimetres in a metric size, else in inches.
    `aspect` is height in percent of width. `overall` is the diameter a flotation size names, inches.
    `size_speed` is a speed letter inside the size (SR, HR, VR, ZR), `speed_symbol` the one after it.
    """

    form: Form
    rim: Decimal
    construction: Construction | None = None
    service: Service | None = None
    width: Decimal | None = None
    aspect: int | None = None
    letter: str | None = None
    overall: Decimal | None = None
    size_speed: str | None = None
    load_index: int | None = None
    dual_load_index: int | None = None
    speed_symbol: str | None = None
    load_range: str | None = None
    ply_rating: int | None = None

    def __str__(self) -> str:
        """The normal form; `parse_size` reads it back as the same size."""
        return " ".join((self.designation, *_tail(self)))

    @property
    def designation(self) -> str:
        """The size without load, speed and ply: what has to be the same on one axle."""
        suffix = self.service or ""
        if self.form is Form.LETTER:
            radial = "R" if self.construction is Construction.RADIAL else ""
            return f"{self.letter}{radial}{self.aspect}-{self.rim}{suffix}"
        sort = f"{self.size_speed or ''}{_MARKS.get(self.construction, '-')}{self.rim}"
        if self.form is Form.METRIC:
            before, after = ("", suffix) if self.service is Service.COMMERCIAL else (suffix, "")
            profile = "" if self.aspect is None else f"/{self.aspect}"
            return f"{before}{self.width}{profile}{sort}{after}"
        overall = "" if self.overall is None else f"{self.overall}x"
        return f"{overall}{self.width or 0:.2f}{sort}{suffix}"

    @property
    def rim_in(self) -> float:
        """Rim diameter in inches; a rim of three figures is in millimetres, 25.4 to the inch."""
        return float(self.rim) / MM_PER_IN if self.rim_is_metric else float(self.rim)

    @property
    def rim_is_metric(self) -> bool:
        return self.rim >= 100

    @property
    def section_width_in(self) -> float | None:
        """Section width, inches: millimetres ÷ 25.4, or as the size names it; for a letter size the printed one."""
        if self.width is not None:
            return float(self.width) / MM_PER_IN if self.form is Form.METRIC else float(self.width)
        printed = self._printed
        return printed[1] if printed else None

    @property
    def diameter_in(self) -> float | None:
        """Overall diameter, inches, where the size gives it: rim + 2 × width × aspect ÷ 2540 for a metric size.

        A flotation size names it. None for a metric size without an aspect, a numeric and a letter size: their
        code does not hold it, see `diameter_range_in`.
        """
        if self.overall is not None:
            return float(self.overall)
        if self.form is Form.METRIC and self.width is not None and self.aspect is not None:
            return self.rim_in + 2 * float(self.width) * self.aspect / (100 * MM_PER_IN)
        return None

    @property
    def diameter_range_in(self) -> tuple[float, float] | None:
        """Lowest and highest overall diameter to expect, inches; both the same where the size or a maker gives it.

        A numeric size of 13 to 15 in rim, under 9 in wide: widths ending in 0 ran near an aspect of 92 %, others
        near 82 % (read in a maker's manual), here with 5 % either way, our choice. Older and light-truck sections
        were taller, so for them and for a letter size no maker printed it is None.
        """
        exact = self.diameter_in
        if exact is not None:
            return exact, exact
        printed = self._printed
        if printed is not None:
            return printed[0], printed[0]
        if not self._follows_custom or self.width is None:
            return None
        aspect = _FULL_SHAPE if self.width * 10 % 1 == 0 else _LOW_SHAPE
        near = self.rim_in + 2 * float(self.width) * aspect / 100
        return near * (1 - NEAR), near * (1 + NEAR)

    @property
    def revolutions_per_mile(self) -> float | None:
        """Turns of the free tyre in a mile: 63360 ÷ (π × diameter in inches). None where the size gives none."""
        diameter = self.diameter_in
        return None if diameter is None else revolutions_per_mile(diameter)

    @property
    def loaded_revolutions_per_mile(self) -> float | None:
        """Turns of the tyre under load in a mile: the free ones ÷ `LOADED_SHARE`, about 3 % more."""
        free = self.revolutions_per_mile
        return None if free is None else free / LOADED_SHARE

    @property
    def load(self) -> Load | None:
        """What one tyre carries, by its load index, else by its load letter in load range B; None if neither says.

        Kilograms are the table's for an index, pounds for a letter; the other is the nearest whole one
        (1 lb = 0.45359237 kg), which need not be what a sidewall prints.
        """
        if self.load_index is not None:
            return load_of_index(self.load_index)
        if self.letter not in LETTER_LB or self.load_range not in (None, "B"):
            return None
        lb = LETTER_LB[self.letter]
        return Load(round(lb * KG_PER_LB), lb, _LETTER_SOURCE.format(letter=self.letter))

    @property
    def dual_load(self) -> Load | None:
        """What one tyre carries of two on one side of an axle, where the size names a second index."""
        return None if self.dual_load_index is None else load_of_index(self.dual_load_index)

    @property
    def speed_limit_kmh(self) -> int | None:
        """Highest speed, km/h, by the symbol after the size, else by the letter inside it; None if open-ended."""
        if self.speed_symbol is not None:
            return SPEED_KMH[self.speed_symbol]
        if self.size_speed is None or self.size_speed in OPEN_ENDED:
            return None
        return SPEED_KMH[self.size_speed]

    @property
    def speed_limit_mph(self) -> float | None:
        """The same in miles an hour: ÷ 1.609344."""
        kmh = self.speed_limit_kmh
        return None if kmh is None else kmh / KM_PER_MILE

    @property
    def _printed(self) -> tuple[float, float | None] | None:
        if self.letter is None or self.aspect is None or self.construction is Construction.RADIAL:
            return None
        return PRINTED_IN.get((self.letter, self.aspect, int(self.rim))) if self.rim % 1 == 0 else None

    @property
    def _follows_custom(self) -> bool:
        passenger = self.form is Form.NUMERIC and self.service is None
        return passenger and self.rim in _NUMERIC_RIMS and self.width is not None and self.width < _NUMERIC_BELOW


def load_of_index(index: int) -> Load:
    """What one tyre of this load index carries: kilograms by ISO 4000-1, pounds the nearest whole one.

    Refused outside 60 to 130, the indices of the table.
    """
    if index not in LOAD_INDEX_KG:
        raise Refused(
            "tyre_load_index",
            f"A load index of {index} is not in the table for road vehicles.",
            field="load_index",
            got=index,
            mend=f"It runs from {min(LOAD_INDEX_KG)} to {max(LOAD_INDEX_KG)}; read it again or leave it out.",
        )
    kg = LOAD_INDEX_KG[index]
    return Load(kg, round(kg / KG_PER_LB), _INDEX_SOURCE.format(index=index))


def _tail(size: TyreSize) -> list[str]:
    dual = "" if size.dual_load_index is None else f"/{size.dual_load_index}"
    index = "" if size.load_index is None else f"{size.load_index}{dual}"
    load_range = size.load_range if size.load_range in (None, "XL", "SL") else f"LR{size.load_range}"
    ply = None if size.ply_rating is None else f"{size.ply_rating}PR"
    return [part for part in (f"{index}{size.speed_symbol or ''}", load_range, ply) if part]
