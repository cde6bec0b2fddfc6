"""When a part was made, held against when its vehicle was built.

A part made after the vehicle was built cannot have been fitted at the factory; that much follows by reasoning. How
long before the build a part may have been made has no fixed limit: castings usually precede it by days to about three
months, sometimes far longer. The thresholds here are common practice, without a source, and may be set otherwise.
"""

import re
from calendar import monthrange
from dataclasses import dataclass
from datetime import date

from inventory.errors import Refused
from inventory.rules.words import Basis, Judgement

OFF_THE_OBJECT = frozenset({Basis.MEASURED, Basis.SEEN})
FIRST_YEAR, LAST_YEAR = 1886, 2200

_WRITTEN = re.compile(r"([0-9]{4})(?:-([0-9]{1,2})(?:-([0-9]{1,2}))?)?")


@dataclass(frozen=True)
class Usual:
    """Days by which a part may precede the build: up to `expected` it is usual, up to `ask` worth asking."""

    expected: int = 180
    ask: int = 365


USUAL = Usual()


@dataclass(frozen=True, kw_only=True)
class DateSpan:
    """The first and the last day something can have happened, and what that rests on."""

    earliest: date
    latest: date
    basis: str

    @property
    def is_read_off(self) -> bool:
        """Whether it was read off the object itself, by eye or by instrument."""
        return self.basis in OFF_THE_OBJECT

    @property
    def said(self) -> str:
        return spoken(self.earliest, latest=self.latest)


@dataclass(frozen=True)
class Finding:
    """What the two dates say about each other, in words, and what to do next."""

    judgement: Judgement
    message: str
    mend: str = ""


def window(text: str, *, field: str = "earliest_on") -> tuple[date, date]:
    """The first and last day of “1967”, “1967-05” or “1967-05-14”.

    >>> window("1967-02")
    (datetime.date(1967, 2, 1), datetime.date(1967, 2, 28))
    """
    found = _WRITTEN.fullmatch(text.strip())
    if found is None or not FIRST_YEAR <= int(found[1]) < LAST_YEAR:
        raise _no_date(text, field=field)
    year, month, day = int(found[1]), found[2], found[3]
    try:
        if day:
            return (exact := date(year, int(month), int(day))), exact
        if month:
            return date(year, int(month), 1), date(year, int(month), monthrange(year, int(month))[1])
    except ValueError as problem:  # the year has no such month, or the month no such day
        raise _no_date(text, field=field) from problem
    return date(year, 1, 1), date(year, 12, 31)


def written(earliest: date, *, latest: date) -> tuple[str, str]:
    """How a person would type a span, as short as can be: `window` of the first gives its first day, of the second
    its last. The second is empty where the first says it all.
    """
    for shape in ("%Y", "%Y-%m", "%Y-%m-%d"):
        first, last = earliest.strftime(shape), latest.strftime(shape)
        if window(first)[0] == earliest and window(last)[1] == latest:
            return first, "" if first == last else last
    raise AssertionError("every day is its own window")  # pragma: no cover


def spoken(earliest: date, *, latest: date) -> str:
    """The span in the shortest words: 1967, 1967-05, 1967-05-14, or from one day to another."""
    first, last = written(earliest, latest=latest)
    return f"{first} to {last}" if last else first


def check_span(earliest: date | None, latest: date | None, *, field: str = "earliest_on") -> None:
    """Both ends or neither, in order."""
    if (earliest is None) != (latest is None):
        raise Refused(
            "half_a_span", "Only one end of the dates is given.", field=field, got=earliest or latest,
            mend="Give the earliest and the latest day, the same day twice where it is exact.",
        )  # fmt: skip
    if earliest is not None and latest is not None and earliest > latest:
        raise Refused(
            "span_upside_down", f"{earliest} is after {latest}.", field=field, got=earliest,
            mend="Give the earlier day first.",
        )  # fmt: skip


def compare(part: DateSpan, build: DateSpan, *, usual: Usual = USUAL) -> Finding:
    """What the date of a part says about its place in a vehicle.

    *Not factory* is the one certain judgement: the part's earliest day lies after the build's latest, and both were
    read off the object. After, but on a weaker basis (a plate can carry a scheduled date), is a question. A span that
    reaches past the last day of building, or over a threshold, does not tell.
    """
    if part.earliest > build.latest:
        return _after(part, build)
    if part.latest > build.latest:
        return Finding(
            Judgement.CANNOT_TELL,
            f"Made {part.said}, the vehicle {build.said}: part of that lies after the building.",
            "Read the date of the part more closely.",
        )
    least, most = max(0, (build.earliest - part.latest).days), (build.latest - part.earliest).days
    if _length(least, usual=usual) != _length(most, usual=usual):
        return Finding(
            Judgement.CANNOT_TELL,
            f"Made {part.said}, {least} to {most} days before the vehicle ({build.said}); "
            f"up to {usual.expected} are usual.",
            "A closer date of either would tell.",
        )
    return _before(_length(most, usual=usual), days=f"{least} to {most}" if least != most else str(most), usual=usual)


def _after(part: DateSpan, build: DateSpan) -> Finding:
    days = (part.earliest - build.latest).days
    so = f"Made {part.said}, the vehicle was built {build.said}: at least {days} {'day' if days == 1 else 'days'} after"
    if part.is_read_off and build.is_read_off:
        return Finding(
            Judgement.NOT_FACTORY, f"It cannot have been fitted at the factory. {so}; both dates were read off.",
            "It is not original to this vehicle, unless one of the two was misread.",
        )  # fmt: skip
    weaker = " and ".join(
        f"the date of the {what} is {Basis(span.basis).label}"
        for what, span in (("part", part), ("building", build))
        if not span.is_read_off
    )
    return Finding(Judgement.QUESTION, f"{so}. But {weaker}.", "Read both dates off the vehicle.")


def _length(days: int, *, usual: Usual) -> Judgement:
    if days <= usual.expected:
        return Judgement.EXPECTED
    return Judgement.ASK if days <= usual.ask else Judgement.QUESTION


def _before(judgement: Judgement, *, days: str, usual: Usual) -> Finding:
    said = f"Made {days} days before the vehicle"
    if judgement == Judgement.EXPECTED:
        return Finding(judgement, f"{said}, as is usual.")
    if judgement == Judgement.ASK:
        return Finding(judgement, f"{said}; more than {usual.expected} is long.", "Ask for its history.")
    return Finding(
        judgement, f"{said}; more than {usual.ask} is out of the ordinary.",
        "Look for signs of a later change, and at the decade of the code.",
    )  # fmt: skip


def _no_date(text: str, *, field: str) -> Refused:
    return Refused(
        "no_date", f"“{text.strip()}” is not a year, a month or a day.", field=field, got=text.strip(),
        mend="Write it as 1967, 1967-05 or 1967-05-14.",
    )  # fmt: skip
