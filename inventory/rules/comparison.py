"""What a row of the history says of one input of the band, as people read it in a grid."""

from collections import Counter
from collections.abc import Mapping
from typing import Any

from django.db.models import TextChoices

from inventory.rules.elsewhere_words import HERE
from inventory.rules.modifications import kind_of
from inventory.rules.words import BuildClass, OdometerStatus, SaleChannel, TitleBrand

NOT_KNOWN = "not known"
WORDS: dict[str, type[TextChoices]] = {
    "build_class": BuildClass, "odometer_status": OdometerStatus, "title_brand": TitleBrand, "channel": SaleChannel,
}  # fmt: skip
POINTS = ("condition", "originality")
MODIFICATIONS = "mods_"
ELSEWHERE = "elsewhere"  # the part of the band that is by how much sales elsewhere stand apart
# Parts of the band that are no input of their own: they stand in a grid only where they move money.
DERIVED = frozenset({"together", "originality_modified"})

UNKNOWN_KINDS = "mods_not_known"
UNKNOWN_KINDS_NAME = "Modifications, where not known"

LIKENESS = (
    "Nearest are the sales whose price the model expects to move most closely with this vehicle's, by what is known "
    "of both. A likeness of 1.00 would be alike in all that it weighs; what is not known lowers it."
)


def told(name: str, *, row: Mapping[str, Any]) -> str:
    """“not known” where the row says nothing; empty for what is no input of its own."""
    if name in DERIVED:
        return ""
    if name == ELSEWHERE:
        return str(row.get("where") or HERE)
    if name in POINTS:
        return _points(row.get(f"{name}_low"), high=row.get(f"{name}_high"))
    if name.startswith(MODIFICATIONS):
        return _modifications(row.get("modifications"), kind=name.removeprefix(MODIFICATIONS))
    value = row.get(name)
    if value is None or value == "":
        return NOT_KNOWN
    if name in WORDS:
        return str(dict(WORDS[name].choices).get(value, value))
    return f"{int(value):,} miles" if name == "mileage" else str(value)


def _points(low: Any, *, high: Any) -> str:
    if low is None or high is None:
        return NOT_KNOWN
    return f"{low} of 100" if low == high else f"{low} to {high} of 100"


def _modifications(said: Any, *, kind: str) -> str:
    if said is None:
        return NOT_KNOWN
    count = sum(1 for text in said if kind_of(str(text)) == kind)
    return str(count) if count else "none"


def kinds_told(said: Any) -> str:
    """The kinds of all modifications of a row, each once and with its count: “engine (2), wheels”."""
    if said is None:
        return NOT_KNOWN
    counts = Counter(str(kind_of(str(text)).value) for text in said)
    return ", ".join(kind if count == 1 else f"{kind} ({count})" for kind, count in counts.items()) or "none"


def differ(one: str, other: str) -> bool:
    """Whether two rows are known to differ in an input: what is not known of one of them is no difference."""
    return NOT_KNOWN not in (one, other) and one != other
