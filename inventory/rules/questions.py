"""What a person should look at: a contradiction, or a reading beyond its limit. Told, never in the way of work."""

from collections.abc import Iterable
from dataclasses import dataclass

from inventory.rules import plausibility


@dataclass(frozen=True)
class Question:
    """Where it is, what does not agree and what would settle it, by which published section, if any.

    `stops_drives`: a safety flag on brakes, steering or tyres, for which road tests and test drives wait.
    """

    where: str
    text: str
    section: str = ""
    stops_drives: bool = False


@dataclass(frozen=True)
class Meaning:
    """What one figure says. `unread`: it stays as it was written, and the text is why it could not be read."""

    of: str
    text: str
    unread: bool = False


@dataclass(frozen=True)
class Said:
    """All that some figures say, and what they ask."""

    meanings: tuple[Meaning, ...] = ()
    questions: tuple[Question, ...] = ()

    def of(self, name: str) -> tuple[Meaning, ...]:
        return tuple(meaning for meaning in self.meanings if meaning.of == name)


def asked(*found: plausibility.Question | None, where: str, section: str = "") -> list[Question]:
    """The contradictions that were found, each with its place."""
    return [Question(where, f"{one.message} {one.mend}".strip(), section) for one in found if one is not None]


def gravest_first(questions: Iterable[Question]) -> tuple[Question, ...]:
    """What stops drives, then the rest, each in the order it was found."""
    return tuple(sorted(questions, key=lambda question: not question.stops_drives))
