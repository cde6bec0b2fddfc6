"""Figures as people write them: money, model years, mileage, scores from 0 to 100."""

import re
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from functools import lru_cache

from inventory.errors import Refused
from inventory.rules import money
from inventory.rules.identity import FIRST_YEAR
from inventory.rules.money import DecimalMark
from inventory.rules.words import OdometerStatus
from inventory.sheets.cells import Cell, kind_of, known_text, shown, text_of
from inventory.sheets.words import status_of_mileage

MAX_MILEAGE_MI = 2_000_000
MAX_PRICE = Decimal("100000000.00")
MILES_IN_A_KILOMETRE = Decimal("0.621371")

_YEAR = re.compile(r"(\d{4})(?:\.0+)?", re.ASCII)
_TWO_DIGITS = re.compile(r"['’‘`´]?\s?(\d{2})", re.ASCII)
_MILEAGE = re.compile(
    r"(?P<minus>-)?(?P<whole>\d{1,3}(?:[,' ]\d{3})+|\d+)(?:\.(?P<part>\d+))?"
    r"(?: ?(?P<k>k)(?![a-z]))?(?: ?(?P<unit>mi|miles?|kms?|kilomet(?:er|re)s?)\.?(?![a-z]))?(?P<rest>.*)",
    re.IGNORECASE | re.ASCII,
)
_SCORE = r"(\d{1,5}(?:\.\d{1,12})?) ?%?"
_SCORE_RANGE = re.compile(rf"{_SCORE}(?: ?(?:-|–|—|to|\.\.) ?{_SCORE})?", re.IGNORECASE | re.ASCII)
_SWAP = str.maketrans(",.", ".,")


@dataclass(frozen=True, slots=True)
class Mileage:
    """What a mileage cell says; `status` only where the cell itself says one."""

    miles: int | None
    status: OdometerStatus | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Score:
    """An interval on the scale from 0 to 100, to one decimal."""

    low: Decimal | None
    high: Decimal | None
    note: str = ""


def read_money(cell: Cell, *, field: str, decimal_mark: DecimalMark, currency: str) -> Decimal | None:
    """An amount above zero, or None where the cell is blank."""
    text = known_text(cell)
    if not text:
        return None
    if isinstance(cell, int | float) and not isinstance(cell, bool):
        # Twelve figures hold every amount of a money column and drop the noise of binary fractions.
        amount = money.check_amount(Decimal(format(cell, ".12g")), field=field, minimum=-money.MAX_MONEY)
    else:
        _refuse_typed(cell, field=field, want="an amount")
        amount = _parsed_money(text, field=field, decimal_mark=decimal_mark, currency=currency)
    if amount <= 0:
        why = "is zero" if amount == 0 else "is below zero"
        raise _bad(text, field=field, why=why, mend="Give an amount above zero, or leave the cell empty.")
    if amount > MAX_PRICE:
        raise _bad(text, field=field, why=f"is above {money.plain(MAX_PRICE)}", mend="Check the figure.")
    return amount


@lru_cache(maxsize=20_000)
def _parsed_money(text: str, *, field: str, decimal_mark: DecimalMark, currency: str) -> Decimal:
    """Prices repeat in a file of sales; each spelling is parsed once."""
    return money.parse(text, field=field, decimal_mark=decimal_mark, currency=currency)


def read_year(cell: Cell, *, field: str, century: int | None, latest: int) -> int | None:
    """A model year with four figures; two figures are read only in a century that was given."""
    text = known_text(cell)
    if not text:
        return None
    _refuse_typed(cell, field=field, want="a model year")
    if typed := _YEAR.fullmatch(text):
        year = int(typed[1])
    elif typed := _TWO_DIGITS.fullmatch(text):
        if century is None:
            raise _bad(
                text,
                field=field,
                why="is a year of two figures",
                mend="Give --two-digit-years 19xx, or write the year in full.",
                code="sheet.two_digit_year",
            )
        year = century + int(typed[1])
    else:
        raise _bad(text, field=field, why="is not a model year", mend="Give one year with four figures.")
    if not FIRST_YEAR <= year <= latest:
        raise _bad(text, field=field, why=f"is not a year from {FIRST_YEAR} to {latest}", mend="Check the year.")
    return year


def is_two_digit_year(cell: Cell) -> bool:
    return not isinstance(cell, bool) and _TWO_DIGITS.fullmatch(text_of(cell)) is not None


def read_mileage(cell: Cell, *, field: str, in_km: bool, decimal_mark: DecimalMark) -> Mileage:
    """Miles from a figure with or without k and unit, or a status where no figure is known."""
    text = text_of(cell)
    _refuse_typed(cell, field=field, want="a mileage")
    status = status_of_mileage(text)
    if status is not None:
        return Mileage(None, status)
    if not known_text(cell):
        return Mileage(None)
    # A typed number is written with a point whatever mark the file's texts use.
    swap = decimal_mark == "," and isinstance(cell, str)
    typed = _MILEAGE.fullmatch(text.translate(_SWAP) if swap else text)
    rest = typed["rest"].strip(" ,;()[]-/") if typed else text
    said = status_of_mileage(rest)
    if typed is None or (rest and said is None):
        raise _bad(text, field=field, why="is not a mileage", mend="Write it as 45,210, 45k, 72,000 km or TMU.")
    if typed["part"] and len(typed["part"]) == 3 and not typed["k"] and isinstance(cell, str):
        whole = f"{typed['whole']}{typed['part']}"
        raise _bad(
            text,
            field=field,
            why=f"could be {whole} or a fraction",
            mend=f"Write {whole} or {typed['whole']}.",
        )
    return _miles(typed, text=text, field=field, in_km=in_km, said=said)


def _miles(typed: re.Match[str], *, text: str, field: str, in_km: bool, said: OdometerStatus | None) -> Mileage:
    whole = re.sub(r"\D", "", typed["whole"])
    reading = Decimal(f"{whole}.{typed['part'] or '0'}") * (1000 if typed["k"] else 1)
    unit = (typed["unit"] or ("km" if in_km else "mi")).casefold()
    note = ""
    if unit.startswith("k"):
        miles = int((reading * MILES_IN_A_KILOMETRE).quantize(Decimal(1), rounding=ROUND_HALF_UP))
        note = f"{shown(text)} was converted from kilometres to {miles} miles."
    else:
        miles = int(reading)
        if miles != reading:
            note = f"{shown(text)} was taken as {miles}: a reading has no tenths."
    if typed["minus"] and reading:
        raise _bad(text, field=field, why="is below zero", mend="Give the reading, or leave the cell empty.")
    if miles > MAX_MILEAGE_MI:
        raise _bad(text, field=field, why=f"is above {MAX_MILEAGE_MI:,} miles", mend="Check the reading.")
    return Mileage(miles, said, note)


def read_score(cell: Cell, *, field: str) -> Score:
    """A figure from 0 to 100, or a range of two."""
    text = known_text(cell)
    if not text:
        return Score(None, None)
    _refuse_typed(cell, field=field, want="a figure from 0 to 100")
    typed = _SCORE_RANGE.fullmatch(text)
    if typed is None:
        raise _bad(text, field=field, why="is not a figure from 0 to 100", mend="Write it as 75 or as 70-80.")
    low, high = Decimal(typed[1]), Decimal(typed[2] or typed[1])
    if max(low, high) > 100:
        raise _bad(text, field=field, why="is above 100", mend="The scale is from 0 to 100.")
    if low > high:
        raise _bad(text, field=field, why="has its lower end second", mend=f"Write {high:f}-{low:f}.")
    rounded = Score(_one_decimal(low), _one_decimal(high))
    if (rounded.low, rounded.high) == (low, high):
        return rounded
    kept = f"{rounded.low}" if low == high else f"{rounded.low}-{rounded.high}"
    return Score(rounded.low, rounded.high, f"{shown(text)} was rounded to {kept}.")


def _one_decimal(value: Decimal) -> Decimal:
    return value.quantize(Decimal("0.1"), rounding=ROUND_HALF_UP)


def _refuse_typed(cell: Cell, *, field: str, want: str) -> None:
    if cell is None or (isinstance(cell, str | int | float) and not isinstance(cell, bool)):
        return
    text = text_of(cell)
    raise _bad(
        text,
        field=field,
        why=f"is {kind_of(cell)}, not {want}",
        mend="Format the cell as text or number.",
    )


def _bad(text: str, *, field: str, why: str, mend: str, code: str = "sheet.bad_figure") -> Refused:
    return Refused(code, f"{shown(text)} {why}.", field=field, got=text, mend=mend)
