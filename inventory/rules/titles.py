"""Whether title papers and the numbers on the vehicle are enough to list it, and whose names the papers carry.

How joined names sign, and who may sign for an estate, a trust or a company, differs by place: check local law. The
rules about names are common practice, no source.
"""

import hashlib
import json
import re
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from inventory.errors import Refused
from inventory.rules.words import (
    Basis,
    IdentityKind,
    NameJoin,
    OwnerKind,
    PaperStanding,
    SigningRight,
    TitleKind,
)

ON_PAPER = frozenset({IdentityKind.TITLE})
ON_VEHICLE = frozenset(
    {
        IdentityKind.DASH_PLATE, IdentityKind.DOOR_LABEL, IdentityKind.DATA_PLATE, IdentityKind.FRAME_STAMP,
        IdentityKind.BODY_STAMP, IdentityKind.ASSIGNED_NUMBER,
    }
)  # fmt: skip
OWNERSHIP = frozenset({TitleKind.TITLE, TitleKind.REGISTRATION, TitleKind.BILL_OF_SALE})
MAY_SIGN: dict[str, frozenset[str]] = {
    OwnerKind.ESTATE: frozenset({SigningRight.EXECUTOR}),
    OwnerKind.TRUST: frozenset({SigningRight.TRUSTEE, SigningRight.ATTORNEY}),
    OwnerKind.COMPANY: frozenset({SigningRight.OFFICER, SigningRight.ATTORNEY}),
}
"""By what right somebody signs for an owner who is no living person."""

_BETWEEN_NAMES = re.compile(r"\s*(?:;|&|\n|\band\b|\bor\b)\s*", re.IGNORECASE)
_APOSTROPHES = str.maketrans("", "", "'’‘`´.")


@dataclass(frozen=True)
class NumberSeen:
    kind: str
    value: str
    basis: str


def ownership_paper_seen(papers: Iterable[tuple[str, str]]) -> bool:
    """Whether a paper of ownership was read, not only copied or doubted. Takes (kind, standing) pairs.

    Which papers prove ownership differs by place: check local law.
    """
    return any(kind in OWNERSHIP and standing == PaperStanding.READ for kind, standing in papers)


def identity_question(numbers: Iterable[NumberSeen], *, serial: str) -> str:
    """What is still open about the vehicle's identity, as a sentence; empty when nothing is.

    The latest number of each kind counts. One must be read off the paper, one off the vehicle itself, and
    all must agree with each other and with the number the vehicle is logged under. Engine stamps may
    differ: an engine can be replaced.
    """
    paper, vehicle = _counting(numbers)
    if not vehicle:
        return "No identity number has been read off the vehicle itself."
    if not paper:
        return "The identity number on the title has not been recorded."
    return disagreement([*paper, *vehicle], serial=serial)


def disagreement(counting: Sequence[NumberSeen], *, serial: str) -> str:
    different = sorted({number.value for number in counting} | ({serial} if serial else set()))
    return f"The identity numbers do not agree: {', '.join(different)}." if len(different) > 1 else ""


def may_be_resolved(numbers: Iterable[NumberSeen], *, serial: str) -> bool:
    """Whether the open question is one a person can decide: a number nobody recorded is mended by recording it."""
    paper, vehicle = _counting(numbers)
    return bool(paper and vehicle and disagreement([*paper, *vehicle], serial=serial))


def as_they_stand(numbers: Iterable[NumberSeen], *, serial: str) -> str:
    """A digest of every number recorded and of the one it is logged under: one more number makes it another."""
    stand = [[number.kind, number.value, number.basis] for number in numbers]
    return hashlib.sha256(json.dumps([serial, stand]).encode()).hexdigest()


def _counting(numbers: Iterable[NumberSeen]) -> tuple[list[NumberSeen], list[NumberSeen]]:
    """The latest of each kind: those off the paper, and those somebody read off the vehicle."""
    latest = {number.kind: number for number in numbers}
    paper = [number for kind, number in latest.items() if kind in ON_PAPER]
    vehicle = [
        number for kind, number in latest.items() if kind in ON_VEHICLE and number.basis in {Basis.SEEN, Basis.MEASURED}
    ]
    return paper, vehicle


@dataclass(frozen=True, kw_only=True)
class PaperSeen:
    """One title paper as it was recorded. `written` says which it is, for the sentence that asks about it."""

    kind: str
    standing: str
    number: str = ""
    name: str = ""
    more_names: str = ""
    names_joined: str = ""
    owner_kind: str = ""
    signer: str = ""
    signs_by: str = ""
    in_hand_since: date | None = None

    @property
    def names(self) -> tuple[str, ...]:
        further = _BETWEEN_NAMES.split(self.more_names)
        return tuple(part.strip() for part in (self.name, *further) if part.strip())

    @property
    def is_read_ownership(self) -> bool:
        return self.kind in OWNERSHIP and self.standing == PaperStanding.READ


def same_name(name: str) -> tuple[str, ...]:
    """A name for comparing: its words without case, accents and punctuation, in no order."""
    bare = unicodedata.normalize("NFKD", name.translate(_APOSTROPHES))
    letters = "".join(" " if not (char.isalnum() or char.isspace()) else char for char in bare if not _is_accent(char))
    return tuple(sorted(letters.casefold().split()))


def _is_accent(char: str) -> bool:
    return unicodedata.combining(char) != 0


def signers(signed_by: str) -> frozenset[tuple[str, ...]]:
    """Who signed the terms, from one line of text. A comma may part two people or turn a name round: both are kept."""
    wholes = [signed_by, *_BETWEEN_NAMES.split(signed_by)]
    parts = [part for whole in wholes for part in (whole, *whole.split(","))]
    return frozenset(filter(None, map(same_name, parts)))


def check_names(*, name: str, more_names: str, names_joined: str, signer: str, signs_by: str) -> None:
    """What the form says of the names must fit together before it is recorded."""
    if more_names.strip() and not name.strip():
        raise Refused(
            "first_name_missing", "Further names are given, but not the first.", field="name_on_paper",
            got=more_names, mend="Give the name that stands first on the paper.",
        )  # fmt: skip
    if more_names.strip() and names_joined == NameJoin.ONE:
        raise Refused(
            "names_and_one", "Further names are given, and also that there is one name.", field="names_joined",
            got=names_joined, mend="Say how the names are joined, or take the further names out.",
        )  # fmt: skip
    if names_joined in {NameJoin.AND, NameJoin.OR, NameJoin.NOT_SAID} and not more_names.strip():
        raise Refused(
            "further_names_missing", "Several names are said to be on it, but only one is given.", field="more_names",
            got=names_joined, mend="Give the further names, or say that there is one name.",
        )  # fmt: skip
    if bool(signer.strip()) != bool(signs_by):
        field = "signs_by" if signer.strip() else "signer"
        raise Refused(
            "signer_without_right", "Who may sign and by what right belong together.", field=field,
            got=signer or signs_by, mend="Give both, or neither.",
        )  # fmt: skip


def standing_papers(papers: Sequence[PaperSeen]) -> list[PaperSeen]:
    """The latest record of each paper, in the order of recording: a wrong one is recorded again as doubted."""
    latest = {(paper.kind, same_name(paper.number)): place for place, paper in enumerate(papers)}
    return [papers[place] for place in sorted(latest.values())]


def ownership_paper(papers: Sequence[PaperSeen]) -> PaperSeen | None:
    """The latest paper of ownership that was read."""
    return next((paper for paper in reversed(standing_papers(papers)) if paper.is_read_ownership), None)


def names_question(papers: Sequence[PaperSeen], *, consignor: str, signed_by: str) -> str:
    """What is still open about title papers, as a sentence; empty when nothing is. Papers in order of recording.

    A paper without any name asks nothing here (older records have none): it is shown as missing.
    """
    two = _two_titles(papers)
    paper = ownership_paper(papers)
    if two or paper is None or not paper.names:
        return two
    known = signers(signed_by) | {same_name(consignor)}
    if paper.owner_kind in MAY_SIGN:
        return _no_right_recorded(paper, papers, known=known)
    return _name_question(paper, papers, known=known) or _signer_question(paper, papers, signed_by=signed_by)


def _two_titles(papers: Sequence[PaperSeen]) -> str:
    read = [paper for paper in standing_papers(papers) if paper.is_read_ownership and paper.kind == TitleKind.TITLE]
    numbers = {same_name(paper.number): paper.number for paper in read if paper.number.strip()}
    if len(numbers) < 2:
        return ""
    return (
        f"Two titles were read, with different numbers: {', '.join(sorted(numbers.values()))}. Record the one that "
        "does not count again, as doubted."
    )


def _no_right_recorded(paper: PaperSeen, papers: Sequence[PaperSeen], *, known: frozenset[tuple[str, ...]]) -> str:
    rights = MAY_SIGN[paper.owner_kind]
    signing = [row for row in _covering(paper, papers) if row.signs_by in rights and same_name(row.signer) in known]
    if signing:
        return ""
    whose, right = OwnerKind(paper.owner_kind).label, " or ".join(sorted(SigningRight(word).label for word in rights))
    return (
        f"The {paper.names[0]} on the title is {whose}, and nobody who consigned it or signed the terms is recorded "
        f"to sign for it as {right}."
    )


def _name_question(paper: PaperSeen, papers: Sequence[PaperSeen], *, known: frozenset[tuple[str, ...]]) -> str:
    """One name or OR: any of them is enough. AND, or nothing between them: each must be known or be signed for."""
    open_names = [name for name in paper.names if not _agrees(name, paper, papers, known=known)]
    alternative = paper.names_joined == NameJoin.OR and len(open_names) < len(paper.names)
    if not open_names or alternative:
        return ""
    return (
        f"The title names {' and '.join(open_names)}, who neither consigned it nor signed the terms, and nobody is "
        "recorded to sign in their place."
    )


def _agrees(name: str, paper: PaperSeen, papers: Sequence[PaperSeen], *, known: frozenset[tuple[str, ...]]) -> bool:
    if same_name(name) in known:
        return True
    return any(
        same_name(row.signer) in known and _signs_for(row, name, alone=len(paper.names) == 1)
        for row in _covering(paper, papers)
    )


def _signs_for(row: PaperSeen, name: str, *, alone: bool) -> bool:
    """Whoever is named on the title signs for one name alone: it is the same person, written otherwise."""
    if row.signs_by == SigningRight.OWNER:
        return alone
    of_others = row.kind == TitleKind.POWER_OF_ATTORNEY and row.names
    return not of_others or same_name(name) in {same_name(given) for given in row.names}


def _covering(paper: PaperSeen, papers: Sequence[PaperSeen]) -> list[PaperSeen]:
    """What says who may sign: the paper itself, and every power of attorney that was read."""
    powers = [
        row for row in standing_papers(papers)
        if row.kind == TitleKind.POWER_OF_ATTORNEY and row.standing == PaperStanding.READ
    ]  # fmt: skip
    return [row for row in (paper, *powers) if row.signer]


def _signer_question(paper: PaperSeen, papers: Sequence[PaperSeen], *, signed_by: str) -> str:
    """Of those who signed the terms one is on the title, or is recorded to sign for it."""
    who = signers(signed_by)
    entitled = {same_name(name) for name in paper.names} | {
        same_name(row.signer) for row in _covering(paper, papers)
    }  # fmt: skip
    if not who or who & entitled:
        return ""
    return f"The terms are signed by {signed_by.strip()}, who is not on the title and is not recorded to sign for it."


def lien_release_in_hand(papers: Iterable[PaperSeen], *, on: date) -> bool:
    """Whether a lien release was read and lay in the lot's hands on that day."""
    return any(
        paper.kind == TitleKind.LIEN_RELEASE
        and paper.standing == PaperStanding.READ
        and paper.in_hand_since is not None
        and paper.in_hand_since <= on
        for paper in standing_papers(list(papers))
    )
