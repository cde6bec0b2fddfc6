"""Whether title papers and the numbers on the vehicle are enough to list it."""

import hashlib
import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from inventory.rules.words import Basis, IdentityKind, PaperStanding, TitleKind

ON_PAPER = frozenset({IdentityKind.TITLE})
ON_VEHICLE = frozenset(
    {
        IdentityKind.DASH_PLATE, IdentityKind.DOOR_LABEL, IdentityKind.DATA_PLATE, IdentityKind.FRAME_STAMP,
        IdentityKind.BODY_STAMP, IdentityKind.ASSIGNED_NUMBER,
    }
)  # fmt: skip
OWNERSHIP = frozenset({TitleKind.TITLE, TitleKind.REGISTRATION, TitleKind.BILL_OF_SALE})


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
