"""Reading a wheel's size as it stands on it or was measured: 15x7, 7Jx15, 16.5 x 8.25, or the diameter alone."""

import re
from dataclasses import dataclass
from decimal import Decimal

from inventory.errors import Refused

FIELD = "rim"
_FIGURE = r"[0-9]{1,2}(?:\.[0-9]{1,3})?"
_RAISED = str.maketrans("abcdefghijklmnopqrstuvwxyz×*,", "ABCDEFGHIJKLMNOPQRSTUVWXYZXX.")
_IGNORED = re.compile("[\"\u201d\u2033]|''|\\bINCH(?:ES)?\\b|\\bIN\\b\\.?")
# The letters are the shape of the flange, J or JJ mostly; they say nothing about fit here.
_RIM = re.compile(rf"(?P<first>{_FIGURE}) ?(?:[A-L]{{1,3}})?(?: ?[X-] ?(?P<second>{_FIGURE}) ?(?:[A-L]{{1,3}})?)?")

# Wider than anything known to be made for the road: our choice, to catch slips.
_DIAMETER_IN = (Decimal(10), Decimal(26))
_WIDTH_IN = (Decimal("2.5"), Decimal(20))


@dataclass(frozen=True)
class Rim:
    """Diameter and width between the flanges, inches; the width is None where it was not given."""

    diameter_in: Decimal
    width_in: Decimal | None = None

    def __str__(self) -> str:
        width = "" if self.width_in is None else f", {self.width_in.normalize():f} in wide between the flanges"
        return f"{self.diameter_in.normalize():f} in across{width}"


def parse_rim(text: str) -> Rim:
    """The wheel a text gives. Of two figures the larger is the diameter: both 15x7 and 7Jx15 are written."""
    written = " ".join(_IGNORED.sub(" ", text.translate(_RAISED)).split())
    found = _RIM.fullmatch(written)
    if found is None:
        raise _refused(text, f"“{text.strip()}” cannot be read as a rim." if written else "No rim was given.")
    figures = sorted((Decimal(part) for part in found.groups() if part is not None), reverse=True)
    diameter, width = figures[0], figures[1] if len(figures) > 1 else None
    if not _DIAMETER_IN[0] <= diameter <= _DIAMETER_IN[1]:
        raise _refused(text, f"“{text.strip()}” puts the rim at {diameter} in across.")
    if width is not None and not _WIDTH_IN[0] <= width <= _WIDTH_IN[1]:
        raise _refused(text, f"“{text.strip()}” puts the rim at {width} in wide.")
    return Rim(diameter, width)


def _refused(text: str, message: str) -> Refused:
    mend = (
        f"Give diameter and width in inches, such as 15x7, or the diameter alone; "
        f"{_DIAMETER_IN[0]} to {_DIAMETER_IN[1]} in across, {_WIDTH_IN[0]} to {_WIDTH_IN[1]} in wide."
    )
    return Refused("rim", message, field=FIELD, got=text, mend=mend)
