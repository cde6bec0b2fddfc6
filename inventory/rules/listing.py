"""The description of a vehicle, written from its record: which sentences stand in which section, in which order.

Nothing here knows more than the record. Faults and what is not established are always there when there is anything.
"""

from collections.abc import Iterable, Sequence

from inventory.rules import listing_opening as opening
from inventory.rules import listing_words as words
from inventory.rules.catalogue import STATION_OF
from inventory.rules.components import COMPONENTS
from inventory.rules.listing_names import CHECK_NAMES, PARTS, SECTION_OF_CHECK, SECTION_OF_PART
from inventory.rules.listing_record import (
    PUBLIC_PAPERS,
    SENSITIVE_PARTS,
    STRONG,
    ChangeSaid,
    Character,
    PartSaid,
    Record,
    Section,
    Sentence,
    character_of,
)
from inventory.rules.words import Basis, Grade, ListingTone, PaperStanding, Standing, Verdict

SECTIONS: dict[str, str] = {
    "opening": "What it is",
    "engine_and_driveline": "Engine and driveline",
    "body_and_paint": "Body and paint",
    "interior": "Interior",
    "underneath": "Underneath",
    "changes": "What was changed",
    "history_and_papers": "History and papers",
    "faults": "Known faults",
    "not_established": "What is not established",
    "practical": "Mileage, title and keys",
}
NEVER_DROPPED = ("opening", "faults", "not_established")


_ORDERS: dict[Character, tuple[str, ...]] = {
    Character.SURVIVOR: (
        "opening", "history_and_papers", "body_and_paint", "interior", "engine_and_driveline", "underneath", "changes",
        "faults", "not_established", "practical",
    ),
    Character.RESTORED: (
        "opening", "body_and_paint", "engine_and_driveline", "interior", "underneath", "changes", "history_and_papers",
        "faults", "not_established", "practical",
    ),
    Character.CUSTOM: (
        "opening", "changes", "engine_and_driveline", "underneath", "body_and_paint", "interior", "faults",
        "not_established", "history_and_papers", "practical",
    ),
    Character.REPLICA: (
        "opening", "history_and_papers", "changes", "engine_and_driveline", "body_and_paint", "interior", "underneath",
        "faults", "not_established", "practical",
    ),
    Character.PROJECT: (
        "opening", "faults", "not_established", "changes", "engine_and_driveline", "body_and_paint", "underneath",
        "interior", "history_and_papers", "practical",
    ),
    Character.UNKNOWN: tuple(SECTIONS),
}  # fmt: skip


def order_for(record: Record, *, wanted: Sequence[str] = ()) -> tuple[str, ...]:
    """The lot's own order, else the one that suits the vehicle. What must not be dropped stands at the end."""
    known = [code for code in dict.fromkeys(wanted) if code in SECTIONS]
    if not known:
        return _ORDERS[character_of(record)]
    first = [] if "opening" in known else ["opening"]
    return (*first, *known, *(code for code in NEVER_DROPPED[1:] if code not in known))


def described(
    record: Record, *, tone: str = ListingTone.TELLING, order: Sequence[str] = ()
) -> tuple[Section, ...]:  # fmt: skip
    """The whole description, section by section; sections with nothing to say are left out."""
    written: dict[str, list[Sentence]] = {code: [] for code in SECTIONS}
    for section, sentence in _all_sentences(record, tone=tone):
        written[section].append(sentence)
    return tuple(
        Section(code, SECTIONS[code], tuple(written[code]))
        for code in order_for(record, wanted=order)
        if written[code]
    )  # fmt: skip


def _all_sentences(record: Record, *, tone: str) -> Iterable[tuple[str, Sentence]]:
    yield from (("opening", Sentence(*said)) for said in opening.sentences(record, character=character_of(record)))
    yield from _parts(record, tone=tone)
    yield from _checks(record, at_length=tone == ListingTone.TELLING)
    yield from _changes(record)
    for paper in record.papers:
        if paper.kind in PUBLIC_PAPERS and paper.standing != PaperStanding.DOUBTED:
            text = words.paper_sentence(paper.kind, standing=paper.standing)
            yield "history_and_papers", Sentence(text, Basis.SEEN, f"paper:{paper.id}")
    if record.built:
        said = words.led(f"built {record.built}", basis=record.built_basis)
        yield "history_and_papers", Sentence(said, record.built_basis, "build_date")
    yield from _faults(record)
    yield from _not_established(record)
    yield from _practical(record)


# components


def _parts(record: Record, *, tone: str) -> Iterable[tuple[str, Sentence]]:
    """Parts that rest on the same are told together; what somebody found on a part is told with it."""
    grouped: dict[tuple[str, str, str, str], list[str]] = {}
    for part in (one for one in record.parts if _tells(one)):
        section = SECTION_OF_PART[part.code] if part.standing == Standing.ORIGINAL else "changes"
        section = "faults" if part.standing == Standing.MISSING else section
        grouped.setdefault((section, part.standing, part.basis, part.as_found), []).append(part.code)
    for (section, standing, basis, as_found), codes in grouped.items():
        for said in [codes] if not as_found else [[code] for code in codes]:
            text = words.part_sentence(said, standing=standing, basis=basis, as_found=as_found, tone=tone)
            yield section, Sentence(text, basis, _sources("component", said))
    for part in record.parts:
        yield from _part_details(part)


def _tells(part: PartSaid) -> bool:
    known = part.standing != Standing.NOT_ESTABLISHED and part.basis != Basis.NOT_ESTABLISHED
    guessed = part.code in SENSITIVE_PARTS and part.basis == Basis.PRESUMED
    return known and not (guessed or part.not_fitted or part.contradicted) and part.code in PARTS


def _part_details(part: PartSaid) -> Iterable[tuple[str, Sentence]]:
    section, source = SECTION_OF_PART.get(part.code, ""), f"component:{part.code}"
    if not section or part.not_fitted:
        return
    if part.as_built and part.as_built_basis in _WORTH_TELLING:
        text = words.as_built_sentence(part.code, what=part.as_built, basis=part.as_built_basis)
        yield section, Sentence(text, part.as_built_basis, source)
    if part.code in SENSITIVE_PARTS and part.number and part.number_basis in _WORTH_TELLING:
        text = words.number_sentence(part.code, number=part.number, basis=part.number_basis)
        yield section, Sentence(text, part.number_basis, source)


_WORTH_TELLING = frozenset({Basis.MEASURED, Basis.SEEN, Basis.DOCUMENTED, Basis.TOLD})


# checks


def _checks(record: Record, *, at_length: bool) -> Iterable[tuple[str, Sentence]]:
    """What was looked at and is no fault: told together where it rests on the same."""
    grouped: dict[tuple[str, str, int | None, str], list[str]] = {}
    for one in record.checks:
        if one.is_fault or not one.seen or one.code not in SECTION_OF_CHECK:
            continue
        section = "changes" if one.verdict == Verdict.DELETED_ON_PURPOSE else SECTION_OF_CHECK[one.code]
        strong = Basis.SEEN if one.basis in STRONG else one.basis
        grouped.setdefault((section, one.verdict, one.grade, strong), []).append(one.code)
    for (section, verdict, grade, basis), codes in grouped.items():
        names = [CHECK_NAMES[code] for code in codes]
        text = words.check_sentence(names, verdict=verdict, grade=grade, basis=basis)
        yield section, Sentence(text, basis, _sources("check", codes))
    if at_length:
        yield from _readings(record)


def _readings(record: Record) -> Iterable[tuple[str, Sentence]]:
    for one in record.checks:
        if one.reading is not None and one.seen and not one.is_fault and one.code in SECTION_OF_CHECK:
            text = words.reading_sentence(one.name, reading=one.reading, unit=one.unit, basis=one.basis)
            yield SECTION_OF_CHECK[one.code], Sentence(text, one.basis, f"check:{one.code}")


def _faults(record: Record) -> Iterable[tuple[str, Sentence]]:
    for one in record.faults:
        grade = one.grade if one.grade is not None else Grade.NEEDS_REPAIR
        grade = min(grade, Grade.NEEDS_REPAIR) if one.flag else grade
        said = words.check_sentence([one.name], verdict=Verdict.GRADED, grade=grade, basis=one.basis)
        text = words.fault_note(said, note=one.note, flag=one.flag, basis=one.basis)
        yield "faults", Sentence(text, one.basis, f"check:{one.code}")
    for key, message in record.other_flags:
        yield "faults", Sentence(words.led(message, basis=Basis.SEEN), Basis.SEEN, f"flag:{key}")
    for change in record.changes:
        if change.workmanship is not None and change.workmanship <= Grade.NEEDS_REPAIR:
            yield "faults", Sentence(_change_text(change), change.basis, f"modification:{change.id}")


# changes, and what nobody knows


def _changes(record: Record) -> Iterable[tuple[str, Sentence]]:
    for change in record.changes:
        text = _change_text(change)
        papers = " Papers of the work were seen." if change.papers else ""
        yield "changes", Sentence(f"{text}{papers}", change.basis, f"modification:{change.id}")


def _change_text(change: ChangeSaid) -> str:
    return words.change_sentence(
        change.what, where=change.where, fitting=change.fitting, workmanship=change.workmanship, basis=change.basis
    )


def _not_established(record: Record) -> Iterable[tuple[str, Sentence]]:
    nothing = Basis.NOT_ESTABLISHED
    for station in dict.fromkeys(STATION_OF[code] for code in record.unseen):
        codes = [code for code in record.unseen if STATION_OF[code] is station]
        text = words.check_sentence(
            [CHECK_NAMES[code] for code in codes], verdict=Verdict.NOT_SEEN, grade=None, basis=nothing
        )
        yield "not_established", Sentence(text, nothing, f"unseen:{station.code}")
    if open_parts := _open_parts(record):
        text = words.part_sentence(open_parts, standing=Standing.NOT_ESTABLISHED, basis=nothing)
        yield "not_established", Sentence(text, nothing, "unknown:components")
    for part in record.parts:
        if part.contradicted:
            text = f"Not established: {PARTS[part.code][0]}, because what the record says of it does not agree."
            yield "not_established", Sentence(text, nothing, f"component:{part.code}")
    for paper in record.papers:
        if paper.standing == PaperStanding.DOUBTED and paper.kind in PUBLIC_PAPERS:
            text = words.paper_sentence(paper.kind, standing=paper.standing)
            yield "not_established", Sentence(text, Basis.SEEN, f"paper:{paper.id}")
    if not record.inspected:
        yield (
            "not_established",
            Sentence(
                "Not established: its condition, since we have not finished an inspection of it.", nothing, "inspection"
            ),
        )


def _open_parts(record: Record) -> list[str]:
    """Components of which nobody could say whether they are original, in the order of the ledger."""
    told = {one.code for one in record.parts if _tells(one) or one.contradicted or one.not_fitted}
    codes = [part.code for part in COMPONENTS if part.code not in told | record.never_had]
    return [code for code in codes if code in record.part or not _optional(code)]


def _optional(code: str) -> bool:
    return next(part.optional for part in COMPONENTS if part.code == code)


def _practical(record: Record) -> Iterable[tuple[str, Sentence]]:
    if record.mileage is not None:
        text, basis = words.reading_of_odometer(record.mileage, seen=record.inspected)
        yield "practical", Sentence(text, basis, "odometer")
        said, rests = words.mileage_sentence(record.odometer_status)
        yield "practical", Sentence(said, rests, "odometer_status")
        if record.highest_earlier_mileage is not None and record.highest_earlier_mileage > record.mileage:
            earlier = f"An earlier reading was higher: {record.highest_earlier_mileage:,} miles."
            yield "faults", Sentence(earlier, Basis.SEEN, "odometer")
    else:
        yield "not_established", Sentence("The mileage is not established.", Basis.NOT_ESTABLISHED, "odometer")
    rests = brand_basis(record)
    section = "practical" if record.title_brand else "not_established"
    yield section, Sentence(words.brand_sentence(record.title_brand, basis=rests), rests, "title_brand")
    if record.keys is not None:
        counted = f"{record.keys} {'key' if record.keys == 1 else 'keys'} came with it, as counted at arrival."
        yield "practical", Sentence(counted, Basis.SEEN, "receipt")


def brand_basis(record: Record) -> str:
    """What is known of brands rests on the title, if one was read; else on the owner's word."""
    if not record.title_brand:
        return Basis.NOT_ESTABLISHED
    return Basis.DOCUMENTED if record.paper_read else Basis.TOLD


def _sources(kind: str, codes: Sequence[str]) -> str:
    return " ".join(f"{kind}:{code}" for code in codes)
