"""Vehicles before they come: what an owner's word is worth, and what may be done at which stage."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal

from inventory.errors import Refused, TooLate
from inventory.rules import identity
from inventory.rules.floor_words import ProspectStage
from inventory.rules.scores import TOP, Interval
from inventory.rules.unanswered import is_missing
from inventory.rules.words import Fitting, ModificationKind, OdometerStatus

OPEN_STAGES = (ProspectStage.OPEN, ProspectStage.OFFERED)
MOST_PHOTOS = 24
TOLD_REACH = Decimal(30)
"""Points below its low end that a told figure may turn out: owners over-value. Common practice, no source."""
FEW_SALES = 5  # fewer of a make or model are few; common practice, no source
MOST_CAPTION = 80  # characters: the caption of the stay's photo says besides where it came from
SENT_BEFORE = "sent by the owner before arrival"


def require_open(stage: str, *, what: str) -> None:
    """Refuse a deed on a prospect that came to its end."""
    if stage in OPEN_STAGES:
        return
    label = ProspectStage(stage).label
    mend = "Open it again first." if stage == ProspectStage.DECLINED else "Go on in its vehicle file."
    raise TooLate("prospect_ended", f"{what} is {label}: nothing changes here any more.", got=stage, mend=mend)


def told_span(low: Decimal | None, *, high: Decimal | None, field: str) -> Interval | None:
    """What is told as from–to on 0 to 100; one figure alone is both ends, none is not told."""
    ends = [end for end in (low, high) if end is not None]
    if not ends:
        return None
    first, last = ends[0], ends[-1]
    for name, end in ((f"{field}_low", first), (f"{field}_high", last)):
        if not 0 <= end <= TOP:
            raise Refused(
                "not_points",
                f"{end:f} is not between 0 and 100.",
                field=name,
                got=end,
                mend="Give 0 to 100 points.",
            )
    if first > last:
        raise Refused(
            "span_backwards", f"It runs from {first:f} down to {last:f}.", field=f"{field}_high", got=last,
            mend="Give the lower figure first.",
        )  # fmt: skip
    return Interval(first, last)


def told_interval(told: Interval | None) -> Interval | None:
    """A told figure as the band takes it: it reaches down by `TOLD_REACH`, never up; not told is unknown."""
    return None if told is None else Interval(max(Decimal(0), told.low - TOLD_REACH), told.high)


def told_odometer(status: str) -> str:
    """The status as the lot takes it: that a reading is *actual* is not established by the owner's word."""
    return OdometerStatus.NOT_STATED if status == OdometerStatus.ACTUAL else status


def told_modifications(kinds: Iterable[str], *, cut: Iterable[str], none_made: bool) -> list[list[str]] | None:
    """Kinds with their fitting, as they are stored; None where nothing is told of changes, none where none was made."""
    named, welded = list(dict.fromkeys(kinds)), set(cut)
    if none_made and (named or welded):
        raise Refused(
            "changed_and_not", "It is told both as unchanged and as changed.", field="unchanged",
            mend="Keep one of the two.",
        )  # fmt: skip
    if extra := sorted(welded - set(named)):
        label = ModificationKind(extra[0]).label
        raise Refused(
            "cut_not_changed", f"{label} is cut or welded, but not among what was changed.", field="cut",
            got=extra[0], mend="Tick it above too.",
        )  # fmt: skip
    if not named:
        return [] if none_made else None
    return [[kind, Fitting.CUT_OR_WELDED if kind in welded else Fitting.BOLT_ON] for kind in named]


def modification_words(kind: str, *, fitting: str) -> str:
    return f"{ModificationKind(kind).label}, {Fitting(fitting).label}"


def serial_questions(serial: str, *, year: int) -> tuple[str, ...]:
    """What is odd about a number as told: looked at as on arrival, and never in the way."""
    if not serial.strip():
        return ("No number is told.",)
    found = identity.assess(serial, year=year).findings
    return tuple(f"{one.message} {one.mend}".strip() for one in found)


def serial_needs_reason(serial: str, *, year: int) -> bool:
    """Whether booking asks why the number is right as it stands."""
    return bool(identity.assess(serial, year=year).of(identity.Severity.WARNING))


@dataclass(frozen=True, kw_only=True)
class Told:
    """What bears on the width of a band that is given by word alone."""

    condition: Interval | None
    originality: Interval | None
    mileage: int | None
    odometer_status: str
    build_class: str
    modifications_told: bool
    sales_of_make: int
    sales_of_model: int
    make: str
    model: str


def why_wide(told: Told) -> tuple[str, ...]:
    """Why the band is as wide as it is, the weightiest first."""
    return tuple(_reasons(told))


def _reasons(told: Told) -> Iterator[str]:
    yield "Nobody of the lot has seen the vehicle."
    yield _figure_reason("Condition", told.condition)
    yield _figure_reason("Originality", told.originality)
    if told.mileage is None:
        yield "No odometer reading is told."
    elif is_missing(told_odometer(told.odometer_status), column="odometer_status"):
        yield "That the odometer reading is right is not established."
    if not told.build_class:
        yield "Survivor, restored, modified or replica: the build class is not told."
    if not told.modifications_told:
        yield "Whether it was changed is not told."
    if told.sales_of_make < FEW_SALES:
        yield f"Few past sales of the make: {told.sales_of_make} of {told.make}."
    elif told.sales_of_model < FEW_SALES:
        yield f"Few past sales of the model: {told.sales_of_model} of {told.make} {told.model}."


def _figure_reason(name: str, told: Interval | None) -> str:
    if told is None:
        return f"{name} is not told: it may be anything."
    reached = told_interval(told)
    low = reached.low if reached else told.low
    return (
        f"{name} is told only, as {span_words(told)}: owners over-value, so it is taken as anything from {points(low)} "
        f"to {points(told.high)} (common practice, no source)."
    )


def span_words(told: Interval) -> str:
    return points(told.low) if told.low == told.high else f"{points(told.low)} to {points(told.high)}"


def points(value: Decimal) -> str:
    return f"{value.normalize():f}"


def note_for_the_stay(story: str, *, odometer_status: str) -> str:
    """The internal note of the stay: where its facts come from, and what the owner told."""
    lines = ["Booked by what its owner told; nobody of the lot had seen it."]
    if odometer_status == OdometerStatus.ACTUAL:
        lines.append("The owner says that the odometer reading is actual: not established.")
    return "\n".join([*lines, *([f"The owner tells: {story}"] if story else [])])


def check_caption(caption: str) -> str:
    caption = caption.strip()
    if len(caption) > MOST_CAPTION:
        raise Refused(
            "caption_too_long", f"The caption has {len(caption)} characters; {MOST_CAPTION} are the most.",
            field="caption", got=caption, mend="Shorten it.",
        )  # fmt: skip
    return caption


def caption_for_the_stay(caption: str) -> str:
    """Says where the photo came from."""
    return f"{caption}, {SENT_BEFORE}" if caption else SENT_BEFORE[:1].upper() + SENT_BEFORE[1:]
