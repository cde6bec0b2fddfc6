"""One tap for many checks: what *no fault here*, *same on the other side* and *not seen* say, and leave alone."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import TextChoices

from inventory.rules.catalogue import Check
from inventory.rules.words import Basis, Grade, Verdict


class Rest(TextChoices):
    NO_FAULT = "no_fault", "No fault in what is left here"
    OTHER_SIDE = "other_side", "Same as on the other side"
    NOT_SEEN = "not_seen", "Not seen: what is left here"


@dataclass(frozen=True)
class Answered:
    """One check's answer, without who gave it."""

    verdict: str
    grade: int | None
    basis: str
    reading: Decimal | None = None


def rest_of(
    rest: str, *, asked: Iterable[Check], answered: Mapping[str, Answered], other_side: Mapping[str, Answered]
) -> dict[str, Answered]:
    """Answers for the checks of a station that have none yet; whatever the tap does not say is left out.

    *No fault* grades what eyes alone can tell: a check with a reading is left as it is. *Same as on the other side*
    repeats the grades that somebody saw there, never a reading, nor what was told or presumed. *Not seen* says of all
    the others, readings too, that nobody looked: it is no pass.
    """
    open_checks = [check for check in asked if check.code not in answered]
    if rest == Rest.NO_FAULT:
        sound = Answered(Verdict.GRADED, Grade.NO_FAULT, Basis.SEEN)
        return {check.code: sound for check in open_checks if by_eye(check)}
    if rest == Rest.NOT_SEEN:
        return {check.code: Answered(Verdict.NOT_SEEN, None, Basis.NOT_ESTABLISHED) for check in open_checks}
    return {
        check.code: Answered(twin.verdict, twin.grade, Basis.SEEN)
        for check in open_checks
        if by_eye(check) and (twin := other_side.get(check.twin)) is not None and was_seen(twin)
    }


def was_seen(answer: Answered) -> bool:
    """Whether somebody looked: what was told or presumed of one side says nothing of the other."""
    return answer.verdict != Verdict.NOT_SEEN and answer.basis in {Basis.SEEN, Basis.MEASURED}


def by_eye(check: Check) -> bool:
    """Whether looking is enough to grade it."""
    return not check.unit
