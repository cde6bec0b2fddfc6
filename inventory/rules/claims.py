"""A typed sentence held against the record before it is published.

It hears what a sentence speaks of, how strongly it claims it, and what the record has for that; a claim stronger than
its basis is objected to, with a wording that the record bears. It is a reminder, not a guarantee: language has more
ways to praise a vehicle than any list, and whoever publishes answers for the words.
"""

import re
from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass
from enum import IntEnum
from typing import Any

from inventory.rules import claim_support as support
from inventory.rules import claim_words as words
from inventory.rules.claim_support import CONTRADICTED, Held, Strength
from inventory.rules.listing_names import CHECK_NAMES
from inventory.rules.listing_record import Record, Section

_SPLIT = re.compile(
    r"(?<! cu)(?<! in)(?<! no)(?<! ca)(?<! approx)(?<=[.!?])\s+|;\s*|\s[—–-]\s|\n|, (?:but|yet|however) "
    r"|,? and (?=(?:it|this|she|he|we|they)\b)",
    re.IGNORECASE,
)
_CURLY = str.maketrans({"’": "'", "‘": "'", "“": '"', "”": '"', "\u2011": "-", "\u00a0": " "})
_FEW_WORDS = 3


@dataclass(frozen=True)
class Objection:
    """One sentence that claims more than the record bears: of what, on which basis, and what could stand instead."""

    sentence: str
    subject: str
    basis: str
    message: str
    mended: str = ""


@dataclass(frozen=True)
class Clause:
    """A part of a sentence that makes its own claim, and the same in small letters."""

    said: str
    plain: str

    def strength_at(self, start: int) -> Strength:
        """How strongly this is said at one place: what softens it stands before, or right at the end."""
        for pattern, strength in _SOFTENED:
            if any(self._bears(found, start=start) for found in pattern.finditer(self.plain)):
                return strength
        return Strength.ASSERTED

    def _bears(self, found: re.Match[str], *, start: int) -> bool:
        return found.start() <= start or len(self.plain[found.end() :].split()) <= _FEW_WORDS

    def denied_at(self, start: int) -> bool:
        return words.DENIED.search(self.plain[:start]) is not None


_SOFTENED = (
    (words.UNKNOWN, Strength.UNKNOWN),
    (words.ATTRIBUTED, Strength.ATTRIBUTED),
    (words.ON_PAPER, Strength.ON_PAPER),
    (words.BELIEVED, Strength.BELIEVED),
)


class Kind(IntEnum):
    """How a claim is weighed: of sensitive ones *believed to be* is still the lot's own claim."""

    PLAIN = 0
    SENSITIVE = 1
    CONDITION = 2


@dataclass(frozen=True)
class Claim:
    """What one clause claims, from which place on, and what the record has for it."""

    at: int
    kind: Kind
    held: Held


def objections_to(text: str, *, record: Record) -> tuple[Objection, ...]:
    """What to object to in one text; nothing where the record bears it."""
    found: dict[tuple[str, str], Objection] = {}
    for part in _SPLIT.split(text):
        clause = Clause(part.strip(), part.strip().translate(_CURLY).lower())
        for claim in _claims(clause, record=record):
            if (objection := _objection(clause, claim=claim)) is not None:
                found.setdefault((objection.sentence, objection.subject), objection)
    return tuple(found.values())


def objections_in(sections: Iterable[Section], *, draft: Iterable[Section], record: Record) -> list[dict[str, Any]]:
    """All that stands against publishing: sentences that claim too much, and faults or gaps that were left out.

    What the record itself writes today is worded by its basis already: only what was typed is questioned.
    """
    sections, draft = tuple(sections), tuple(draft)
    from_record = {one.text for section in draft for one in section.sentences}
    said = [
        {"section": section.code, "text": sentence.text, **asdict(one)}
        for section in sections
        for sentence in section.sentences
        if sentence.text not in from_record
        for one in objections_to(sentence.text, record=record)
    ]
    return said + [{"text": "", **one} for one in _left_out(sections, draft=draft)]


def _left_out(sections: tuple[Section, ...], *, draft: Iterable[Section]) -> Iterator[dict[str, str]]:
    told = {one for section in sections for sentence in section.sentences for one in sentence.source.split()}
    for section in draft:
        for sentence in section.sentences if section.code in {"faults", "not_established"} else ():
            if told.isdisjoint(sentence.source.split()):
                missing = Objection(
                    sentence.text, section.title.lower(), sentence.basis,
                    f"The record says this, and the description does not: “{sentence.text}”", sentence.text,
                )  # fmt: skip
                yield {"section": section.code, **asdict(missing)}


def _objection(clause: Clause, *, claim: Claim) -> Objection | None:
    strength, held = clause.strength_at(claim.at), claim.held
    if strength == Strength.UNKNOWN or _is_borne(strength, kind=claim.kind, held=held.strength):
        return None
    if held.strength == CONTRADICTED:
        message = f"“{clause.said}” does not agree with the record of {held.subject}: {held.why}. Take it out."
        return Objection(clause.said, held.subject, held.basis, message)
    mended = held.mended if claim.kind == Kind.CONDITION else _mended(clause.said, held=held)
    advice = f"It could say: “{mended}”" if mended else "Say what was looked at and found, or take it out."
    sure = "" if not mended or held.strength >= Strength.ATTRIBUTED else " if the owner does say so"
    message = f"“{clause.said}” claims more of {held.subject} than is known: {held.why}. {advice}{sure}"
    return Objection(clause.said, held.subject, held.basis, message.rstrip(".") + ".", mended)


def _is_borne(strength: Strength, *, kind: Kind, held: int) -> bool:
    if held == CONTRADICTED:
        return False
    if strength == Strength.ATTRIBUTED:  # somebody else's word, and told as that
        return True
    if strength == Strength.BELIEVED:
        return held >= Strength.ON_PAPER if kind == Kind.SENSITIVE else True
    return held >= strength


def _mended(said: str, *, held: Held) -> str:
    lead = "Per the papers or plate: " if held.strength == Strength.ON_PAPER else "The owner reports: "
    text = said.strip().rstrip(".!;,")
    return f"{lead}{text[:1].upper()}{text[1:]}."


def _claims(clause: Clause, *, record: Record) -> Iterator[Claim]:
    yield from _of_originality(clause, record=record)
    yield from _of_condition(clause, record=record)
    yield from _of_looks(clause, record=record)
    for pattern, kind, held in (
        (words.TITLE, Kind.PLAIN, support.title),
        (words.PEDIGREE, Kind.SENSITIVE, support.pedigree),
        (words.STOCK, Kind.PLAIN, support.unmodified),
        (words.COST, Kind.SENSITIVE, support.cost),
    ):
        for found in pattern.finditer(clause.plain):
            if pattern in {words.TITLE, words.STOCK} and clause.denied_at(found.start()):
                continue
            yield Claim(found.start(), kind, held(record))
    yield from _of_work(clause, record=record)
    yield from _of_mileage(clause, record=record)


# what it left the factory with


def _of_originality(clause: Clause, *, record: Record) -> Iterator[Claim]:
    whole = words.WHOLE.search(clause.plain)
    if whole and not clause.denied_at(whole.start()):
        yield Claim(whole.start(), Kind.SENSITIVE, support.all_parts(record))
    for found in _origins(clause):
        for code in _subjects(clause.plain, found=found) if found.re is not words.SAME else _driving(clause):
            built = words.AS_BUILT.search(clause.plain) is not None
            held = support.as_built(record, code=code) if built else _part(record, code=code, found=found)
            yield Claim(found.start(), Kind.SENSITIVE if code == "engine" else Kind.PLAIN, held)


def _driving(clause: Clause) -> list[str]:
    return [code for code in ("engine", "transmission") if words.SUBJECTS[code].search(clause.plain)]


def _origins(clause: Clause) -> list[re.Match[str]]:
    """Where a clause claims that something is what the factory put there. What is said to be gone is not claimed."""
    kept = list(words.KEPT.finditer(clause.plain))
    if not kept and words.GONE.search(clause.plain) and "never" not in clause.plain:
        return []
    patterns = [words.ORIGINAL]
    if _driving(clause):
        patterns.append(words.SAME)
    said = [
        found
        for pattern in patterns
        for found in pattern.finditer(clause.plain)
        if not clause.denied_at(found.start()) and not any(one.start() <= found.start() <= one.end() for one in kept)
    ]
    return [*kept, *said]


def _part(record: Record, *, code: str, found: re.Match[str]) -> Held:
    return support.part(record, code=code, by_number=words.NUMBERS.search(found[0]) is not None)


_JOINED = re.compile(r"[\s,&/+]*(?:and|or|both)?\s*(?:the|its)?\s*")


def _subjects(plain: str, *, found: re.Match[str]) -> list[str]:
    """The components that a claim speaks of: those right behind it, else those before it, else any in the clause."""
    spans = sorted(
        (match.start(), match.end(), code)
        for code, pattern in words.SUBJECTS.items()
        for match in pattern.finditer(plain)
    )
    after = [span for span in spans if found.start() <= span[0] <= found.end() + 24]
    before = [span for span in spans if span[1] <= found.start() + 1]
    chosen = _run(after, plain=plain) if after else before or spans
    if not chosen and words.NUMBERS.search(found[0]):
        return ["engine", "transmission"]
    return list(dict.fromkeys(code for _, _, code in chosen))


def _run(spans: list[tuple[int, int, str]], *, plain: str) -> list[tuple[int, int, str]]:
    """The first of them, and those that are joined to it by no more than *and*."""
    run = spans[:1]
    for span in spans[1:]:
        if span[0] <= run[-1][1] or _JOINED.fullmatch(plain[run[-1][1] : span[0]]):
            run.append(span)
    return run


# what state it is in


def _of_condition(clause: Clause, *, record: Record) -> Iterator[Claim]:
    scoped = words.SCOPED.sub("", clause.plain)
    for pattern, held in ((words.RUST, support.rust), (words.HIT, support.hits)):
        if found := pattern.search(scoped):
            yield Claim(found.start(), Kind.CONDITION, held(record))
    found = words.PRAISE.search(scoped)
    if found and not Clause(scoped, scoped).denied_at(found.start()):
        yield Claim(found.start(), Kind.CONDITION, support.state(record, parts=_named(scoped)))


def _named(plain: str) -> set[str]:
    return {code for code, pattern in words.SUBJECTS.items() if pattern.search(plain)}


def _of_looks(clause: Clause, *, record: Record) -> Iterator[Claim]:
    """*No fault was found* where nobody looked, or where one was found."""
    found = words.SCOPED.search(clause.plain)
    if found is None:
        return
    for code, name in CHECK_NAMES.items():
        if re.search(rf"\b{re.escape(name)}\b", clause.plain):
            yield Claim(found.start(), Kind.CONDITION, support.checks(record, codes=[code], subject=name))


# what was done to it, and how far it went


def _of_work(clause: Clause, *, record: Record) -> Iterator[Claim]:
    plain = clause.plain
    if degree := words.DEGREE.search(plain):
        yield Claim(degree.start(), Kind.SENSITIVE, support.restoration(record, verb="", parts=(), degree=True))
        return
    for found in words.RESTORED.finditer(plain):
        if not words.NOT_RESTORED.search(plain) and not clause.denied_at(found.start()):
            held = support.restoration(record, verb=found[0], parts=_named(plain), degree=False)
            yield Claim(found.start(), Kind.PLAIN, held)


def _of_mileage(clause: Clause, *, record: Record) -> Iterator[Claim]:
    found = words.MILES_TRUE.search(clause.plain)
    reads = words.ODOMETER.search(clause.plain) is not None
    if found and not clause.denied_at(found.start()) and not (reads and found[0][:1].isdigit()):
        yield Claim(found.start(), Kind.SENSITIVE, support.mileage(record))
    for number in words.MILES.finditer(clause.plain):
        miles = int(number[1].replace(",", "")) * (1000 if number[2] else 1)
        if miles < _LEAST_MILEAGE:
            continue
        if not reads and not found:
            yield Claim(number.start(), Kind.SENSITIVE, support.mileage(record))
        elif reads and "odometer" in clause.plain and record.mileage not in {None, miles}:
            yield Claim(number.start(), Kind.SENSITIVE, support.other_reading(record))


_LEAST_MILEAGE = 1000
"""Fewer miles are a drive, not a mileage."""
