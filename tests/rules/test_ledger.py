"""What contradicts itself in a ledger is told; what nobody claims is not asked."""

from datetime import date

import pytest

from inventory.rules.components import EMBLEM_TOLD
from inventory.rules.date_codes import DateSpan, compare
from inventory.rules.ledger import FITTED_LATER, Said, disagreements, notes
from inventory.rules.words import Basis, Standing

BUILD = DateSpan(earliest=date(1967, 5, 1), latest=date(1967, 5, 31), basis=Basis.SEEN)
LATER = DateSpan(earliest=date(1967, 6, 1), latest=date(1967, 6, 1), basis=Basis.MEASURED)
OLD = DateSpan(earliest=date(1965, 1, 10), latest=date(1965, 1, 10), basis=Basis.MEASURED)


def said(standing: str, made: DateSpan | None = None) -> Said:
    return Said(code="heads", title="Cylinder heads", standing=standing, made=made)


def test_original_part_of_after_the_build_is_a_contradiction() -> None:
    found = disagreements([said(Standing.ORIGINAL, LATER)], build=BUILD, changed={})
    assert found.questions == ()
    (told,) = found.contradictions
    assert told.startswith("Cylinder heads: recorded as original. It cannot have been fitted at the factory.")


@pytest.mark.parametrize("made", [LATER, OLD])
def test_part_whose_standing_is_open_is_a_question(made: DateSpan) -> None:
    found = disagreements([said(Standing.NOT_ESTABLISHED, made)], build=BUILD, changed={})
    assert (found.contradictions, len(found.questions)) == ((), 1)


def test_original_part_of_long_before_is_a_question() -> None:
    found = disagreements([said(Standing.ORIGINAL, OLD)], build=BUILD, changed={})
    assert (found.contradictions, len(found.questions)) == ((), 1)


@pytest.mark.parametrize("standing", sorted(FITTED_LATER))
def test_part_said_to_be_fitted_later_is_not_asked_for_its_date(standing: str) -> None:
    found = disagreements([said(standing, LATER), said(standing, OLD)], build=BUILD, changed={"heads": ["ported"]})
    assert (found.contradictions, found.questions) == ((), ())


def test_without_a_build_date_nothing_is_judged() -> None:
    found = disagreements([said(Standing.ORIGINAL, LATER)], build=None, changed={})
    assert (found.contradictions, found.questions) == ((), ())


def test_original_part_that_was_changed_is_a_contradiction_for_each_change() -> None:
    found = disagreements([said(Standing.ORIGINAL)], build=None, changed={"heads": ["ported", "larger valves"]})
    assert [("ported" in told, "larger valves" in told) for told in found.contradictions] == [
        (True, False),
        (False, True),
    ]


def test_notes_tell_the_date_and_the_emblem() -> None:
    finding = compare(LATER, BUILD)
    told = notes("engine", standing=Standing.ORIGINAL, basis=Basis.SEEN, number="", finding=finding)
    assert told[0].startswith("Recorded as original, and shown as a contradiction. It cannot have been")
    assert told[1] == EMBLEM_TOLD
    other = notes("engine", standing=Standing.NON_ORIGINAL, basis=Basis.MEASURED, number="", finding=finding)
    assert other == [f"{finding.message} {finding.mend}"]
    assert notes("heads", standing=Standing.ORIGINAL, basis=Basis.SEEN, number="", finding=None) == []
