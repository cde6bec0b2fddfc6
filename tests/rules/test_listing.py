"""A description says no more than its record: every basis, every check, every standing; and each kind reads its own."""

from dataclasses import replace

import pytest

from inventory.rules import listing_words as words
from inventory.rules.catalogue import CHECKS
from inventory.rules.claims import objections_in, objections_to
from inventory.rules.components import COMPONENTS, EARLIER_COMPONENTS
from inventory.rules.listing import SECTIONS, described, order_for
from inventory.rules.listing_edit import edited, matched, read, stored, with_sections
from inventory.rules.listing_names import CHECK_NAMES, PARTS, SECTION_OF_CHECK, SECTION_OF_PART
from inventory.rules.listing_record import (
    ChangeSaid,
    Character,
    CheckSaid,
    PaperSaid,
    PartSaid,
    Record,
    Section,
    Sentence,
    character_of,
)
from inventory.rules.words import Basis, Grade, ListingTone, OdometerStatus, Standing, TitleBrand, Verdict
from tests.rules.claim_sentences import TOLD_ENGINE

# How strongly a sentence speaks, weakest first, by its own words; no basis bears more than it stands for.
ORDER = ("not established", "believed", "reported", "on paper", "stated")
MOST = {
    Basis.NOT_ESTABLISHED: "not established", Basis.PRESUMED: "believed", Basis.TOLD: "reported",
    Basis.DOCUMENTED: "on paper", Basis.SEEN: "stated", Basis.MEASURED: "stated",
}  # fmt: skip
SIGNS = (
    ("not established", ("not established", "we did not look at", "not seen:")),
    ("believed", ("believed to be", "believed to")),
    ("reported", ("owner reports",)),
    ("on paper", ("per the papers",)),
)
NEVER = (
    "numbers matching",
    "numbers-matching",
    "mint",
    "perfect",
    "rust-free",
    "flawless",
    "fully restored",
    "like new",
)


def speaks(text: str) -> str:
    plain = text.lower()
    return next((name for name, signs in SIGNS if any(sign in plain for sign in signs)), "stated")


def too_strong(text: str, *, basis: str) -> bool:
    return ORDER.index(speaks(text)) > ORDER.index(MOST[Basis(basis)]) or any(word in text.lower() for word in NEVER)


def test_no_sentence_of_a_check_is_stronger_than_its_basis() -> None:
    said = [
        (words.check_sentence([CHECK_NAMES[code]], verdict=verdict, grade=grade, basis=basis), basis)
        for code in CHECKS
        for basis in Basis.values
        for verdict, grade in [*((Verdict.GRADED, grade) for grade in Grade.values),
                               *((one, None) for one in Verdict.values if one != Verdict.GRADED)]
    ]  # fmt: skip
    assert len(said) == len(CHECKS) * 6 * 8
    assert not [pair for pair in said if too_strong(pair[0], basis=pair[1])]


def test_not_seen_is_never_an_implied_pass() -> None:
    for basis in Basis.values:
        said = words.check_sentence(["the frame and its mounts"], verdict=Verdict.NOT_SEEN, grade=None, basis=basis)
        assert said == "Not seen: the frame and its mounts."
    guessed = words.check_sentence(["the seats"], verdict=Verdict.GRADED, grade=4, basis=Basis.PRESUMED)
    assert guessed == "We did not look at the seats."


def test_no_sentence_of_a_component_is_stronger_than_its_basis() -> None:
    components = (*COMPONENTS, *EARLIER_COMPONENTS)
    said = [
        (words.part_sentence([part.code], standing=standing, basis=basis, as_found=found, tone=tone), basis)
        for part in components
        for standing in Standing.values
        for basis in Basis.values
        for found in ("", "310 V8")
        for tone in ListingTone.values
    ]
    assert len(said) == len(components) * 7 * 6 * 4
    assert not [pair for pair in said if too_strong(pair[0], basis=pair[1])]
    unknown = [text for text, _ in said if "established" in text]
    assert not any("is original" in text and "whether" not in text for text in unknown)


def test_no_other_sentence_is_stronger_than_its_basis() -> None:
    for basis in Basis.values:
        texts = [
            words.change_sentence("Disc brakes", where="front", fitting="bolt_on", workmanship=4, basis=basis),
            words.as_built_sentence("engine", what="310 V8", basis=basis),
            words.number_sentence("engine", number="123", basis=basis),
            words.led("built in 1968", basis=basis),
            *(words.brand_sentence(brand, basis=basis) for brand in ("", *TitleBrand.values)),
        ]
        assert not [text for text in texts if too_strong(text, basis=basis)]
    assert {words.mileage_sentence(status)[1] for status in OdometerStatus.values} == {"told", "not_established"}


def test_every_check_and_component_has_a_name_and_a_section() -> None:
    assert set(CHECK_NAMES) == set(SECTION_OF_CHECK)
    assert set(PARTS) == set(SECTION_OF_PART) == {part.code for part in (*COMPONENTS, *EARLIER_COMPONENTS)}
    assert set(SECTION_OF_CHECK.values()) | set(SECTION_OF_PART.values()) <= set(SECTIONS)


# the four kinds


def record(**changes: object) -> Record:
    given = {
        "year": 1968, "make": "Merrow", "model": "Alder", "body": "two-door hardtop", "mileage": 61240,
        "inspected": True, "build_class": "survivor",
        "asked": frozenset({"front.hood", "underside.floors", "interior.seats"}),
        "checks": (
            CheckSaid(code="front.hood", verdict="graded", grade=4, basis="seen"),
            CheckSaid(code="interior.seats", verdict="graded", grade=3, basis="seen"),
        ),
        "parts": (
            PartSaid(code="engine", standing="original", basis="told"),
            PartSaid(code="hood", standing="original", basis="seen"),
            PartSaid(code="doors", standing="original", basis="seen"),
        ),
        "papers": (PaperSaid(id=1, kind="title", standing="read"),),
    }  # fmt: skip
    return Record(**{**given, **changes})  # type: ignore[arg-type]


CUT = ChangeSaid(id=7, kind="body", what="Roof chopped", fitting="cut_or_welded", workmanship=3, basis="seen")
KINDS = {
    Character.SURVIVOR: record(),
    Character.CUSTOM: record(build_class="modified", changes=(CUT,)),
    Character.REPLICA: record(build_class="replica"),
    Character.PROJECT: record(parts=(PartSaid(code="engine", standing="missing", basis="seen"),)),
    Character.RESTORED: record(build_class="restored"),
    Character.UNKNOWN: record(build_class=""),
}


def texts(sections: tuple[Section, ...], code: str = "") -> list[str]:
    return [one.text for section in sections if code in {"", section.code} for one in section.sentences]


def test_each_kind_of_vehicle_is_known_and_reads_its_own_way() -> None:
    assert [character_of(one) for one in KINDS.values()] == list(KINDS)
    openings = {" ".join(texts(described(one), "opening")) for one in KINDS.values()}
    orders = {order_for(KINDS[kind]) for kind in ("survivor", "custom", "replica", "project")}  # type: ignore[index]
    assert (len(openings), len(orders)) == (6, 4)
    assert [section.code for section in described(KINDS[Character.PROJECT])][:2] == ["opening", "faults"]


@pytest.mark.parametrize("failing", ["cold_start.first_turn"])
def test_engine_that_does_not_turn_makes_a_project_of_a_custom(failing: str) -> None:
    dead = CheckSaid(code=failing, verdict="graded", grade=0, basis="seen")
    assert character_of(record(build_class="modified", checks=(dead,))) == Character.PROJECT


def test_order_of_the_lot_drops_neither_faults_nor_gaps() -> None:
    bad = CheckSaid(
        code="underside.floors", verdict="graded", grade=1, basis="seen", note="Patched, and soft beside it"
    )
    sections = described(record(checks=(bad,)), order=["practical", "interior", "nonsense"])
    assert [section.code for section in sections] == ["opening", "practical", "faults", "not_established"]
    assert texts(sections, "faults") == ["Needs repair: the floors from below. Patched, and soft beside it."]


def test_gaps_are_named_plainly() -> None:
    said = texts(described(record()), "not_established")
    assert "Not seen: the floors from below." in said
    assert "Whether the title carries a brand is not established." in said
    assert any(text.startswith("It is not established whether the frame, the body shell") for text in said)


def test_presumed_engine_is_left_out_and_said_to_be_open() -> None:
    guessed = record(parts=(PartSaid(code="engine", standing="original", basis="presumed"),))
    assert not [text for text in texts(described(guessed)) if "believed" in text]
    assert any("the engine block" in text for text in texts(described(guessed), "not_established"))


def test_original_part_that_the_record_contradicts_is_not_called_original() -> None:
    part = PartSaid(code="hood", standing="original", basis="seen", contradicted=True)
    said = texts(described(record(parts=(part,))))
    assert "The hood is original." not in said
    assert any("the hood, because what the record says of it does not agree" in text for text in said)


def test_no_sentence_of_a_description_is_stronger_than_its_basis_or_objected_to() -> None:
    for one in (*KINDS.values(), TOLD_ENGINE, record(inspected=False, mileage=None, papers=())):
        for tone in ListingTone.values:
            sections = described(one, tone=tone)
            sentences = [sentence for section in sections for sentence in section.sentences]
            assert not [said for said in sentences if too_strong(said.text, basis=said.basis)]
            assert all(said.source for said in sentences)
            assert objections_in(sections, draft=sections, record=one) == []


def test_tones_say_the_same_in_other_words() -> None:
    plain, telling = (described(record(), tone=tone) for tone in ("plain", "telling"))
    assert "Engine block: the owner reports original." in texts(plain)
    assert "The owner reports that the engine block is original." in texts(telling)
    assert texts(plain, "faults") == texts(telling, "faults")


def test_higher_earlier_reading_is_a_fault_and_mileage_is_never_more_than_told() -> None:
    said = described(record(odometer_status="actual", highest_earlier_mileage=70000))
    assert "An earlier reading was higher: 70,000 miles." in texts(said, "faults")
    assert any("The owner reports that the reading is the true mileage" in text for text in texts(said, "practical"))


# editing


def test_lines_find_the_sentences_they_came_from() -> None:
    before = (Sentence("The hood is original.", "seen", "component:hood"), Sentence("Two keys.", "seen", "receipt"))
    kept, mended, new = matched(before, lines=["Two  keys.", "The hood is original, we think.", "", "Ask us."])
    assert (kept.source, kept.edited) == ("receipt", False)
    assert (mended.source, mended.edited) == ("component:hood", True)
    assert (new.source, new.basis) == ("typed", "")


def test_description_survives_storing_and_an_emptied_section_goes() -> None:
    sections = described(record())
    assert read(stored(sections)) == sections
    lines = {section.code: [one.text for one in section.sentences] for section in sections}
    assert edited(sections, lines=lines) == sections
    assert "interior" not in {one.code for one in edited(sections, lines={**lines, "interior": []})}


def test_sentence_left_out_and_typed_back_is_known_again() -> None:
    sections = described(record())
    short = tuple(section for section in sections if section.code != "not_established")
    back = {"not_established": texts(sections, "not_established")}
    whole = edited(with_sections(short, draft=sections, titles=SECTIONS, wanted=back), lines=back)
    assert whole == tuple(section for section in sections if section.code == "not_established")


def test_free_text_of_the_record_is_held_against_it_too() -> None:
    boast = replace(record(), changes=(replace(CUT, what="Flawless paint, like new"),))
    assert objections_to(texts(described(boast), "changes")[0], record=boast)
