"""What became of one check between two inspections."""

from django.db.models import TextChoices

from inventory.rules.walk import Answered
from inventory.rules.words import Verdict


class Turn(TextChoices):
    """In the order in which a reader wants them."""

    WORSE = "worse", "worse"
    BETTER = "better", "better"
    NEWLY_SEEN = "newly_seen", "newly seen"
    NO_LONGER_SEEN = "no_longer_seen", "no longer seen"
    OTHERWISE = "otherwise", "answered otherwise"
    READING = "reading", "read otherwise"
    BASIS = "basis", "rests on something else"


def turn_of(before: Answered | None, after: Answered | None) -> Turn | None:
    """How the second answer differs from the first; None where it says the same.

    No answer and *not seen* are the same: nobody looked. *Deleted on purpose* and *not fitted when new* are answers
    without a grade, and neither better nor worse than one.
    """
    was, now = _seen(before), _seen(after)
    if was is None or now is None:
        return None if was is now else Turn.NEWLY_SEEN if was is None else Turn.NO_LONGER_SEEN
    if was.grade is not None and now.grade is not None and was.grade != now.grade:
        return Turn.BETTER if now.grade > was.grade else Turn.WORSE
    if was.verdict != now.verdict:
        return Turn.OTHERWISE
    if was.reading != now.reading:
        return Turn.READING
    return None if was.basis == now.basis else Turn.BASIS


def _seen(answer: Answered | None) -> Answered | None:
    return None if answer is None or answer.verdict == Verdict.NOT_SEEN else answer
