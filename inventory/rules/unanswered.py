"""What an open question about a vehicle may turn out to be, and how likely each answer is taken to be.

How often an answer was given on the lot so far, with a few counts beforehand, so that an empty lot can reckon too
(the counts beforehand are common practice, no source).
"""

from collections import Counter
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any, TypeVar

from inventory.rules.scores import Interval
from inventory.rules.words import OdometerStatus, Standing

Kind = TypeVar("Kind", bound=Hashable)

GRADE_PRIOR: dict[int, int] = {4: 3, 3: 3, 2: 2, 1: 1, 0: 1}
STANDING_PRIOR: dict[str, int] = {
    Standing.ORIGINAL: 3,
    Standing.SERVICE_REPLACEMENT: 2,
    Standing.PERIOD_CORRECT: 1,
    Standing.REPRODUCTION: 1,
    Standing.NON_ORIGINAL: 2,
    Standing.MISSING: 1,
}
MOST_QUANTILES = 21  # of a number: as many values of past sales, equally likely
LATE_INSPECTIONS = 30  # the last ones finished on the lot, whose grades and standings are counted
LATE_SALES = 2_000  # the last ones, whose inputs are counted

CATEGORIES = ("body", "transmission", "build_class", "title_brand", "odometer_status")
FIGURES = ("condition", "originality")
INPUTS = ("mileage", *CATEGORIES)
TITLES = {
    "mileage": "Mileage", "body": "Body", "transmission": "Transmission", "build_class": "Build class",
    "title_brand": "Title brand", "odometer_status": "Odometer status", "condition": "Condition",
    "originality": "Originality",
}  # fmt: skip


@dataclass(frozen=True)
class Possible:
    """One answer: its probability, and what it changes in the vehicle as the band sees it."""

    share: Fraction
    changes: Mapping[str, Any]


def shares(counted: Mapping[Kind, int], *, prior: Mapping[Kind, int]) -> dict[Kind, Fraction]:
    """How likely each answer of `prior` is: its count and the count beforehand, over all. What else was said is out."""
    weights = {kind: counted.get(kind, 0) + before for kind, before in prior.items()}
    whole = sum(weights.values())
    return {kind: Fraction(weight, whole) for kind, weight in weights.items()}


def reckoned(chances: Mapping[Kind, Fraction], *, figure: str, found: Mapping[Kind, Interval | None]) -> list[Possible]:
    """Answers that move condition or originality: each with the interval it would give."""
    return [Possible(share, ends_of(found[kind], figure=figure)) for kind, share in chances.items()]


def ends_of(interval: Interval | None, *, figure: str) -> dict[str, Decimal | None]:
    """A figure in the columns of the history."""
    low, high = (interval.low, interval.high) if interval else (None, None)
    return {f"{figure}_low": low, f"{figure}_high": high}


def is_missing(value: Any, *, column: str) -> bool:
    """Whether the band has to do without this input. An odometer status that nobody stated is not known."""
    return value in (None, "") or (column == "odometer_status" and value == OdometerStatus.NOT_STATED)


def answers_from_sales(rows: Iterable[Mapping[str, Any]], *, name: str) -> list[Possible]:
    """What an input may be, from past sales: none where no sale tells it."""
    if name in FIGURES:
        low, high = f"{name}_low", f"{name}_high"
        spans = sorted((row[low] + row[high], row[low], row[high]) for row in rows if row[low] is not None)
        return [Possible(share, {low: span[1], high: span[2]}) for share, span in quantiles(spans)]
    known = [row[name] for row in rows if not is_missing(row[name], column=name)]
    found = frequencies(known) if name in CATEGORIES else quantiles(sorted(known))
    return [Possible(share, {name: value}) for share, value in found]


def frequencies(values: Sequence[str]) -> list[tuple[Fraction, str]]:
    """How often each word is among them, the most frequent first; capitals and outer blanks do not matter."""
    counted = Counter(value.strip().casefold() for value in values)
    return [(Fraction(count, len(values)), word) for word, count in counted.most_common()]


def quantiles(values: Sequence[Any]) -> list[tuple[Fraction, Any]]:
    """Values in rising order, thinned to those in the middle of `MOST_QUANTILES` equal parts, equally likely."""
    count = min(len(values), MOST_QUANTILES)
    places = [(2 * part + 1) * len(values) // (2 * count) for part in range(count)]
    return [(Fraction(1, count), values[place]) for place in places]
