"""The weights of condition and originality that the owner may set: what each may be, and in what order they stand."""

import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from inventory.errors import Refused
from inventory.rules.catalogue import CHECKS, EARLIER
from inventory.rules.components import ALL_TITLES, COMPONENTS
from inventory.rules.scores import FIRST_POLICY, OWN_PARTS
from inventory.rules.words import Basis, Fitting, Grade, Standing


@dataclass(frozen=True)
class Part:
    """One kind of weights: what it is called, the titles of its lines, and the range of each."""

    code: str
    title: str
    means: str  # what a figure of it does
    titles: Mapping[str, str]  # by code, lowest first where `rises`
    most: int
    figures: tuple[str, ...]  # which of the two it moves
    rises: str = ""  # why a line may not be below the one before it; "": they have no order
    must_weigh: bool = False  # at least one line is above 0


_CONDITION, _ORIGINALITY = ("condition",), ("originality",)
# The ranges are the house's choice: wide enough for any lot's custom, narrow enough to catch a slip of the finger.
PARTS: dict[str, Part] = {
    part.code: part
    for part in (
        Part(
            "checks", "Checks", "What each check weighs in the condition.",
            {code: check.wording for code, check in CHECKS.items()}, 20, _CONDITION, must_weigh=True,
        ),
        Part(
            "components", "Components", "What each component weighs in the originality.",
            {component.code: component.title for component in COMPONENTS}, 40, _ORIGINALITY, must_weigh=True,
        ),
        Part(
            "standings", "Standings", "The points of a component by its standing.",
            {
                str(standing.value): str(standing.label).capitalize()
                for standing in (
                    Standing.MISSING, Standing.NON_ORIGINAL, Standing.REPRODUCTION, Standing.PERIOD_CORRECT,
                    Standing.SERVICE_REPLACEMENT, Standing.ORIGINAL,
                )
            },
            100, _ORIGINALITY, rises="A better standing may not have fewer points.",
        ),
        Part(
            "modified", "Modified components", "The most points that a component keeps once it was changed.",
            {
                str(fitting.value): str(fitting.label).capitalize()
                for fitting in (Fitting.CUT_OR_WELDED, Fitting.BOLT_ON)
            },
            100, _ORIGINALITY, rises="What can be taken off again may not count for less than what was cut.",
        ),
        Part(
            "slack", "Doubt by basis", "The points by which a statement may be wrong either way, by what it rests on.",
            {str(basis.value): str(basis.label).capitalize() for basis in Basis},
            100, _CONDITION + _ORIGINALITY, rises="What is less sure may not count as surer.",
        ),
        Part(
            "caps", "Most that is left", "The most that the condition may be when what carries the vehicle has this "
            "grade.",
            {
                str(grade.value): f"Grade {grade.value}, {grade.label}"
                for grade in (Grade.FAILED, Grade.NEEDS_REPAIR, Grade.SERVICEABLE)
            },
            100, _CONDITION, rises="A better grade may not allow less.",
        ),
    )
}  # fmt: skip

FIXED: dict[tuple[str, str], int] = {("slack", Basis.NOT_ESTABLISHED.value): 100}
"""What is not established may be anything: that is what the words say."""


def field_of(part: str, code: str) -> str:
    """What one weight is called in a form and in a refusal."""
    return f"{part}.{code}"


def title_of(part: str, code: str) -> str:
    """What one weight is about, also one that is no longer asked."""
    earlier = {"checks": {known: check.wording for known, check in EARLIER.items()}, "components": ALL_TITLES}
    return PARTS[part].titles.get(code) or earlier.get(part, {}).get(code, code)


def checked(weights: Mapping[str, Any]) -> dict[str, Any]:
    """The weights as they may be put in force, with what is the house's own; the first that will not do is told.

    Whatever is accepted here keeps two promises: a better finding lowers neither end of a figure, and what is
    established never widens it.
    """
    _same_names("", given=weights, asked=PARTS, house=FIRST_POLICY)
    own = {code: _part_checked(part, weights[code]) for code, part in PARTS.items()}
    return {part: own.get(part, house) for part, house in FIRST_POLICY.items()}


def _part_checked(part: Part, given: Mapping[str, Any]) -> dict[str, int]:
    _same_names(part.code, given=given, asked=part.titles)
    for code in part.titles:
        _in_range(part, code, given[code])
    if part.rises:
        _in_order(part, given)
    if part.must_weigh and not any(given[code] for code in part.titles):
        raise Refused(
            "nothing_weighs", f"{part.title}: all of them weigh 0.", field=field_of(part.code, next(iter(part.titles))),
            got=0, mend="Give at least one of them a weight.",
        )  # fmt: skip
    return {code: given[code] for code in FIRST_POLICY[part.code]}


def _same_names(
    part: str, *, given: Mapping[str, Any], asked: Iterable[str], house: Mapping[str, Any] | None = None
) -> None:
    wanted = set(asked)
    for name in sorted(wanted - set(given)):
        field = field_of(part, name) if part else name
        raise Refused("missing", f"There is no figure for {name}.", field=field, mend="Give all of them.")
    for name in sorted(set(given) - wanted):
        if house is None or name not in house or given[name] != house[name]:
            field = field_of(part, name) if part else name
            raise Refused("unknown", f"Nothing here is called {name}.", field=field, got=name, mend="Leave it out.")


def _in_range(part: Part, code: str, figure: Any) -> None:
    least, most = _range(part, code)
    if isinstance(figure, bool) or not isinstance(figure, int):
        problem = f"{part.titles[code]} is {figure!r}: that is no whole number."
    elif not least <= figure <= most:
        problem = f"{part.titles[code]} is {figure}."
    else:
        return
    mend = f"It is always {most}." if least == most else f"Give a whole number from {least} to {most}."
    raise Refused("out_of_range", problem, field=field_of(part.code, code), got=figure, mend=mend)


def _range(part: Part, code: str) -> tuple[int, int]:
    fixed = FIXED.get((part.code, code))
    return (0, part.most) if fixed is None else (fixed, fixed)


def _in_order(part: Part, given: Mapping[str, int]) -> None:
    for before, code in pairwise(part.titles):
        if given[code] < given[before]:
            raise Refused(
                "out_of_order",
                f"{part.titles[code]} is {given[code]}, below {given[before]} of “{part.titles[before]}”. {part.rises}",
                field=field_of(part.code, code), got=given[code],
                mend=f"Give {given[before]} or more, or lower the other.",
            )  # fmt: skip


def mark_of(weights: Mapping[str, Any]) -> str:
    """A short name of exactly these weights: what was looked at is what is put in force."""
    said = json.dumps({part: weights[part] for part in OWN_PARTS}, sort_keys=True)
    return hashlib.sha256(said.encode()).hexdigest()[:16]


@dataclass(frozen=True)
class WeightChange:
    """One weight of two versions that is not the same. None: that version did not have it."""

    part: str
    code: str
    before: int | None
    after: int | None

    @property
    def title(self) -> str:
        return title_of(self.part, self.code)

    @property
    def part_title(self) -> str:
        return PARTS[self.part].title


def changes(before: Mapping[str, Any], after: Mapping[str, Any]) -> list[WeightChange]:
    """What differs between two versions, in the order of the parts."""
    found = []
    for code, part in PARTS.items():
        was, now = before.get(code) or {}, after.get(code) or {}
        gone = sorted({*was, *now} - set(part.titles))  # a database may keep the names in another order
        found += [
            WeightChange(code, name, was.get(name), now.get(name))
            for name in (*part.titles, *gone)
            if was.get(name) != now.get(name)
        ]
    return found
