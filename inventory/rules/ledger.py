"""What contradicts itself in a component ledger: told at the top of it, never blocking."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from inventory.rules.components import advice
from inventory.rules.date_codes import DateSpan, Finding, compare
from inventory.rules.words import Judgement, Standing

# Whoever says one of these does not say that the part came with the vehicle: its date asks nothing.
FITTED_LATER = frozenset(
    {
        Standing.SERVICE_REPLACEMENT,
        Standing.PERIOD_CORRECT,
        Standing.REPRODUCTION,
        Standing.NON_ORIGINAL,
        Standing.MISSING,
    }
)
ASKED = frozenset({Judgement.NOT_FACTORY, Judgement.ASK, Judgement.QUESTION})


@dataclass(frozen=True, kw_only=True)
class Said:
    """One line of the ledger: what the component is called, its standing, and when the part was made."""

    code: str
    title: str
    standing: str
    made: DateSpan | None = None


@dataclass(frozen=True)
class Disagreements:
    contradictions: tuple[str, ...]
    questions: tuple[str, ...]


def judged(made: DateSpan | None, *, build: DateSpan | None) -> Finding | None:
    """What the date of one part says, where both dates are known."""
    return compare(made, build) if made is not None and build is not None else None


def disagreements(
    lines: Iterable[Said], *, build: DateSpan | None, changed: Mapping[str, Sequence[str]]
) -> Disagreements:
    """Contradictions and questions of a ledger. `changed` holds, by component, what modifications say of it.

    An *original* part that cannot have been fitted at the factory, or that a modification changed, contradicts itself.
    Other doubtful dates are questions, but only of parts that may have come with the vehicle.
    """
    contradictions, questions = [], []
    for line in lines:
        finding = judged(line.made, build=build)
        if line.standing == Standing.ORIGINAL:
            contradictions += [
                f"{line.title}: recorded as original, yet a modification changed it (“{what}”)."
                for what in changed.get(line.code, ())
            ]
        if finding is None or line.standing in FITTED_LATER:
            continue
        said = f"{finding.message} {finding.mend}"
        if finding.judgement == Judgement.NOT_FACTORY and line.standing == Standing.ORIGINAL:
            contradictions.append(f"{line.title}: recorded as original. {said}")
        elif finding.judgement in ASKED:
            questions.append(f"{line.title}: {said}")
    return Disagreements(tuple(contradictions), tuple(questions))


def notes(component: str, *, standing: str, basis: str, number: str, finding: Finding | None) -> list[str]:
    """What to tell whoever just wrote a line. Nothing of it blocks."""
    said = []
    if finding is not None:
        as_original = finding.judgement == Judgement.NOT_FACTORY and standing == Standing.ORIGINAL
        recorded = "Recorded as original, and shown as a contradiction. " if as_original else ""
        said.append(f"{recorded}{finding.message} {finding.mend}".strip())
    if told := advice(component, basis=basis, number=number):
        said.append(told)
    return said
