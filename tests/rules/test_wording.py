"""No published sentence is stronger than its basis, and every log entry has words."""

import pytest

from inventory.rules.modifications import kind_of
from inventory.rules.wording import BY_BASIS, LOG_SENTENCES, log_sentence, part_name, statement
from inventory.rules.words import Basis, ModificationKind


@pytest.mark.parametrize(
    ("basis", "sentence"),
    [
        (Basis.MEASURED, "310 cubic inch V8."),
        (Basis.SEEN, "310 cubic inch V8."),
        (Basis.DOCUMENTED, "310 cubic inch V8, per the papers or plate."),
        (Basis.TOLD, "The owner reports: 310 cubic inch V8."),
        (Basis.PRESUMED, "Believed to be: 310 cubic inch V8."),
        (Basis.NOT_ESTABLISHED, "Not established: 310 cubic inch V8."),
    ],
)
def test_sentence_is_worded_by_its_basis(basis: Basis, sentence: str) -> None:
    assert statement("310 cubic inch V8.", basis=basis) == sentence


def test_every_basis_has_its_words() -> None:
    assert set(BY_BASIS) == set(Basis.values)


def test_log_sentence_takes_what_is_there() -> None:
    assert log_sentence("ask.set", data={"amount": "$36,900.00", "because": ""}) == "set the ask to $36,900.00"
    assert log_sentence("ask.set", data={}) == "set the ask to "
    with pytest.raises(KeyError):
        log_sentence("nothing.known", data={})


def test_log_sentences_are_plain() -> None:
    assert all(sentence and sentence[-1] not in ".!" for sentence in LOG_SENTENCES.values())


@pytest.mark.parametrize(
    ("name", "shown"),
    [("base", "A typical sale of the lot"), ("mods_brakes", "Modifications: brakes"), ("drive_line", "Drive line")],
)
def test_parts_have_names_for_people(name: str, shown: str) -> None:
    assert part_name(name) == shown


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("brakes", ModificationKind.BRAKES),
        ("Front disc conversion", ModificationKind.BRAKES),
        ("Overdrive gearbox", ModificationKind.TRANSMISSION),
        ("lowered springs", ModificationKind.SUSPENSION),
        ("Crate engine", ModificationKind.ENGINE),
        ("respray in bronze", ModificationKind.PAINT),
        ("lucky charm", ModificationKind.OTHER),
    ],
)
def test_kind_of_a_modification_in_a_sheets_words(text: str, kind: ModificationKind) -> None:
    assert kind_of(text) == kind
