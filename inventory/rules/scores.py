"""Condition and originality, 0 to 100, each as an interval: what nobody verified costs width.

The weights are the lot's policy (`ScorePolicy`, versioned); the figures here are its first version
(common practice, no source).
"""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from enum import StrEnum
from typing import Any

from inventory.errors import Refused
from inventory.rules.catalogue import CHECKS
from inventory.rules.components import COMPONENTS
from inventory.rules.words import Basis, Standing, Verdict

TENTH = Decimal("0.1")
TOP = Decimal(100)

FIRST_POLICY: dict[str, Any] = {
    "checks": {code: check.weight for code, check in CHECKS.items()},
    # what carries the vehicle, and the most its condition may be when that has this grade
    "structural": [code for code, check in CHECKS.items() if check.structural],
    "caps": {"0": 35, "1": 55, "2": 80},
    "components": {component.code: component.weight for component in COMPONENTS},
    "standings": {
        Standing.ORIGINAL: 100,
        Standing.SERVICE_REPLACEMENT: 75,
        Standing.PERIOD_CORRECT: 65,
        Standing.REPRODUCTION: 45,
        Standing.NON_ORIGINAL: 5,
        Standing.MISSING: 0,
    },
    # points by which a statement may be wrong either way, by what it rests on
    "slack": {
        Basis.MEASURED: 0,
        Basis.SEEN: 0,
        Basis.DOCUMENTED: 8,
        Basis.TOLD: 20,
        Basis.PRESUMED: 30,
        Basis.NOT_ESTABLISHED: 100,
    },
}


@dataclass(frozen=True)
class Interval:
    low: Decimal
    high: Decimal

    @property
    def middle(self) -> Decimal:
        return ((self.low + self.high) / 2).quantize(TENTH, rounding=ROUND_HALF_UP)

    @property
    def width(self) -> Decimal:
        return self.high - self.low


@dataclass(frozen=True)
class Graded:
    """One check as it was left: code, verdict, grade where graded, basis."""

    code: str
    verdict: str
    grade: int | None
    basis: str


@dataclass(frozen=True)
class Stood:
    """One line of the component ledger: code, standing, basis."""

    code: str
    standing: str
    basis: str


@dataclass(frozen=True)
class ScoreLine:
    """What one check or component brings into its figure: its weight, and the points it may have."""

    code: str
    weight: int
    low: Decimal
    high: Decimal
    why: str  # a word of `LineReason`

    @property
    def width(self) -> Decimal:
        """How much of the figure's width, in weighted points, this line alone makes."""
        return self.weight * (self.high - self.low)


class LineReason(StrEnum):
    ANSWERED = "answered"
    NOT_SEEN = "not seen"
    NOT_REACHED = "not looked at"


@dataclass(frozen=True)
class Opened:
    """A figure with the lines that made it. A cap names the structural check that holds an end down."""

    interval: Interval
    lines: tuple[ScoreLine, ...]
    mean: Interval  # before any cap
    low_cap: tuple[str, int] | None = None
    high_cap: tuple[str, int] | None = None

    @property
    def weight(self) -> int:
        return sum(line.weight for line in self.lines)


def condition(
    found: Iterable[Graded], *, policy: Mapping[str, Any], asked: Collection[str] | None = None
) -> Interval | None:
    """The interval of `opened_condition` without its lines."""
    opened = opened_condition(found, policy=policy, asked=asked)
    return opened.interval if opened else None


def opened_condition(
    found: Iterable[Graded], *, policy: Mapping[str, Any], asked: Collection[str] | None = None
) -> Opened | None:
    """Weighted mean of grade ÷ 4 × 100 over the checks that were `asked` (None: all of the policy), as an interval.

    A check that is not seen, or was never reached, counts as anything from 0 to 100. *Deleted on purpose*
    and *not fitted when new* are no faults: they leave the weighing. What carries the vehicle (`structural`) caps
    the whole: the low end by the worst it may be, the high end by the best. None when nothing at all was graded.
    """
    by_code = {row.code: row for row in found}
    lines = [
        line
        for code, weight in policy["checks"].items()
        if (asked is None or code in asked) and (line := _check_line(code, weight, by_code.get(code), policy=policy))
    ]
    graded = any(row.verdict == Verdict.GRADED for row in by_code.values() if asked is None or row.code in asked)
    mean = _mean(lines)
    if not graded or mean is None:
        return None
    carrying = [line for line in lines if line.code in policy.get("structural", ())]
    low_cap = _cap(carrying, low=True, caps=policy.get("caps", {}))
    high_cap = _cap(carrying, low=False, caps=policy.get("caps", {}))
    interval = Interval(_capped(mean.low, low_cap), _capped(mean.high, high_cap))
    return Opened(
        interval,
        tuple(lines),
        mean,
        low_cap if interval.low < mean.low else None,
        high_cap if interval.high < mean.high else None,
    )


def _check_line(code: str, weight: int, row: Graded | None, *, policy: Mapping[str, Any]) -> ScoreLine | None:
    if row is None:
        return ScoreLine(code, weight, Decimal(0), TOP, LineReason.NOT_REACHED)
    if row.verdict == Verdict.NOT_SEEN:
        return ScoreLine(code, weight, Decimal(0), TOP, LineReason.NOT_SEEN)
    if row.grade is None:
        return None  # deleted on purpose, or not fitted when new
    low, high = _around(Decimal(row.grade) * 25, slack=policy["slack"][row.basis])
    return ScoreLine(code, weight, low, high, LineReason.ANSWERED)


def _cap(carrying: list[ScoreLine], *, low: bool, caps: Mapping[str, int]) -> tuple[str, int] | None:
    """The lowest cap: points of a structural check, in whole grades rounded down, name the most that is left."""
    held = [(caps[grade], line.code) for line in carrying if (grade := _whole_grade(line, low=low)) in caps]
    if not held:
        return None
    cap, code = min(held)
    return code, cap


def _whole_grade(line: ScoreLine, *, low: bool) -> str:
    return str(int((line.low if low else line.high) // 25))


def _capped(end: Decimal, cap: tuple[str, int] | None) -> Decimal:
    return end if cap is None else min(end, Decimal(cap[1]).quantize(TENTH))


def renewed(weights: Mapping[str, Any]) -> dict[str, Any]:
    """A lot's weights brought to the catalogue of today: its own figures kept, the house's where it has none."""
    fresh: dict[str, Any] = {}
    for part, first in FIRST_POLICY.items():
        own = weights.get(part)
        if isinstance(first, dict):
            fresh[part] = {key: (own or {}).get(key, figure) for key, figure in first.items()}
        else:
            fresh[part] = first
    return fresh


def originality(ledger: Iterable[Stood], *, policy: Mapping[str, Any]) -> Interval | None:
    """Weighted mean of the standings over all components of the policy, as an interval.

    A component without a line, or whose standing is not established, counts as anything from 0 to 100.
    None when no component's standing was established.
    """
    by_code = {row.code: row for row in ledger}
    if not any(row.standing != Standing.NOT_ESTABLISHED for row in by_code.values()):
        return None
    spans = []
    for code, weight in policy["components"].items():
        row = by_code.get(code)
        if row is None or row.standing == Standing.NOT_ESTABLISHED:
            spans.append((weight, Decimal(0), TOP))
        else:
            points = Decimal(policy["standings"][row.standing])
            spans.append((weight, *_around(points, slack=policy["slack"][row.basis])))
    return _weighted(spans)


def _around(points: Decimal, *, slack: int) -> tuple[Decimal, Decimal]:
    return max(Decimal(0), points - slack), min(TOP, points + slack)


def _mean(lines: Iterable[ScoreLine]) -> Interval | None:
    return _weighted([(line.weight, line.low, line.high) for line in lines])


def _weighted(spans: list[tuple[int, Decimal, Decimal]]) -> Interval | None:
    weight = sum(span[0] for span in spans)
    if not weight:
        return None
    low = sum((span[0] * span[1] for span in spans), Decimal(0)) / weight
    high = sum((span[0] * span[2] for span in spans), Decimal(0)) / weight
    return Interval(low.quantize(TENTH, ROUND_HALF_UP), high.quantize(TENTH, ROUND_HALF_UP))


def check_interval(low: Any, high: Any, *, field: str) -> Interval:
    """An interval given by a person: both ends from 0 to 100, low not above high."""
    ends = []
    for name, end in (("low", low), ("high", high)):
        if end is None or not Decimal(0) <= Decimal(end) <= TOP:
            raise Refused(
                "out_of_range",
                f"{field} {name} is {end}.",
                field=f"{field}_{name}",
                got=end,
                mend="Give a number from 0 to 100.",
            )
        ends.append(Decimal(end).quantize(TENTH, ROUND_HALF_UP))
    if ends[0] > ends[1]:
        raise Refused(
            "low_above_high",
            f"{field} runs from {ends[0]} to {ends[1]}.",
            field=f"{field}_low",
            got=str(ends[0]),
            mend="The low end may not be above the high end.",
        )
    return Interval(ends[0], ends[1])
