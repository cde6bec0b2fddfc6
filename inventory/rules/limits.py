"""Readings held against the published limits of `limit_rows.py`; beyond one is a flag, and a person decides.

The rules say “not more than” or “not less than”, so a reading exactly at its limit passes; only the advice on a
tyre's age counts the limit in. Check local law.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction
from math import isfinite
from typing import TypedDict, Unpack

from inventory.errors import Refused
from inventory.rules.limit_rows import (
    CRITERIA,
    INCHES,
    LIMITS,
    STOPS_DRIVES,
    THIRTY_SECONDS,
    Beyond,
    Known,
    Limit,
    Row,
    System,
)

DECIDES = "A licensed inspector or mechanic decides; check local law."
UNITS: dict[str, str] = {code: limit.unit for code, limit in LIMITS.items()}

Number = Decimal | Fraction | int | float


class Conditions(TypedDict, total=False):
    """What a limit may depend on. What is left out is unknown, and the strictest row that fits is used."""

    over_10000_lb: bool  # gross vehicle weight rating; left out: 10,000 lb or less
    front: bool  # a front tyre
    bonded: bool  # a bonded lining or pad, not a riveted one
    size_in: Number  # diameter of the steering wheel, or of the rim, inches
    maker_figure: Number  # cast on the part, else from the maker's manual, in the unit of the reading
    lot_limit: Number  # the lot's own figure, for a limit that is a setting


@dataclass(frozen=True, kw_only=True)
class Flag:
    """A reading beyond its limit, or a criterion not met, for the head of the file."""

    code: str
    message: str
    section: str
    known: Known
    system: System
    reading: Fraction | None = None
    limit: Fraction | None = None
    unit: str = ""

    @property
    def stops_drives(self) -> bool:
        """Whether road tests and test drives stop while it is open: brakes, steering, tyres and wheels."""
        return self.system in STOPS_DRIVES


@dataclass(frozen=True)
class _Found:
    """The figure a reading is held against; None: there is none, or the maker's is needed and was not given."""

    row: Row | None
    figure: Fraction | None = None
    not_said: str = ""


def judge(code: str, reading: Number, **conditions: Unpack[Conditions]) -> Flag | None:
    """The flag if the reading, in its unit of `UNITS`, is beyond its published limit; else None.

    None is no clean bill where there was nothing to hold it against: see `unjudged`. Refused: an unknown code, a
    reading that is no number or is negative (toe may be), a lot's figure for a limit that is not a setting.
    """
    limit = _limit(code)
    value = _number(reading, field="reading", signed=limit.either_way)
    found = _find(limit, conditions)
    size = abs(value) if limit.either_way else value
    if found.row is None or found.figure is None or not _is_beyond(size, figure=found.figure, side=limit.beyond):
        return None
    return Flag(
        code=code,
        message=_sentence(limit, value=value, row=found.row, figure=found.figure, not_said=found.not_said),
        section=found.row.cited,
        known=found.row.known,
        system=limit.system,
        reading=value,
        limit=found.figure,
        unit=limit.unit,
    )


def unjudged(code: str, **conditions: Unpack[Conditions]) -> str:
    """Why a reading of this code cannot be held against a limit; "" if it can."""
    limit = _limit(code)
    found = _find(limit, conditions)
    if found.row is None:
        weight = "over 10,000 lb GVWR" if conditions.get("over_10000_lb") else "of 10,000 lb GVWR or less"
        return f"{limit.wording}: no published limit for a vehicle {weight}."
    if found.figure is None:
        return f"{limit.wording}: give the maker's figure, to hold it against {found.row.cited}. {limit.note}"
    return ""


def limit_text(code: str, **conditions: Unpack[Conditions]) -> str:
    """The limit as it is shown beside the entry of a reading, or why there is none."""
    limit = _limit(code)
    found = _find(limit, conditions)
    if found.row is None or found.figure is None:
        return unjudged(code, **conditions)
    side = {Beyond.BELOW: "at least", Beyond.ABOVE: "at most", Beyond.FROM: "under"}[limit.beyond]
    figure = _shown(found.figure, unit=limit.unit, metric=True)
    return f"{limit.wording}: {side} {figure} ({found.row.cited}; {found.row.known})."


def bound(code: str, **conditions: Unpack[Conditions]) -> tuple[Beyond, Fraction] | None:
    """The side and the figure beyond which a reading is flagged; None where there is none, or the maker's is needed."""
    limit = _limit(code)
    figure = _find(limit, conditions).figure
    return None if figure is None else (limit.beyond, figure)


def failed(code: str, *, over_10000_lb: bool = False) -> Flag:
    """The flag for a criterion of the rule that is looked at without a figure and is not met."""
    if code not in CRITERIA:
        raise _unknown(code, known=CRITERIA)
    criterion = CRITERIA[code]
    section = f"49 CFR {criterion.heavy_section if over_10000_lb else criterion.section}"
    known = criterion.heavy_known if over_10000_lb else criterion.known
    return Flag(
        code=code,
        message=f"Not met: {criterion.wording.lower()}; {section} ({known}). {DECIDES}",
        section=section,
        known=known,
        system=criterion.system,
    )


def failed_without_reading(code: str) -> Flag:
    """The flag for something with a published limit that is graded as failed, and was not measured."""
    limit = _limit(code)
    row = limit.rows[0]
    return Flag(
        code=code,
        message="Graded as failed, without a reading beyond the limit: "
        f"{limit.wording[:1].lower()}{limit.wording[1:]}; {row.cited} ({row.known}). {DECIDES}",
        section=row.cited,
        known=row.known,
        system=limit.system,
    )


def _limit(code: str) -> Limit:
    if code not in LIMITS:
        raise _unknown(code, known=LIMITS)
    return LIMITS[code]


def _unknown(code: str, *, known: Iterable[str]) -> Refused:
    return Refused(
        "limit_code",
        f"“{code}” is nothing with a published limit.",
        field="code",
        got=code,
        mend=f"Use one of {', '.join(known)}.",
    )


def _find(limit: Limit, conditions: Conditions) -> _Found:
    """The row that fits, the strictest where several do, and then what would have told them apart."""
    fitting = [row for row in limit.rows if _fits(row, conditions)]
    own = conditions.get("lot_limit")
    if own is not None and not limit.setting:
        raise Refused(
            "limit_not_a_setting",
            f"{limit.wording}: the limit is not the lot's to set, and {own} was given.",
            field="lot_limit",
            got=own,
            mend="Leave it out.",
        )
    if not fitting:
        return _Found(None)
    strictest = max if limit.beyond is Beyond.BELOW else min
    row = strictest(fitting, key=lambda candidate: candidate.limit)
    not_said = limit.asks if len(fitting) > 1 else ""
    if limit.of_maker:
        return _Found(row, _of_maker(limit, share=row.limit, maker=conditions.get("maker_figure")), not_said)
    return _Found(row, row.limit if own is None else _above_zero(own, field="lot_limit"), not_said)


def _fits(row: Row, conditions: Conditions) -> bool:
    heavy, front, bonded = conditions.get("over_10000_lb", False), conditions.get("front"), conditions.get("bonded")
    told = ((row.heavy, heavy), (row.front, front), (row.bonded, bonded))
    if any(wanted is not None and given is not None and wanted != given for wanted, given in told):
        return False
    size = conditions.get("size_in")
    return row.sizes is None or size is None or row.sizes.holds(_above_zero(size, field="size_in"))


def _of_maker(limit: Limit, *, share: Fraction, maker: Number | None) -> Fraction | None:
    if maker is None:
        return None
    if limit.either_way:
        return share * abs(_number(maker, field="maker_figure", signed=True))
    return share * _above_zero(maker, field="maker_figure")


def _is_beyond(value: Fraction, *, figure: Fraction, side: Beyond) -> bool:
    if side is Beyond.BELOW:
        return value < figure
    return value > figure or (side is Beyond.FROM and value == figure)


def _sentence(limit: Limit, *, value: Fraction, row: Row, figure: Fraction, not_said: str) -> str:
    read = _shown(value, unit=limit.unit)
    most = _shown(figure, unit=limit.unit, metric=True)
    gap = f" Not said: {not_said}; the strictest figure is used." if not_said else ""
    return f"{limit.wording}: {read}, {limit.beyond} the limit of {most}; {row.cited} ({row.known}).{gap} {DECIDES}"


MM_PER_IN = Fraction(254, 10)


def in_millimetres(value: Fraction, *, unit: str) -> Fraction | None:
    """A figure of a row in millimetres, exactly (2/32 in is 1.5875 mm); None where its unit is no length."""
    return {INCHES: value * MM_PER_IN, THIRTY_SECONDS: value * MM_PER_IN / 32}.get(unit)


def _shown(value: Fraction, *, unit: str, metric: bool = False) -> str:
    text = {INCHES: f"{_mixed(value)} in", THIRTY_SECONDS: f"{_plain(value)}/32 in"}.get(
        unit, f"{_plain(value)} {unit}"
    )
    length = in_millimetres(value, unit=unit) if metric else None
    return text if length is None else f"{text} ({_hundredths(length)} mm)"


def _hundredths(value: Fraction) -> str:
    """Two decimals, a half up: 1/8 in is 3.175 mm exactly, shown as 3.18."""
    count = (2 * 100 * value + 1) // 2
    return f"{count // 100}.{count % 100:02d}"


def _mixed(value: Fraction) -> str:
    """2 1/4 where a rule counts in such parts, else a decimal."""
    if value.denominator not in (2, 4, 8, 16) or value < 0:
        return _plain(value)
    whole, rest = divmod(value, 1)
    return f"{whole} {rest}" if whole else f"{rest}"


def _plain(value: Fraction) -> str:
    return f"{float(value):.6g}"


def _number(value: Number, *, field: str, signed: bool = False) -> Fraction:
    """By way of its text, so that 0.1 is a tenth and a reading at its limit is at it."""
    if not isfinite(value) or (value < 0 and not signed):
        raise _not_a_figure(value, field=field, mend="Give a number." if signed else "Give a number, zero or more.")
    return Fraction(str(value))


def _above_zero(value: Number, *, field: str) -> Fraction:
    if not isfinite(value) or value <= 0:
        raise _not_a_figure(value, field=field, mend="Give a number above zero.")
    return Fraction(str(value))


def _not_a_figure(value: Number, *, field: str, mend: str) -> Refused:
    return Refused("limit_figure", f"{value} is not such a figure.", field=field, got=value, mend=mend)


# Dates that help to question a story.
_CAR_LAMP_FROM = date(1968, 1, 1)
_OTHER_LAMP_FROM = date(1975, 9, 1)
_SIZES_CAST_FROM = date(1971, 1, 1)


def brake_lamp_expected(built_on: date, *, passenger_car: bool) -> bool:
    """Whether a brake failure lamp belongs to a vehicle of that date: 49 CFR 570.5(a), by a state's copy of it."""
    return built_on >= (_CAR_LAMP_FROM if passenger_car else _OTHER_LAMP_FROM)


def brake_sizes_cast_expected(built_on: date) -> bool:
    """Whether drums and discs of that date usually carry their limit cast on them: 49 CFR 570.59(b)."""
    return built_on >= _SIZES_CAST_FROM


FEET_PER_MILE = 5280
_FT_PER_S2 = 32.174  # one g


def side_slip_ft_per_mile(total_toe_in: Number, *, tyre_diameter_in: Number) -> float:
    """Side-slip on a scuff gauge, feet per mile: 5280 × total toe ÷ tyre diameter, both in inches.

    The part prints its own table by wheel size (570.7); this is the arithmetic behind such a table.
    """
    toe = _number(total_toe_in, field="total_toe_in", signed=True)
    return float(FEET_PER_MILE * toe / _above_zero(tyre_diameter_in, field="tyre_diameter_in"))


def deceleration_g(mph: Number, *, stopping_ft: Number) -> float:
    """The mean deceleration of a stop, in g: v² ÷ (2 × distance), with v in feet per second."""
    speed = _above_zero(mph, field="mph") * FEET_PER_MILE / 3600
    return float(speed**2 / (2 * _above_zero(stopping_ft, field="stopping_ft"))) / _FT_PER_S2
