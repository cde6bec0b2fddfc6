"""When a tyre was made, and how old it is, from the date at the end of its identification number (TIN)."""

import re
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from inventory.errors import Refused
from inventory.rules.plausibility import tin_week

FIELD = "tin"
LONGEST = 40

_RAISED = str.maketrans("abcdefghijklmnopqrstuvwxyz", "ABCDEFGHIJKLMNOPQRSTUVWXYZ")
_SEPARATORS = re.compile(r"[\s\-\u2010-\u2015\u2212/.]+")
_SYMBOLS = re.compile(r"[0-9A-Z]+")
_LAST_DIGITS = re.compile(r"[0-9]*$")
_FEBRUARY_29 = (2, 29)


@dataclass(frozen=True, kw_only=True)
class TyreMake:
    """One week a tyre can have been made in, Sunday to Saturday, and its age in years at the day it is looked at.

    The age counts from the first day of that week, the oldest it can be: whole years by the calendar, then the
    share of the running one.
    """

    week: int
    begins: date
    ends: date
    age_years: Fraction

    @property
    def year(self) -> int:
        """The year the week is counted in; its last days may spill into January."""
        return self.begins.year


@dataclass(frozen=True, kw_only=True)
class TinReading:
    """What a TIN says about the date of make: every week it can mean, the earliest first, at least one."""

    as_written: str
    on: date
    makes: tuple[TyreMake, ...]

    @property
    def ambiguous(self) -> bool:
        """Whether more than one week is possible: never silently one of them."""
        return len(self.makes) > 1

    @property
    def youngest_years(self) -> Fraction:
        """The age in years if it was made on the last day possible, not below 0."""
        return age_in_years(min(self.makes[-1].ends, self.on), on=self.on)

    @property
    def oldest_years(self) -> Fraction:
        """The age in years if it was made on the first day possible."""
        return self.makes[0].age_years

    @property
    def sentence(self) -> str:
        """What it says in plain words, with the ambiguity."""
        first = self.makes[0]
        if not self.ambiguous:
            return f"Made in week {first.week} of {first.year}, {first.begins} to {first.ends}."
        weeks = " or ".join(f"week {make.week} of {make.year}" for make in self.makes)
        return f"Made in {weeks}: the code does not tell which. The vehicle's age and the tread style may."


def read_tin(text: str, *, on: date) -> TinReading:
    """The week or weeks of make a TIN gives, and the tyre's age in years on a day: 49 CFR 574.5.

    `text` is the whole number, with or without DOT and spaces, or its last group alone. Four digits at the end
    (week, week, year, year) name one week of 2000 or later; three (week, week, last digit of the year) leave the
    decade open, and each is offered. Where the whole number is written without spaces and ends in four digits or
    more, the first of these may belong to the group before, so the last three are offered as well. Weeks that begin
    after `on` are not possible.

    Refused: nothing to read, symbols no TIN has, no date at its end (one side of a tyre may carry none), week 00 or
    a week the year did not have, and a date of which every reading is in the future.
    """
    codes = _date_codes(text)
    found: dict[tuple[date, int], TyreMake] = {}
    impossible: list[Refused] = []
    for code in codes:
        try:
            weeks = tin_week(code)
        except Refused as refusal:
            impossible.append(refusal)
            continue
        for week in weeks:
            if week.begins <= on:
                age = age_in_years(week.begins, on=on)
                make = TyreMake(week=int(code[:2]), begins=week.begins, ends=week.ends, age_years=age)
                found[week.begins, make.week] = make
    if found:
        return TinReading(as_written=text.strip(), on=on, makes=tuple(found[key] for key in sorted(found)))
    if len(impossible) == len(codes):
        raise impossible[0]
    raise _refused(
        text,
        f"The tyre date “{codes[0]}” is in the future; the day is {on}.",
        mend="Read it again: week, week, year, year, or three digits before 2000, and check the day.",
        code="tyre_date_future",
    )


def age_in_years(day: date, *, on: date) -> Fraction:
    """Years from one day to a later one: whole years by the calendar, then days as a share of the running year.

    Exactly whole on each anniversary (1 March for 29 February in a common year). Refused if `day` is after `on`.
    """
    if day > on:
        raise Refused(
            "date_future", f"{day} is after {on}.", field=FIELD, got=day, mend="Give a date up to the day looked at."
        )
    whole = on.year - day.year
    if _anniversary(day, years=whole) > on:
        whole -= 1
    begun = _anniversary(day, years=whole)
    return whole + Fraction((on - begun).days, (_anniversary(day, years=whole + 1) - begun).days)


def _anniversary(day: date, *, years: int) -> date:
    year = day.year + years
    leap = year % 4 == 0 and (year % 100 != 0 or year % 400 == 0)
    if (day.month, day.day) == _FEBRUARY_29 and not leap:
        return date(year, 3, 1)
    return day.replace(year=year)


def _date_codes(text: str) -> list[str]:
    """The digits that can be the date, the likelier first."""
    written = text.strip().translate(_RAISED).removeprefix("DOT")
    groups = [group for group in _SEPARATORS.split(written) if group]
    if not groups or len(text) > LONGEST:
        raise _refused(text, "No tyre identification number was given." if not groups else "That is too long for one.")
    if not all(_SYMBOLS.fullmatch(group) for group in groups):
        raise _refused(text, f"“{text.strip()}” holds a symbol no tyre identification number has.")
    found = _LAST_DIGITS.search(groups[-1])
    digits = found[0] if found else ""
    if len(digits) < 3 or (digits == groups[-1] and len(digits) > 4):
        raise _refused(text, f"“{text.strip()}” does not end in a date of three or four digits.")
    if digits == groups[-1] or len(digits) == 3:
        return [digits]
    return [digits[-4:], digits[-3:]]


def _refused(text: str, message: str, *, mend: str = "", code: str = "tyre_date_code") -> Refused:
    return Refused(
        code,
        message,
        field=FIELD,
        got=text,
        mend=mend or "Read the last group of the TIN: week, week, then the year. One side of a tyre may carry none.",
    )
