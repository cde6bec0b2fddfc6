"""Engine, driveline and electrical figures, and the questions they raise: questioned, never blocked.

Formulas are arithmetic from their definitions. Tables and tolerances that no standard fixes say so: they are
common practice, and arguments with a default, so that a lot can use its own.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from math import isfinite, pi

from inventory.errors import Refused
from inventory.rules.limit_rows import LIMITS
from inventory.rules.plausibility import CC_PER_CU_IN, Question, displacement_cu_in, displacement_disagrees

MM_PER_IN = 25.4
CU_IN_PER_CUBIC_FOOT = 1728
INCHES_PER_MILE = 63_360
ROAD_CONSTANT = 336
"""63360 ÷ (60 × π) = 336.135, which the trade rounds to 336."""

TORQUE_CONSTANT = 5252
"""33000 lb-ft a minute in one horsepower ÷ (2 × π) = 5252.1, rounded by custom: torque and power are equal there."""

SPEED_TOLERANCE = 0.05
"""A tyre of nominal size, worn or loaded, is off by 1 to 4 %. Common practice."""


def above_zero(**figures: float) -> None:
    """Refuse, by the field's name, a figure that is not a number above zero."""
    for field, value in figures.items():
        if not isfinite(value) or value <= 0:
            raise no_figure(field, value, mend="Give a number above zero.")


def zero_or_more(**figures: float) -> None:
    """Refuse, by the field's name, a figure that is not a number of zero or more."""
    for field, value in figures.items():
        if not isfinite(value) or value < 0:
            raise no_figure(field, value, mend="Give a number, zero or more.")


def no_figure(field: str, value: object, *, mend: str) -> Refused:
    """The refusal of one figure, for its field."""
    name = field.replace("_", " ")
    return Refused("engine_figure", f"{value} cannot be the {name}.", field=field, got=value, mend=mend)


# Displacement


def displacement_cc(*, bore_mm: float, stroke_mm: float, cylinders: int) -> float:
    """π ÷ 4 × bore² × stroke × cylinders in cubic centimetres, from millimetres."""
    above_zero(bore_mm=bore_mm, stroke_mm=stroke_mm, cylinders=cylinders)
    bore_in, stroke_in = bore_mm / MM_PER_IN, stroke_mm / MM_PER_IN
    return CC_PER_CU_IN * displacement_cu_in(bore_in=bore_in, stroke_in=stroke_in, cylinders=cylinders)


def displacement_in(*, bore_in: float, stroke_in: float, cylinders: int) -> float:
    """The same in cubic inches from inches; Refused names the one figure that cannot be."""
    above_zero(bore_in=bore_in, stroke_in=stroke_in, cylinders=cylinders)
    return displacement_cu_in(bore_in=bore_in, stroke_in=stroke_in, cylinders=cylinders)


def cu_in_of_cc(cc: float) -> float:
    """Cubic inches of cubic centimetres: ÷ 16.387064, the cube of 2.54."""
    above_zero(cc=cc)
    return cc / CC_PER_CU_IN


def question_displacement(stated_cu_in: float, *, bore_in: float, stroke_in: float, cylinders: int) -> Question | None:
    """A stated displacement, cubic inches, that bore and stroke do not give, or give only before a usual rebore.

    Badges round: more than 2 % off is a question, or a rebore step that fits. Common practice.
    """
    above_zero(stated_cu_in=stated_cu_in, bore_in=bore_in, stroke_in=stroke_in, cylinders=cylinders)
    return displacement_disagrees(stated_cu_in, bore_in=bore_in, stroke_in=stroke_in, cylinders=cylinders)


def question_displacement_metric(
    stated_cc: float, *, bore_mm: float, stroke_mm: float, cylinders: int
) -> Question | None:
    """The same for an engine given in millimetres and cubic centimetres."""
    above_zero(stated_cc=stated_cc)
    computed = displacement_cc(bore_mm=bore_mm, stroke_mm=stroke_mm, cylinders=cylinders)
    question = question_displacement(
        cu_in_of_cc(stated_cc), bore_in=bore_mm / MM_PER_IN, stroke_in=stroke_mm / MM_PER_IN, cylinders=cylinders
    )
    if question is None:
        return None
    fits = "; it would fit a rebore" if question.code == "engine_rebored" else ""
    return replace(question, message=f"Bore and stroke give {computed:.0f} cc, not the stated {stated_cc:g}{fits}.")


# Air and power


def carburettor_cfm(*, cu_in: float, rpm: float, volumetric_efficiency: float = 1.0) -> float:
    """Air a four-stroke engine draws, cubic feet a minute: cu in × rpm ÷ 3456 × volumetric efficiency.

    3456 = 1728 × 2: a cylinder fills at every second turn. The efficiency is a share, 0.85 for a usual engine
    (common practice); 1 is the engine filled entirely, and over 1.5 is taken for a percentage by mistake.
    """
    above_zero(cu_in=cu_in, rpm=rpm, volumetric_efficiency=volumetric_efficiency)
    if volumetric_efficiency > 1.5:
        raise no_figure(
            "volumetric_efficiency", volumetric_efficiency, mend="Give it as a share: 0.85, not 85 per cent."
        )
    return cu_in * rpm / (2 * CU_IN_PER_CUBIC_FOOT) * volumetric_efficiency


def horsepower(*, torque_lb_ft: float, rpm: float) -> float:
    """Power in hp from torque in lb-ft: torque × rpm ÷ 5252."""
    zero_or_more(torque_lb_ft=torque_lb_ft, rpm=rpm)
    return torque_lb_ft * rpm / TORQUE_CONSTANT


class PowerRating(StrEnum):
    """How a maker's figure was taken: bare engine, or with what it drives in the vehicle. Always stored with it."""

    GROSS = "gross"
    NET = "net"


_LAST_GROSS_YEAR, _FIRST_NET_YEAR = 1971, 1973


def question_power_rating(rating: PowerRating, *, model_year: int) -> Question | None:
    """US makers went from SAE gross to net about model year 1972 (from memory): the other kind is questioned."""
    odd = PowerRating.GROSS if model_year >= _FIRST_NET_YEAR else PowerRating.NET
    if rating != odd or _LAST_GROSS_YEAR < model_year < _FIRST_NET_YEAR:
        return None
    usual = PowerRating.NET if odd is PowerRating.GROSS else PowerRating.GROSS
    return Question(
        "power_rating",
        f"The power is given as {rating}; a US figure of model year {model_year} is usually {usual}.",
        "Check where the figure comes from; gross and net differ much and are not compared.",
    )


# Road speed


def revolutions_per_mile(diameter_in: float) -> float:
    """Turns of a free tyre in a mile: 63360 ÷ (π × diameter), in inches. A loaded one turns about 3 % more."""
    above_zero(diameter_in=diameter_in)
    return INCHES_PER_MILE / (pi * diameter_in)


def engine_rpm(mph: float, *, axle_ratio: float, tyre_rev_per_mile: float, gear_ratio: float = 1.0) -> float:
    """Engine speed at a road speed: mph ÷ 60 × turns of the tyre in a mile × axle ratio × gear ratio, without slip."""
    zero_or_more(mph=mph)
    above_zero(axle_ratio=axle_ratio, tyre_rev_per_mile=tyre_rev_per_mile, gear_ratio=gear_ratio)
    return mph / 60 * tyre_rev_per_mile * axle_ratio * gear_ratio


def road_speed_mph(rpm: float, *, axle_ratio: float, tyre_rev_per_mile: float, gear_ratio: float = 1.0) -> float:
    """Road speed at an engine speed, miles an hour: the way back of `engine_rpm`."""
    zero_or_more(rpm=rpm)
    above_zero(axle_ratio=axle_ratio, tyre_rev_per_mile=tyre_rev_per_mile, gear_ratio=gear_ratio)
    return rpm * 60 / (tyre_rev_per_mile * axle_ratio * gear_ratio)


def engine_rpm_by_diameter(mph: float, *, axle_ratio: float, tyre_diameter_in: float, gear_ratio: float = 1.0) -> float:
    """The trade's own rule: mph × axle ratio × gear ratio × 336 ÷ tyre diameter in inches; within 0.05 % of exact."""
    zero_or_more(mph=mph)
    above_zero(axle_ratio=axle_ratio, tyre_diameter_in=tyre_diameter_in, gear_ratio=gear_ratio)
    return mph * axle_ratio * gear_ratio * ROAD_CONSTANT / tyre_diameter_in


def question_road_speed(
    stated_mph: float, *, red_line_rpm: float, axle_ratio: float, tyre_rev_per_mile: float, gear_ratio: float = 1.0
) -> Question | None:
    """A top speed told that the red line, ratios and tyre cannot give, with 5 % for the tyre."""
    above_zero(stated_mph=stated_mph)
    most = road_speed_mph(
        red_line_rpm, axle_ratio=axle_ratio, tyre_rev_per_mile=tyre_rev_per_mile, gear_ratio=gear_ratio
    )
    if stated_mph <= most * (1 + SPEED_TOLERANCE):
        return None
    return Question(
        "road_speed",
        f"{stated_mph:g} mph was stated; {red_line_rpm:,.0f} rpm with an axle of {axle_ratio:g}, a gear of "
        f"{gear_ratio:g} and {tyre_rev_per_mile:.0f} tyre turns a mile give {most:.0f} mph at most.",
        "Check the axle ratio, the top gear, the tyre size and the speed.",
    )


def question_cruise(
    rpm: float, *, mph: float, axle_ratio: float, tyre_rev_per_mile: float, gear_ratio: float = 1.0
) -> Question | None:
    """An engine speed read on the road that the stated ratios and tyre do not give, either way, with 5 %."""
    above_zero(rpm=rpm, mph=mph)
    computed = engine_rpm(mph, axle_ratio=axle_ratio, tyre_rev_per_mile=tyre_rev_per_mile, gear_ratio=gear_ratio)
    if abs(rpm - computed) <= SPEED_TOLERANCE * computed:
        return None
    fitting = axle_ratio * rpm / computed
    return Question(
        "axle_ratio",
        f"{rpm:,.0f} rpm was read at {mph:g} mph; an axle of {axle_ratio:g} would give {computed:,.0f}, and what was "
        f"read fits {fitting:.2f}.",
        "Check axle ratio, tyre size and gear; a slipping clutch or converter and the instruments count too.",
    )


# Compression and vacuum


LEAST_SPREAD_PERCENT = float(LIMITS["compression_spread"].rows[0].limit)
"""The limit of the reading; other manuals accept 70 % with no cylinder under 100 psi. The lot's setting."""


@dataclass(frozen=True)
class Compression:
    """Lowest and highest pressure in psi, with the cylinders counted from 1, and lowest in percent of highest."""

    lowest_psi: float
    highest_psi: float
    lowest_cylinder: int
    percent: float


def compression(pressures_psi: Sequence[float]) -> Compression:
    """The spread of cylinder pressures, psi, in cylinder order: warm, throttle open, all plugs out, 4 to 5 strokes."""
    if len(pressures_psi) < 2:
        raise no_figure("pressures_psi", list(pressures_psi), mend="Give the pressure of two cylinders or more.")
    for pressure in pressures_psi:
        zero_or_more(pressures_psi=pressure)
    low, high = min(pressures_psi), max(pressures_psi)
    above_zero(pressures_psi=high)
    return Compression(low, high, pressures_psi.index(low) + 1, 100 * (low / high))


def question_compression(
    pressures_psi: Sequence[float], *, least_percent: float = LEAST_SPREAD_PERCENT, least_psi: float = 0
) -> Question | None:
    """A cylinder too far below the best one, or below a least pressure where the lot has set one."""
    found = compression(pressures_psi)
    zero_or_more(least_percent=least_percent, least_psi=least_psi)
    # Not by `percent`: 100 × 112.5 ÷ 150 need not be 75 to the last bit.
    least = max(least_percent * found.highest_psi / 100, least_psi)
    if found.lowest_psi >= least:
        return None
    return Question(
        "compression",
        f"Cylinder {found.lowest_cylinder} has {found.lowest_psi:g} psi, {found.percent:.0f} % of the highest, "
        f"{found.highest_psi:g}; at least {least:g} was to be expected.",
        "Repeat it warm with the throttle open and all plugs out, then a leak-down test.",
    )


VACUUM_IN_HG = (17.0, 21.0)
VACUUM_LOST_PER_1000_FT = 1.0


def idle_vacuum_in_hg(altitude_ft: float = 0) -> tuple[float, float]:
    """Usual manifold vacuum at idle, inHg, low and high: 17 to 21, about 1 less per 1,000 ft. Common practice."""
    if not isfinite(altitude_ft) or not -1500 <= altitude_ft <= 15_000:
        raise no_figure("altitude_ft", altitude_ft, mend="Give feet above the sea, -1,500 to 15,000.")
    less = VACUUM_LOST_PER_1000_FT * altitude_ft / 1000
    return VACUUM_IN_HG[0] - less, VACUUM_IN_HG[1] - less


def question_idle_vacuum(in_hg: float, *, altitude_ft: float = 0) -> Question | None:
    zero_or_more(in_hg=in_hg)
    low, high = idle_vacuum_in_hg(altitude_ft)
    if low <= in_hg <= high:
        return None
    return Question(
        "idle_vacuum",
        f"{in_hg:g} inHg at idle; {low:g} to {high:g} is usual at {altitude_ft:,.0f} ft.",
        "Check for a leak, ignition and valve timing; a sharper camshaft idles lower.",
    )
