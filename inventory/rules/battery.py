"""State of charge of a lead-acid battery by its voltage at rest.

Sources disagree on the voltages by a tenth; the trade's table is the default and every function takes another.
"""

from collections.abc import Sequence
from itertools import pairwise

from inventory.rules.engine_figures import no_figure, zero_or_more
from inventory.rules.plausibility import Question

ChargeTable = Sequence[tuple[float, float]]

TRADE_TABLE: ChargeTable = ((12.65, 100), (12.45, 75), (12.24, 50), (12.06, 25), (11.89, 0))
"""Volts of a 12 V battery at rest and percent of charge (from memory); the lot's setting."""

FULL_TABLE: ChargeTable = ((12.66, 100), (12.45, 75), (12.30, 50), (12.15, 25))
"""Another published table, which gives no figure for flat."""

WIDE_TABLE: ChargeTable = ((12.60, 100), (11.95, 25), (11.85, 0))
"""A third, with only three points."""

CELLS = {6: 3, 12: 6}
AT_REST_TOLERANCE = 0.05
"""More than 5 % above full is no battery at rest: our choice, to catch a charger or the wrong system."""


def state_of_charge(volts: float, *, system_volts: int = 12, table: ChargeTable = TRADE_TABLE) -> float:
    """Percent of charge, 0 to 100, of a battery at rest, not within hours of charging.

    Between the points of the table it is read along a straight line (our choice); beyond them, the end of the
    table. A 6 V battery has half the voltage. `table` is for 12 V, from full to flat.
    """
    zero_or_more(volts=volts)
    points = _points(table)
    at_12 = volts * CELLS[12] / _cells(system_volts)
    if at_12 >= points[0][0]:
        return points[0][1]
    for (upper, more), (lower, less) in pairwise(points):
        if at_12 >= lower:
            return less + (more - less) * (at_12 - lower) / (upper - lower)
    return points[-1][1]


def volts_of_gravity(specific_gravity: float, *, system_volts: int = 12) -> float:
    """Voltage at rest of a charge tested by its acid: cells × (specific gravity + 0.845), about."""
    if not 1.0 <= specific_gravity <= 1.4:
        raise no_figure("specific_gravity", specific_gravity, mend="Give it as read, 1.000 to 1.400.")
    return _cells(system_volts) * (specific_gravity + 0.845)


def question_battery(volts: float, *, system_volts: int = 12, table: ChargeTable = TRADE_TABLE) -> Question | None:
    """A voltage that a battery of this system does not hold at rest."""
    zero_or_more(volts=volts)
    full_12 = _points(table)[0][0]
    full = full_12 * _cells(system_volts) / CELLS[12]
    if volts > full * (1 + AT_REST_TOLERANCE):
        return Question(
            "battery_volts",
            f"{volts:g} V is more than a {system_volts} V battery holds at rest, about {full:.2f}.",
            "Read it again hours after charging, engine off; or is it another system?",
        )
    if system_volts == 12 and 0 < volts <= full_12 / 2 * (1 + AT_REST_TOLERANCE):
        return Question(
            "battery_volts",
            f"{volts:g} V is what a 6 V battery holds; the system is given as 12 V.",
            "Look at the battery and the regulator; a 12 V battery this low is spent.",
        )
    return None


def _cells(system_volts: int) -> int:
    if system_volts not in CELLS:
        raise no_figure("system_volts", system_volts, mend="Give 6 or 12.")
    return CELLS[system_volts]


def _points(table: ChargeTable) -> ChargeTable:
    falling = all(upper > lower and more > less for (upper, more), (lower, less) in pairwise(table))
    if len(table) < 2 or not falling:
        raise no_figure("table", list(table), mend="Give two points or more, volts and percent falling together.")
    return table
