"""The sentences that open a figure up: what was found of each line, what holds an end down, how to do it again."""

from inventory.rules.scores import Graded, LineReason, ScoreLine, Stood
from inventory.rules.words import Basis, Grade, Standing, Verdict

UNKNOWN = {
    LineReason.NOT_SEEN: "not seen",
    LineReason.NOT_REACHED: "not looked at",
    LineReason.NOT_ESTABLISHED: "not established",
}


def check_said(row: Graded | None) -> str:
    """What one check found, as a part of a sentence."""
    if row is None:
        return UNKNOWN[LineReason.NOT_REACHED]
    if row.grade is None:
        return str(Verdict(row.verdict).label)
    return f"graded {row.grade}, {Grade(row.grade).label} ({Basis(row.basis).label})"


def stood_said(row: Stood | None, *, changed: str = "") -> str:
    """What is said of one component: by its line, by what changed it, or by neither."""
    told = []
    if row is not None:
        known = row.standing != Standing.NOT_ESTABLISHED
        told.append(f"{Standing(row.standing).label} ({Basis(row.basis).label})" if known else "not established")
    if changed:
        told.append(f"changed: {changed}")
    return "; ".join(told) or "nothing said"


def held_said(cap: tuple[str, int], *, wording: str, row: Graded | None, line: ScoreLine, ends: tuple[str, ...]) -> str:
    """Why an end of the condition is no higher: “Both ends are held at 55 at most: Left rocker is graded 1.”"""
    what = "Both ends are" if len(ends) == 2 else f"The {ends[0]} end is"
    worst = int((line.low if "low" in ends else line.high) // 25)
    found = check_said(row)
    doubtful = row is None or row.grade is None or row.grade != worst
    verb = "was" if row is None or row.grade is None else "is"
    may_be = f", so it may be as bad as grade {worst}" if doubtful else ""
    return f"{what} held at {cap[1]} at most, since “{wording}” carries the vehicle and {verb} {found}{may_be}."
