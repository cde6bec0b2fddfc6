"""A description that is kept: as it is stored, and how typed lines find the sentences they came from."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, replace
from difflib import SequenceMatcher
from typing import Any

from inventory.rules.listing_record import Section, Sentence

ALIKE = 0.5
"""How alike a typed line must be to an earlier one to count as its mended form (common practice, no source)."""

TYPED = "typed"
MOST_LINE = 2000


def stored(sections: Iterable[Section]) -> list[dict[str, Any]]:
    return [asdict(section) | {"sentences": [asdict(one) for one in section.sentences]} for section in sections]


def read(stored_sections: Iterable[Mapping[str, Any]]) -> tuple[Section, ...]:
    return tuple(
        Section(one["code"], one["title"], tuple(Sentence(**said) for said in one["sentences"]))
        for one in stored_sections
    )


def edited(sections: Iterable[Section], *, lines: Mapping[str, Sequence[str]]) -> tuple[Section, ...]:
    """The sections with the lines that somebody typed, one sentence a line; an emptied section goes."""
    changed = (
        replace(section, sentences=matched(section.sentences, lines=lines.get(section.code, ())))
        for section in sections
    )
    return tuple(section for section in changed if section.sentences)


def with_sections(
    before: Sequence[Section], *, draft: Iterable[Section], titles: Mapping[str, str], wanted: Iterable[str]
) -> tuple[Section, ...]:
    """The sections that were kept, and those that somebody now typed into, with what the draft has for them.

    A sentence that was left out before is matched again when it is typed back.
    """
    drafted = {section.code: section for section in draft}
    kept = {section.code: section for section in before}
    codes = [*kept, *(code for code in wanted if code not in kept)]
    return tuple(
        Section(code, titles[code], _both(kept.get(code), other=drafted.get(code))) for code in codes
    )  # fmt: skip


def _both(first: Section | None, *, other: Section | None) -> tuple[Sentence, ...]:
    known = first.sentences if first else ()
    texts = {one.text for one in known}
    more = other.sentences if other else ()
    return (*known, *(one for one in more if one.text not in texts))


def matched(before: Sequence[Sentence], *, lines: Sequence[str]) -> tuple[Sentence, ...]:
    """Each line as a sentence. One that stands as before keeps what it rests on; one that was mended keeps its source,
    and says that it was edited; a new one rests on nothing that the record knows of.
    """
    typed = [" ".join(line.split()) for line in lines if line.strip()]
    left = list(before)
    found: dict[int, Sentence] = {}
    for place, line in enumerate(typed):  # those that stand as they were, first
        if (same := next((one for one in left if one.text == line), None)) is not None:
            left.remove(same)
            found[place] = same
    for place, line in enumerate(typed):
        if place not in found:
            found[place] = _mended(line, left=left)
    return tuple(found[place] for place in range(len(typed)))


def _mended(line: str, *, left: list[Sentence]) -> Sentence:
    alike = [(SequenceMatcher(None, one.text, line, autojunk=False).ratio(), one) for one in left]
    best = max(alike, key=lambda pair: pair[0], default=None)
    if best is None or best[0] < ALIKE:
        return Sentence(line, "", TYPED, edited=True)
    left.remove(best[1])
    return replace(best[1], text=line, edited=True)
