"""Whether title papers and the numbers on the vehicle are enough to list it."""

from collections.abc import Iterable
from dataclasses import dataclass

from inventory.rules.words import Basis, IdentityKind, PaperStanding, TitleKind

ON_PAPER = frozenset({IdentityKind.TITLE})
ON_VEHICLE = frozenset(
    {IdentityKind.DASH_PLATE, IdentityKind.DOOR_LABEL, IdentityKind.DATA_PLATE, IdentityKind.FRAME_STAMP}
)
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
    latest = {number.kind: number for number in numbers}
    paper = [number for kind, number in latest.items() if kind in ON_PAPER]
    vehicle = [
        number for kind, number in latest.items() if kind in ON_VEHICLE and number.basis in {Basis.SEEN, Basis.MEASURED}
    ]
    if not vehicle:
        return "No identity number has been read off the vehicle itself."
    if not paper:
        return "The identity number on the title has not been recorded."
    different = sorted({number.value for number in paper + vehicle} | ({serial} if serial else set()))
    if len(different) > 1:
        return f"The identity numbers do not agree: {', '.join(different)}."
    return ""
