"""Condition and originality, 0 to 100, each as an interval: what nobody verified costs width.

The weights are the lot's policy (`ScorePolicy`, versioned); the figures here are its first version
(common practice, no source).
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from inventory.errors import Refused
from inventory.rules.stations import CHECKS, COMPONENTS
from inventory.rules.words import Basis, Standing, Verdict

TENTH = Decimal("0.1")
TOP = Decimal(100)

FIRST_POLICY: dict[str, dict[str, int]] = {
    "checks": {code: check.weight for code, check in CHECKS.items()},
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


def condition(found: Iterable[Graded], *, policy: Mapping[str, Mapping[str, int]]) -> Interval | None:
    """Weighted mean of grade ÷ 4 × 100 over all checks of the policy, as an interval.

    A check that is not seen, or was never reached, counts as anything from 0 to 100. *Deleted on purpose*
    and *not fitted when new* are no faults: they leave the weighing. None when nothing at all was graded.
    """
    by_code = {row.code: row for row in found}
    if not any(row.verdict == Verdict.GRADED for row in by_code.values()):
        return None
    spans = []
    for code, weight in policy["checks"].items():
        row = by_code.get(code)
        if row is None or row.verdict == Verdict.NOT_SEEN:
            spans.append((weight, Decimal(0), TOP))
        elif row.verdict == Verdict.GRADED and row.grade is not None:
            spans.append((weight, *_around(Decimal(row.grade) * 25, slack=policy["slack"][row.basis])))
    return _weighted(spans)


def originality(ledger: Iterable[Stood], *, policy: Mapping[str, Mapping[str, int]]) -> Interval | None:
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
