"""Vehicle numbers: the 17-character VIN and the earlier serial; also stock numbers and model years.

Source: 49 CFR 565.15, (c) transliteration and weights, (b) position 7, Table VII year codes. The regulation's
own example is 1G4AH59H_5G118341 with check digit 4. ISO 3779 asks for neither a check digit nor a year in
position 10, so an import may fail both and be genuine: a failure is a warning to answer, never a refusal.
"""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from inventory.errors import Refused
from inventory.rules.words import SerialKind

VIN_LENGTH = 17
FIRST_VIN_YEAR = 1981
"""The fixed 17-character form is required from this model year; earlier serials have no rule."""

FIRST_YEAR = 1886
"""The oldest year accepted for a vehicle."""

_VALUES = {
    **{digit: int(digit) for digit in "0123456789"},
    **dict(zip("ABCDEFGH", range(1, 9), strict=True)),
    **{"J": 1, "K": 2, "L": 3, "M": 4, "N": 5, "P": 7, "R": 9},
    **dict(zip("STUVWXYZ", range(2, 10), strict=True)),
}
WEIGHTS = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)
YEAR_CODES = "ABCDEFGHJKLMNPRSTVWXY123456789"
"""Thirty codes for 1980-2009, then again for 2010-2039; never I, O, Q, U, Z or 0."""

_CYCLES = (1980, 2010)
_LOOK_ALIKE = str.maketrans("IOQ", "100")
# Only ASCII letters are raised: full case mapping would turn foreign letters into ones a VIN may hold.
_RAISED = str.maketrans("abcdefghijklmnopqrstuvwxyz", "ABCDEFGHIJKLMNOPQRSTUVWXYZ")
_DROPPED = re.compile(r"[\s\-\u2010-\u2015\u2212]+")
_FOREIGN = re.compile(r"[^0-9A-Z]")


class Severity(StrEnum):
    NOTE = "note"
    WARNING = "warning"


@dataclass(frozen=True)
class Finding:
    """What is odd about a number: a note informs, a warning needs a reason. Nothing is a dead end."""

    code: str
    severity: Severity
    message: str
    mend: str = ""


@dataclass(frozen=True, kw_only=True)
class Identity:
    """A number as it was given, as it is compared, and what was found about it."""

    kind: SerialKind
    as_written: str
    value: str
    findings: tuple[Finding, ...]

    def of(self, severity: Severity) -> tuple[Finding, ...]:
        return tuple(finding for finding in self.findings if finding.severity is severity)


def normalise(text: str) -> str:
    """Letters raised, spaces and hyphens dropped. Nothing else changes: see `suggest` for likely slips."""
    return _DROPPED.sub("", text.translate(_RAISED))


def suggest(text: str) -> str:
    """The normalised number with the letters a VIN never holds read as the digits they resemble."""
    return normalise(text).translate(_LOOK_ALIKE)


def transliterate(character: str) -> int:
    """The value of one VIN character, 0 to 9, by the table of 49 CFR 565.15(c)."""
    if character not in _VALUES:
        raise Refused(
            "vin_alphabet",
            f"“{character}” never stands in a VIN.",
            field="vin",
            got=character,
            mend="A VIN has digits and capital letters except I, O and Q.",
        )
    return _VALUES[character]


def weighted_sum(vin: str) -> int:
    """Σ value × weight over the 17 characters of a normalised VIN; position 9 weighs nothing."""
    if len(vin) != VIN_LENGTH:
        raise Refused(
            "vin_length",
            f"“{vin}” has {len(vin)} characters; a VIN has {VIN_LENGTH}.",
            field="vin",
            got=vin,
            mend="Read the plate again.",
        )
    return sum(transliterate(character) * weight for character, weight in zip(vin, WEIGHTS, strict=True))


def check_digit(vin: str) -> str:
    """What position 9 should be: the weighted sum mod 11, with 10 written X."""
    remainder = weighted_sum(vin) % 11
    return "X" if remainder == 10 else str(remainder)


def model_years(vin: str, *, light: bool = True) -> tuple[int, ...]:
    """The model years position 10 can mean; none if it is not a year code.

    For a passenger car, or a truck of 10,000 lb GVWR or less (`light`), a digit in position 7 means
    1980-2009 and a letter 2010-2039: 49 CFR 565.15(b). For heavier vehicles, motorcycles and trailers
    position 7 says nothing, and both years come back.
    """
    weighted_sum(vin)
    if vin[9] not in YEAR_CODES:
        return ()
    offset = YEAR_CODES.index(vin[9])
    years = tuple(first + offset for first in _CYCLES)
    if not light:
        return years
    return years[:1] if vin[6].isdigit() else years[1:]


def assess(text: str, *, year: int | None, light: bool = True) -> Identity:
    """What a number is and what is odd about it; `year` is the model year the file gives.

    Seventeen characters are checked as a VIN: alphabet, dummy, check digit, model year. Anything else is
    an earlier serial, taken as written, and says so.
    """
    value = normalise(text)
    if not value:
        kind, findings = SerialKind.NONE, iter((_none_given(),))
    elif len(value) == VIN_LENGTH:
        kind, findings = SerialKind.VIN, _vin_findings(value, year=year, light=light)
    else:
        kind, findings = SerialKind.SERIAL, _serial_findings(value, year=year)
    return Identity(kind=kind, as_written=text.strip(), value=value, findings=tuple(findings))


def require_answers(identity: Identity, *, reason: str, field: str = "vin") -> None:
    """Refuse a number with warnings that nobody gave a reason for."""
    odd = identity.of(Severity.WARNING)
    if not odd or reason.strip():
        return
    mend = " ".join(finding.mend for finding in odd)
    raise Refused(
        odd[0].code,
        " ".join(finding.message for finding in odd),
        field=field,
        got=identity.as_written,
        mend=f"{mend} If it is right as it stands, give the reason.",
    )


def _none_given() -> Finding:
    return Finding(
        "identity_none",
        Severity.WARNING,
        "No number was given.",
        "Read it off the plate, the frame or the title, or say why there is none.",
    )


def _serial_findings(serial: str, *, year: int | None) -> Iterator[Finding]:
    yield Finding("serial_as_written", Severity.NOTE, "Taken as written: an earlier serial has no check digit.")
    if year is None:
        yield _year_not_given()
    elif year >= FIRST_VIN_YEAR:
        yield Finding(
            "serial_length",
            Severity.WARNING,
            f"{serial} has {len(serial)} characters; a vehicle of model year {year} has {VIN_LENGTH}.",
            "Read the plate again, or check the year.",
        )


def _vin_findings(vin: str, *, year: int | None, light: bool) -> Iterator[Finding]:
    foreign = "".join(sorted(set(_FOREIGN.findall(vin))))
    if foreign:
        yield Finding(
            "vin_characters",
            Severity.WARNING,
            f"{vin} holds {foreign}, which stands in no VIN, so neither check digit nor year was looked at.",
            "Read the plate again: a VIN has letters and digits only.",
        )
    elif set(vin) & set("IOQ"):
        yield _never_in_a_vin(vin)
    else:
        yield from _arithmetic_findings(vin)
        yield from _year_findings(vin, year=year, light=light)


def _never_in_a_vin(vin: str) -> Finding:
    likely = suggest(vin)
    passes = check_digit(likely) == likely[8]
    return Finding(
        "vin_alphabet",
        Severity.WARNING,
        f"{vin} holds a letter no VIN holds (I, O or Q), so neither check digit nor year was looked at.",
        f"Perhaps {likely}, whose check digit {'agrees' if passes else 'does not agree either'}.",
    )


def _arithmetic_findings(vin: str) -> Iterator[Finding]:
    if len(set(vin)) <= 2:
        yield Finding(
            "vin_dummy",
            Severity.WARNING,
            f"{vin} looks like a stand-in, not a number read off a vehicle.",
            "Enter the number on the plate.",
        )
    expected = check_digit(vin)
    if vin[8] != expected:
        yield Finding(
            "vin_check_digit",
            Severity.WARNING,
            f"The check digit of {vin} (position 9) is {vin[8]}; the others make it {expected}.",
            "Read the plate again, also for swapped neighbours; some imports never had a check digit.",
        )


def _year_findings(vin: str, *, year: int | None, light: bool) -> Iterator[Finding]:
    years = model_years(vin, light=light)
    if year is None:
        yield _year_not_given()
    elif year in years:
        return
    elif year < FIRST_VIN_YEAR - 1:
        yield Finding(
            "vin_before_1981",
            Severity.WARNING,
            f"{vin} has the {VIN_LENGTH} characters of {FIRST_VIN_YEAR} and later; the file says {year}.",
            "Check the year and where the number was read.",
        )
    else:
        yield _year_disagrees(vin, year=year, years=years)


def _year_disagrees(vin: str, *, year: int, years: tuple[int, ...]) -> Finding:
    says = " or ".join(str(candidate) for candidate in years)
    return Finding(
        "vin_year",
        Severity.WARNING,
        f"Position 10 of {vin} is {vin[9]}, which "
        + (f"says model year {says}; the file says {year}." if years else f"is no year code; the file says {year}."),
        "Check the plate and the title; some imports carry no year, and on a heavy vehicle or a motorcycle "
        "position 7 does not tell the two cycles apart.",
    )


def _year_not_given() -> Finding:
    return Finding("identity_year_unknown", Severity.NOTE, "No model year was given, so none was compared.")


_STOCK_NUMBER = re.compile(r"([0-9]{2})-([0-9]{4,})")


def next_stock_number(last: str | None, *, year: int) -> str:
    """The number after `last`, the highest one of that year so far (None: none yet): 26-0001, 26-0002, …

    Two digits of the year of arrival, then a count that starts again each year. Past 9999 it grows a digit.
    """
    prefix = f"{year % 100:02d}"
    if last is None:
        return f"{prefix}-0001"
    read = _STOCK_NUMBER.fullmatch(last)
    if read is None or read[1] != prefix:
        raise Refused(
            "stock_number_last",
            f"“{last}” is not a stock number of {year}.",
            field="stock_number",
            got=last,
            mend=f"Give the last one of that year, such as {prefix}-0001, or none.",
        )
    return f"{prefix}-{int(read[2]) + 1:04d}"


def highest_stock_number(taken: Iterable[str]) -> str | None:
    """Of the numbers given in one year the highest; numbers of another make, which a lot brought along, do not count.

    >>> highest_stock_number(["26-0009", "26-0031", "26-A7", "26-0012"])
    '26-0031'
    """
    ours = [number for number in taken if _STOCK_NUMBER.fullmatch(number)]
    return max(ours, key=lambda number: int(number[3:]), default=None)


def check_year(year: int, *, today: date, field: str = "year", what: str = "model year") -> int:
    """The year, or Refused if it is before 1886 or more than two years ahead of today."""
    latest = today.year + 2
    if not FIRST_YEAR <= year <= latest:
        raise Refused(
            "year_impossible",
            f"A {what} of {year} is not possible.",
            field=field,
            got=year,
            mend=f"Give a year from {FIRST_YEAR} to {latest}, with four digits.",
        )
    return year
