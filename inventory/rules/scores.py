"""Condition and originality, 0 to 100, each as an interval: what nobody verified costs width.

The weights are the lot's policy (`ScorePolicy`, versioned); the figures here are its first version
(common practice, no source).
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from enum import StrEnum
from typing import Any

from inventory.errors import Refused
from inventory.rules.catalogue import CHECKS
from inventory.rules.components import COMPONENTS
from inventory.rules.words import Basis, Fitting, Standing, Verdict

TENTH = Decimal("0.1")
TOP = Decimal(100)
_ENDS = ("low", "high")
OWN_PARTS = ("checks", "components", "standings", "modified", "slack", "caps")  # what a lot may set; the rest is ours

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
    # points a component keeps at most once it was changed: what is bolted on can be taken off again
    "modified": {Fitting.BOLT_ON: 25, Fitting.CUT_OR_WELDED: 0},
    # a component that a vehicle known to lack all of these features never had: it leaves the weighing
    "lacking": {component.code: sorted(component.belongs_to) for component in COMPONENTS if component.belongs_to},
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
class Changed:
    """What one modification says of one component: code, fitting, basis."""

    code: str
    fitting: str
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
    NOT_ESTABLISHED = "not established"
    MODIFIED = "modified"


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

    @property
    def sums(self) -> Interval:
        """Weight × points over all lines, at each end: over `weight` it is the mean."""
        low, high = (sum((line.weight * getattr(line, end) for line in self.lines), Decimal(0)) for end in _ENDS)
        return Interval(low, high)

    def share(self, line: ScoreLine) -> Decimal:
        """The line's part of the whole weight, percent."""
        return (TOP * line.weight / self.weight).quantize(TENTH, ROUND_HALF_UP)

    def makes(self, line: ScoreLine) -> Decimal:
        """Points of the mean's width that this line alone makes: what would be gained by knowing it exactly."""
        return (line.width / self.weight).quantize(TENTH, ROUND_HALF_UP)


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
        if part in OWN_PARTS:
            fresh[part] = {key: (own or {}).get(key, figure) for key, figure in first.items()}
        else:
            fresh[part] = first
    return fresh


def originality(
    ledger: Iterable[Stood],
    *,
    policy: Mapping[str, Any],
    absent: Collection[str] = (),
    changed: Iterable[Changed] = (),
) -> Interval | None:
    """The interval of `opened_originality` without its lines."""
    opened = opened_originality(ledger, policy=policy, absent=absent, changed=changed)
    return opened.interval if opened else None


def opened_originality(
    ledger: Iterable[Stood],
    *,
    policy: Mapping[str, Any],
    absent: Collection[str] = (),
    changed: Iterable[Changed] = (),
) -> Opened | None:
    """Weighted mean of the standings over all components of the policy, as an interval.

    A component without a line, or whose standing is not established, counts as anything from 0 to 100, unless a
    modification says something of it (`modified_span`). A component that the vehicle never had (`absent`) leaves the
    weighing. None when nothing was established of any component.
    """
    by_code = {row.code: row for row in ledger}
    changes: dict[str, list[Changed]] = {}
    for change in changed if "modified" in policy else ():
        changes.setdefault(change.code, []).append(change)
    lines = []
    for code, weight in policy["components"].items():
        if code in absent:
            continue
        row = by_code.get(code)
        stood = row is not None and row.standing != Standing.NOT_ESTABLISHED
        span = modified_span(row if stood else None, changes.get(code, ()), policy=policy)
        lines.append(ScoreLine(code, weight, *span, _stood_why(stood=stood, changed=code in changes, row=row)))
    mean = _mean(lines)
    known = any(line.why in {LineReason.ANSWERED, LineReason.MODIFIED} for line in lines)
    return Opened(mean, tuple(lines), mean) if known and mean is not None else None


def never_had(policy: Mapping[str, Any], *, lacks: Collection[str], said: Collection[str]) -> set[str]:
    """Components that a vehicle known to lack what they belong to never had.

    One that a line of the ledger or a modification says something of (`said`) is weighed as said: somebody saw it.
    Policies without the key `lacking` take none out.
    """
    return {
        code
        for code, features in policy.get("lacking", {}).items()
        if code not in said and features and set(features) <= set(lacks)
    }


def _stood_why(*, stood: bool, changed: bool, row: Stood | None) -> LineReason:
    if stood:
        return LineReason.ANSWERED
    if changed:
        return LineReason.MODIFIED
    return LineReason.NOT_REACHED if row is None else LineReason.NOT_ESTABLISHED


def modified_span(
    row: Stood | None, changes: Sequence[Changed], *, policy: Mapping[str, Any]
) -> tuple[Decimal, Decimal]:
    """The points of one component, low and high, from its line of the ledger and from what modifications changed.

    A modification says that the part is not as it left the factory, and by its fitting how far that can be undone: the
    worst counts, at each end. A line that says *non-original* or *missing* is brought down to it, and never raised by
    it. Any other standing is what somebody established of this very part, and stands. Without a line, the part has at
    most the points of the modification, and at least those of a *non-original* line on the same basis: so that writing
    that line afterwards only narrows.
    """
    if row is not None:
        span = _standing_span(row.standing, basis=row.basis, policy=policy)
        if row.standing not in {Standing.NON_ORIGINAL, Standing.MISSING}:
            return span
        return _worst([span, *(_changed_span(change, policy=policy) for change in changes)])
    if not changes:
        return Decimal(0), TOP
    low, high = _worst([_changed_span(change, policy=policy) for change in changes])
    assumed = [_standing_span(Standing.NON_ORIGINAL, basis=change.basis, policy=policy)[0] for change in changes]
    return min(low, *assumed), high


def _standing_span(standing: str, *, basis: str, policy: Mapping[str, Any]) -> tuple[Decimal, Decimal]:
    return _around(Decimal(policy["standings"][standing]), slack=policy["slack"][basis])


def _changed_span(change: Changed, *, policy: Mapping[str, Any]) -> tuple[Decimal, Decimal]:
    return _around(Decimal(policy["modified"][change.fitting]), slack=policy["slack"][change.basis])


def _worst(spans: Sequence[tuple[Decimal, Decimal]]) -> tuple[Decimal, Decimal]:
    """The lower of the low ends, the lower of the high ends."""
    return min(low for low, _ in spans), min(high for _, high in spans)


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
