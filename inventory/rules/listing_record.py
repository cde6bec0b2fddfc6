"""What a description may rest on, as plain values, and what it is made of."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from functools import cached_property

from inventory.rules.catalogue import CHECKS
from inventory.rules.listing_names import CHECK_NAMES
from inventory.rules.words import (
    Basis,
    BuildClass,
    Fitting,
    Grade,
    OdometerStatus,
    PaperStanding,
    Standing,
    TitleKind,
    Verdict,
)

PUBLIC_PAPERS = frozenset({TitleKind.TITLE, TitleKind.REGISTRATION, TitleKind.BILL_OF_SALE, TitleKind.LIEN_RELEASE})
"""Papers that a buyer is told of; the others may name people and their affairs."""

SENSITIVE_PARTS = frozenset({"engine"})
"""Of these, *believed to be* is still the lot's own claim: it is left out and said to be not established."""

STRONG = frozenset({Basis.MEASURED, Basis.SEEN})


class Character(StrEnum):
    """What kind of thing is offered, decided from the record: each is written about in its own way."""

    SURVIVOR = "survivor"
    RESTORED = "restored"
    CUSTOM = "custom"
    REPLICA = "replica"
    PROJECT = "project"
    UNKNOWN = "unknown"


@dataclass(frozen=True, kw_only=True)
class CheckSaid:
    code: str
    verdict: str
    basis: str
    grade: int | None = None
    reading: Decimal | None = None
    unit: str = ""
    note: str = ""
    flag: str = ""  # what the published limit says of it, open or cleared

    @property
    def name(self) -> str:
        return CHECK_NAMES.get(self.code, self.code)

    @property
    def seen(self) -> bool:
        return self.verdict != Verdict.NOT_SEEN and self.basis not in {Basis.NOT_ESTABLISHED, Basis.PRESUMED}

    @property
    def is_fault(self) -> bool:
        return bool(self.flag) or (self.grade is not None and self.grade <= Grade.NEEDS_REPAIR)


@dataclass(frozen=True, kw_only=True)
class PartSaid:
    code: str
    standing: str
    basis: str
    as_found: str = ""
    as_built: str = ""
    as_built_basis: str = Basis.NOT_ESTABLISHED
    number: str = ""
    number_basis: str = Basis.NOT_ESTABLISHED
    not_fitted: bool = False
    contradicted: bool = False  # said to be original, which its date or a modification contradicts


@dataclass(frozen=True, kw_only=True)
class ChangeSaid:
    id: int
    kind: str
    what: str
    fitting: str
    basis: str
    where: str = ""
    workmanship: int | None = None
    papers: bool = False
    components: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class PaperSaid:
    id: int
    kind: str
    standing: str


@dataclass(frozen=True, kw_only=True)
class Record:
    """All that a description may rest on, as plain values."""

    year: int
    make: str
    model: str
    trim: str = ""
    body: str = ""
    engine: str = ""
    transmission: str = ""
    color: str = ""
    build_class: str = ""
    title_brand: str = ""
    serial: str = ""
    serial_kind: str = ""
    mileage: int | None = None
    odometer_status: str = OdometerStatus.NOT_STATED
    highest_earlier_mileage: int | None = None
    inspected: bool = False  # an inspection is finished: somebody stood before the vehicle
    keys: int | None = None  # as counted on a signed arrival receipt
    built: str = ""
    built_basis: str = Basis.NOT_ESTABLISHED
    asked: frozenset[str] = frozenset()
    checks: tuple[CheckSaid, ...] = ()
    parts: tuple[PartSaid, ...] = ()
    never_had: frozenset[str] = frozenset()
    changes: tuple[ChangeSaid, ...] = ()
    papers: tuple[PaperSaid, ...] = ()
    other_flags: tuple[tuple[str, str], ...] = ()  # key and text, of figures

    @property
    def name(self) -> str:
        return " ".join(str(part) for part in (self.year, self.make, self.model, self.trim) if part)

    @cached_property
    def check(self) -> Mapping[str, CheckSaid]:
        return {one.code: one for one in self.checks}

    @cached_property
    def part(self) -> Mapping[str, PartSaid]:
        return {one.code: one for one in self.parts}

    @property
    def paper_read(self) -> bool:
        return any(paper.standing == PaperStanding.READ for paper in self.papers)

    @cached_property
    def unseen(self) -> list[str]:
        """Checks that apply and that nobody looked at, in walking order; what nobody answered is one of them."""
        return [
            code
            for code in CHECKS
            if (code in self.asked or code in self.check) and not (code in self.check and self.check[code].seen)
        ]

    @cached_property
    def faults(self) -> list[CheckSaid]:
        return [one for one in self.checks if one.is_fault]


@dataclass(frozen=True)
class Sentence:
    """One sentence, what it rests on, and which record says so."""

    text: str
    basis: str
    source: str
    edited: bool = False

    @property
    def basis_label(self) -> str:
        return Basis(self.basis).label if self.basis else "typed"


@dataclass(frozen=True)
class Section:
    code: str
    title: str
    sentences: tuple[Sentence, ...]


def character_of(record: Record) -> Character:
    """A vehicle whose engine or transmission is missing, which does not start, or of which many things failed, is an
    unfinished project whatever else it is; a replica is one before it is a custom."""
    gone = [code for code in ("engine", "transmission") if _is_missing(record, code)]
    turned = record.check.get("cold_start.first_turn")
    dead = turned is not None and turned.grade == Grade.FAILED
    graded = [one for one in record.checks if one.grade is not None]
    failed = [one for one in graded if one.grade == Grade.FAILED]
    bad = [one for one in graded if one.is_fault]
    if gone or dead or len(failed) >= 6 or (len(bad) >= 8 and len(bad) * 3 >= len(graded)):
        return Character.PROJECT
    if record.build_class == BuildClass.REPLICA:
        return Character.REPLICA
    cut = any(change.fitting == Fitting.CUT_OR_WELDED for change in record.changes)
    if record.build_class == BuildClass.MODIFIED or (not record.build_class and (cut or len(record.changes) >= 4)):
        return Character.CUSTOM
    return _BY_CLASS.get(record.build_class, Character.UNKNOWN)


def _is_missing(record: Record, code: str) -> bool:
    part = record.part.get(code)
    return part is not None and part.standing == Standing.MISSING and part.basis != Basis.PRESUMED


_BY_CLASS: dict[str, Character] = {BuildClass.SURVIVOR: Character.SURVIVOR, BuildClass.RESTORED: Character.RESTORED}
