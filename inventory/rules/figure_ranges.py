"""What a measured figure can be: bounds that catch a slip of the finger or a wrong unit, and text read as a number.

The bounds are our choice, wider than any road vehicle known to us; they are no limits of safety.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from inventory.errors import Refused
from inventory.rules.words import DisplacementUnit


@dataclass(frozen=True)
class Range:
    """The least and the most a figure can be, its unit, and how many decimals it may have."""

    label: str
    unit: str
    least: Decimal
    most: Decimal
    places: int
    example: str

    @property
    def span(self) -> str:
        unit = f" {self.unit}" if self.unit else ""
        return f"{plain(self.least)} to {plain(self.most)}{unit}"


def _range(label: str, unit: str, ends: tuple[str, str], *, places: int, example: str) -> Range:
    return Range(label, unit, Decimal(ends[0]), Decimal(ends[1]), places, example)


RANGES: dict[str, Range] = {
    "bore_in": _range("Bore", "in", ("1", "8"), places=4, example="4.030"),
    "stroke_in": _range("Stroke", "in", ("1", "10"), places=4, example="3.480"),
    "cylinders": _range("Cylinders", "", ("1", "16"), places=0, example="8"),
    "stated_displacement": _range("Stated displacement", "", ("0.04", "30000"), places=2, example="350"),
    "vacuum_inhg": _range("Vacuum at idle", "inHg", ("0", "30"), places=1, example="18.5"),
    "carburettor_cfm": _range("Carburettor", "cu ft a minute", ("20", "5000"), places=0, example="600"),
    "redline_rpm": _range("Red line", "rpm", ("500", "15000"), places=0, example="5500"),
    "axle_ratio": _range("Axle ratio", "", ("1.5", "10"), places=3, example="3.73"),
    "top_gear_ratio": _range("Top gear ratio", "", ("0.3", "3"), places=3, example="1.00"),
    "claimed_top_mph": _range("Top speed told", "mph", ("5", "300"), places=0, example="120"),
    "rest_volts": _range("Battery at rest", "V", ("0", "20"), places=2, example="12.45"),
    "rest_hours": _range("Hours at rest", "h", ("0", "9999"), places=1, example="12"),
    "charging_volts": _range("Charging", "V", ("0", "20"), places=2, example="14.1"),
}

PRESSURE = _range("Compression", "psi", ("0", "400"), places=1, example="150 148 152 150")
MOST_CYLINDERS = int(RANGES["cylinders"].most)

DISPLACEMENTS: dict[str, Range] = {
    DisplacementUnit.CU_IN: _range("Stated displacement", "cu in", ("3", "2000"), places=2, example="350"),
    DisplacementUnit.CC: _range("Stated displacement", "cc", ("40", "30000"), places=2, example="1600"),
    DisplacementUnit.LITRE: _range("Stated displacement", "L", ("0.04", "30"), places=2, example="5.7"),
}

LONGEST = 200
_NUMBER = re.compile(r"-?(?:[0-9]{1,9}|[0-9]{1,3}(?:,[0-9]{3})+)(?:\.[0-9]{1,9})?|-?\.[0-9]{1,9}", re.ASCII)
_BETWEEN = re.compile(r"[\s;/]+|,(?:\s+|(?=[0-9]))|,$")


def read_figure(name: str, text: str) -> Decimal:
    """The number that a text gives, within the range of its figure; Refused names figure, text and mend."""
    found = RANGES[name]
    return _within(_number(text, found=found, field=name), found=found, field=name)


def check_figure(name: str, value: Decimal | int) -> Decimal:
    """The figure, or Refused if it cannot be: below its least, above its most, or finer than anybody measures."""
    return _within(Decimal(value), found=RANGES[name], field=name)


def check_displacement(value: Decimal, *, unit: str) -> Decimal:
    """A stated displacement that an engine can have in its unit."""
    if unit not in DISPLACEMENTS:
        raise Refused(
            "figure_unit", f"“{unit}” is no unit of displacement.", field="displacement_unit", got=unit,
            mend=f"Give one of {', '.join(DISPLACEMENTS)}.",
        )  # fmt: skip
    return _within(value, found=DISPLACEMENTS[unit], field="stated_displacement")


def read_pressures(text: str) -> list[str]:
    """The pressure of each cylinder, in order, from a text such as 150 148 152 150."""
    parts = [part for part in _BETWEEN.split(text.strip()) if part]
    return check_pressures([_number(part, found=PRESSURE, field="compression_psi") for part in parts], got=text)


def check_pressures(pressures: Sequence[Decimal], *, got: object = None) -> list[str]:
    """The pressures as texts, or Refused: none, more than cylinders can be, one that cannot be."""
    if not 1 <= len(pressures) <= MOST_CYLINDERS:
        raise Refused(
            "figure_count", f"{len(pressures)} pressures were given.", field="compression_psi",
            got=got or len(pressures),
            mend=f"Give one for each cylinder, 1 to {MOST_CYLINDERS}, such as {PRESSURE.example}.",
        )  # fmt: skip
    return [plain(_within(pressure, found=PRESSURE, field="compression_psi")) for pressure in pressures]


def plain(value: Decimal) -> str:
    """Without the zeros a column keeps behind it: 4.0300 is 4.03, and 10 is not 1E+1."""
    return f"{value.normalize():f}"


def _number(text: str, *, found: Range, field: str) -> Decimal:
    written = text.strip()
    if not _NUMBER.fullmatch(written):
        shown = written if len(written) <= LONGEST else f"{written[:LONGEST]}…"
        raise _refused(found, f"“{shown}” is not a number.", field=field, got=text)
    return Decimal(written.replace(",", ""))


def _within(value: Decimal, *, found: Range, field: str) -> Decimal:
    if not value.is_finite() or not found.least <= value <= found.most:
        shown = plain(value) if value.is_finite() else str(value)
        unit = f" {found.unit}" if found.unit else ""
        raise _refused(found, f"{shown}{unit} cannot be.", field=field, got=value)
    if -int(value.normalize().as_tuple().exponent) > found.places:
        finest = f"with at most {found.places} decimals" if found.places else "as a whole number"
        raise _refused(found, f"{plain(value)} is finer than it is kept.", field=field, got=value, finest=finest)
    return value


def _refused(found: Range, message: str, *, field: str, got: object, finest: str = "") -> Refused:
    how = f" {finest}" if finest else ""
    return Refused(
        "figure", f"{found.label}: {message}", field=field, got=str(got),
        mend=f"Give {found.span}{how}, such as {found.example}.",
    )  # fmt: skip
