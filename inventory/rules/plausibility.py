"""Facts that contradict each other: questioned, never blocked. Only a date in the future is refused."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise
from math import isfinite, pi

from inventory.errors import Refused


@dataclass(frozen=True)
class Question:
    """A contradiction for a person to look at, and what would settle it."""

    code: str
    message: str
    mend: str


def check_not_future(day: date, *, today: date, field: str) -> date:
    """The date, or Refused if it is after today."""
    if day > today:
        raise Refused(
            "date_future",
            f"{day} is in the future; today is {today}.",
            field=field,
            got=day,
            mend="Give a date up to today.",
        )
    return day


def sale_before_arrival(*, sold_on: date, arrived_on: date) -> Question | None:
    if sold_on >= arrived_on:
        return None
    return Question(
        "sale_before_arrival",
        f"Sold on {sold_on}, but it arrived on {arrived_on}.",
        "Check both dates; if it was sold before it came, say so in the notes.",
    )


def ask_dates_out_of_order(asked_on: Sequence[date]) -> Question | None:
    """Looks at the dates of asks in the order they were recorded; the first pair that falls back is named."""
    for earlier, later in pairwise(asked_on):
        if later < earlier:
            return Question(
                "asks_out_of_order",
                f"An ask of {later} is recorded after one of {earlier}.",
                "Check the dates of the asks.",
            )
    return None


def mileage_fell(mileage_mi: int, *, earlier_mi: int, earlier_on: date) -> Question | None:
    """A reading below an earlier one. 49 CFR 580.5 knows the odometer past its mechanical limit."""
    if mileage_mi >= earlier_mi:
        return None
    return Question(
        "mileage_fell",
        f"The reading is {mileage_mi:,} miles; on {earlier_on} it was {earlier_mi:,}.",
        "Read it again. If the odometer has turned over, its status is “over the limit”; "
        "if it was changed or cannot be trusted, “not actual”.",
    )


def odometer_exempt(model_year: int, *, on: date) -> bool:
    """Whether the model year frees a transfer on that day from odometer disclosure: 49 CFR 580.17(a).

    2010 and older: from 10 years after 1 January of the model year; 2011 and newer: from 20 years after.
    The law's other exemptions (weight, not self-propelled) are not looked at. Check local law.
    """
    years = 10 if model_year <= 2010 else 20
    return on >= date(model_year + years, 1, 1)


@dataclass(frozen=True)
class TinWeek:
    """A week of make, Sunday to Saturday."""

    begins: date
    ends: date


_FIRST_TIN_YEAR = 1971  # from memory: tyre identification numbers began in 1971
_LAST_THREE_DIGIT_YEAR = 2000  # four digits are required since about the turn of 2000


def tin_week(code: str) -> tuple[TinWeek, ...]:
    """The week or weeks the date at the end of a tyre's TIN can mean: 49 CFR 574.5.

    Four digits (week, week, year, year) name one week of 2000 or later. Three (week, week, last digit of
    the year) leave the decade open, and every candidate comes back. Week 01 is the first full calendar
    week, so week w begins on the first Sunday of the year plus 7 × (w − 1) days; this is not the ISO week.
    """
    if not (code.isascii() and code.isdigit() and len(code) in (3, 4)):
        raise _bad_tin(code, why="is not three or four digits")
    week, tail = int(code[:2]), int(code[2:])
    if len(code) == 4:
        years = [2000 + tail]
    else:
        years = [y for y in range(_FIRST_TIN_YEAR, _LAST_THREE_DIGIT_YEAR + 1) if y % 10 == tail]
    weeks = tuple(found for year in years if (found := _week_of(year, week=week)) is not None)
    if not weeks:
        raise _bad_tin(code, why=f"names week {code[:2]}, which {' and '.join(map(str, years))} did not have")
    return weeks


def _week_of(year: int, *, week: int) -> TinWeek | None:
    new_year = date(year, 1, 1)
    first_sunday = new_year + timedelta(days=6 - new_year.weekday())
    begins = first_sunday + timedelta(weeks=week - 1)
    return TinWeek(begins, begins + timedelta(days=6)) if week >= 1 and begins.year == year else None


def _bad_tin(code: str, *, why: str) -> Refused:
    return Refused(
        "tyre_date_code",
        f"The tyre date “{code}” {why}.",
        field="tin",
        got=code,
        mend="Read the last digits of the TIN again: week, week, then the year.",
    )


CC_PER_CU_IN = 16.387064
REBORE_STEPS_IN = (0.020, 0.030, 0.040, 0.060)
DISPLACEMENT_TOLERANCE = 0.02
"""Badges round; more than 2 % off is a question. Common practice."""

_BADGE_ROUNDING_CU_IN = 0.5


def displacement_cu_in(*, bore_in: float, stroke_in: float, cylinders: int) -> float:
    """π ÷ 4 × bore² × stroke × cylinders, in cubic inches from inches; times 16.387064 it is in cc."""
    if not all(isfinite(size) and size > 0 for size in (bore_in, stroke_in, cylinders)):
        raise Refused(
            "engine_size",
            f"A bore of {bore_in}, a stroke of {stroke_in} and {cylinders} cylinders make no engine.",
            field="bore_in",
            got=bore_in,
            mend="Give all three as numbers above zero.",
        )
    return pi / 4 * bore_in**2 * stroke_in * cylinders


def displacement_disagrees(stated_cu_in: float, *, bore_in: float, stroke_in: float, cylinders: int) -> Question | None:
    """A stated displacement that bore and stroke do not give, or give only before a usual rebore."""
    computed = displacement_cu_in(bore_in=bore_in, stroke_in=stroke_in, cylinders=cylinders)
    if abs(computed - stated_cu_in) <= _BADGE_ROUNDING_CU_IN:
        return None
    for step in REBORE_STEPS_IN:
        if bore_in <= step:
            break
        before = displacement_cu_in(bore_in=bore_in - step, stroke_in=stroke_in, cylinders=cylinders)
        if abs(before - stated_cu_in) <= _BADGE_ROUNDING_CU_IN:
            return Question(
                "engine_rebored",
                f"Bore and stroke give {computed:.1f} cu in; {stated_cu_in:g} fits a rebore by {step:.3f}.",
                "Say whether the engine was bored over, and on what basis.",
            )
    if abs(computed - stated_cu_in) <= DISPLACEMENT_TOLERANCE * stated_cu_in:
        return None
    return Question(
        "engine_displacement",
        f"Bore and stroke give {computed:.1f} cu in, not the stated {stated_cu_in:g}.",
        "Check bore, stroke, cylinders and the stated figure.",
    )
