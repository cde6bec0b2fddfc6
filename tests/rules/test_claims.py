"""What a typed sentence may claim: labelled sentences of our own, each with what a careful reader would say."""

from dataclasses import replace

import pytest

from inventory.rules.claims import objections_in, objections_to
from inventory.rules.listing import described
from inventory.rules.listing_record import CheckSaid, Section, Sentence
from inventory.rules.words import Basis
from tests.rules.claim_sentences import (
    ENGINE_STRONG,
    HARMLESS,
    HONEST,
    OTHER_STRONG,
    READ_ENGINE,
    TOLD_ENGINE,
)


def test_every_strong_claim_over_a_told_engine_is_objected_to() -> None:
    missed = [said for said in ENGINE_STRONG if not objections_to(said, record=TOLD_ENGINE)]
    assert not missed


def test_every_other_strong_claim_is_objected_to() -> None:
    assert not [said for said in OTHER_STRONG if not objections_to(said, record=TOLD_ENGINE)]


@pytest.mark.parametrize("sentences", [HONEST, HARMLESS], ids=["honest", "harmless"])
def test_honest_and_harmless_sentences_pass(sentences: tuple[str, ...]) -> None:
    wrong = [(said, one.message) for said in sentences for one in objections_to(said, record=TOLD_ENGINE)]
    assert not wrong


def test_offered_wording_is_not_objected_to_again() -> None:
    offered = [one.mended for said in ENGINE_STRONG + OTHER_STRONG for one in objections_to(said, record=TOLD_ENGINE)]
    assert sum(map(bool, offered)) > 25
    assert not [said for said in offered if said and objections_to(said, record=TOLD_ENGINE)]


def test_objection_names_sentence_subject_basis_and_mend() -> None:
    (said,) = objections_to("Born with this engine.", record=TOLD_ENGINE)
    assert (said.sentence, said.subject, said.basis) == ("Born with this engine.", "the engine block", Basis.TOLD)
    assert said.mended == "The owner reports: Born with this engine."
    assert "on record it is told by the consignor" in said.message


def test_engine_whose_number_was_read_may_be_called_what_it_is() -> None:
    for said in ("Born with this engine.", "The engine's numbers match.", "Original engine."):
        assert not objections_to(said, record=READ_ENGINE), said


def test_curly_quotes_and_capitals_hide_no_claim() -> None:
    assert objections_to("IT’S NUMBERS‑MATCHING", record=TOLD_ENGINE)


def test_rust_may_be_denied_only_when_every_check_of_it_was_seen_without_fault() -> None:
    codes = ("left_side.rocker", "right_side.rocker", "underside.floors")
    seen = tuple(CheckSaid(code=code, verdict="graded", grade=4, basis="seen") for code in codes)
    record = replace(TOLD_ENGINE, asked=frozenset(codes), checks=seen)
    assert not objections_to("No rust.", record=record)
    (unseen,) = objections_to("No rust.", record=replace(record, checks=seen[:2]))
    assert unseen.mended == "No fault was found when we looked at the left rocker and the right rocker."


def test_fault_left_out_of_the_description_stands_against_publishing() -> None:
    draft = described(TOLD_ENGINE)
    whole = objections_in(draft, draft=draft, record=TOLD_ENGINE)
    short = tuple(section for section in draft if section.code != "faults")
    (missing,) = objections_in(short, draft=draft, record=TOLD_ENGINE)
    assert (whole, missing["section"]) == ([], "faults")
    assert "Rusted through at the rear" in missing["mended"]


def test_objections_are_told_with_their_section() -> None:
    section = Section("opening", "What it is", (Sentence("Rust-free. Mint.", "", "typed", edited=True),))
    found = objections_in([section], draft=(), record=TOLD_ENGINE)
    assert [(one["section"], one["sentence"]) for one in found] == [("opening", "Rust-free."), ("opening", "Mint.")]


def test_what_the_record_writes_itself_is_not_questioned_and_typed_anew_it_is() -> None:
    """Typed words are heard with less care than the record writes its own: its own need no hearing."""
    section = Section("opening", "What it is", (Sentence("Rust-free. Mint.", "seen", "check.body"),))
    assert objections_in([section], draft=[section], record=TOLD_ENGINE) == []
    assert len(objections_in([section], draft=(), record=TOLD_ENGINE)) == 2
