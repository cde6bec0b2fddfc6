"""What the record has for a claim: how strongly it bears it, on which basis, and why."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from enum import IntEnum

from inventory.rules.catalogue import CHECKS
from inventory.rules.claim_words import HIT_WORDS, RUST_WORDS, SUBJECTS
from inventory.rules.listing_names import CHECK_NAMES, PARTS, listed
from inventory.rules.listing_record import STRONG, ChangeSaid, CheckSaid, Record
from inventory.rules.words import Basis, BuildClass, Grade, OdometerStatus, PaperStanding, Standing, TitleBrand


class Strength(IntEnum):
    """How strongly something is said, or borne. Nothing may be said more strongly than it is borne."""

    UNKNOWN = 0
    BELIEVED = 1
    ATTRIBUTED = 2
    ON_PAPER = 3
    ASSERTED = 4


CONTRADICTED = -1

BORNE: dict[str, Strength] = {
    Basis.NOT_ESTABLISHED: Strength.UNKNOWN,
    Basis.PRESUMED: Strength.BELIEVED,
    Basis.TOLD: Strength.ATTRIBUTED,
    Basis.DOCUMENTED: Strength.ON_PAPER,
    Basis.SEEN: Strength.ASSERTED,
    Basis.MEASURED: Strength.ASSERTED,
}
MOST_NAMES = 6


@dataclass(frozen=True)
class Held:
    """What the record has of one subject."""

    subject: str
    strength: int
    basis: str
    why: str
    mended: str = ""


def _on(basis: str) -> str:
    return f"on record it is {Basis(basis).label}"


def part(record: Record, *, code: str, by_number: bool = False) -> Held:
    """Whether a component is the one the vehicle was built with. A claim by numbers needs the number read."""
    name, row = PARTS[code][0], record.part.get(code)
    if row is None or row.standing == Standing.NOT_ESTABLISHED or row.not_fitted:
        return Held(name, Strength.UNKNOWN, Basis.NOT_ESTABLISHED, "nothing is established of it")
    if row.contradicted:
        return Held(name, CONTRADICTED, row.basis, "what is recorded of it contradicts itself")
    if row.standing != Standing.ORIGINAL:
        standing = Standing(row.standing).label
        against = BORNE[row.basis] >= Strength.ATTRIBUTED
        return Held(
            name, CONTRADICTED if against else Strength.UNKNOWN, row.basis, f"it is recorded as {standing}"
        )  # fmt: skip
    read = row.number != "" and row.number_basis in STRONG
    if by_number and not read:
        most = min(BORNE[row.basis], Strength.ATTRIBUTED)
        return Held(name, most, row.basis, f"{_on(row.basis)}, and its number was not read off the part")
    return Held(name, BORNE[row.basis], row.basis, _on(row.basis))


def as_built(record: Record, *, code: str) -> Held:
    row = record.part.get(code)
    if row is None or not row.as_built:
        return part(record, code=code)
    return Held(
        f"{PARTS[code][0]} as built", BORNE[row.as_built_basis], row.as_built_basis, _on(row.as_built_basis)
    )  # fmt: skip


def all_parts(record: Record) -> Held:
    """Originality of the whole: as weak as its weakest component."""
    told = [part(record, code=code) for code in PARTS if code in record.part and not record.part[code].not_fitted]
    weakest = min(told, key=lambda held: held.strength, default=None)
    if record.changes:
        return Held("the whole vehicle", CONTRADICTED, Basis.SEEN, f"“{record.changes[0].what}” was changed")
    if weakest is None or len(told) < len(PARTS) // 2:
        return Held("the whole vehicle", Strength.UNKNOWN, Basis.NOT_ESTABLISHED, "most components have no line")
    return Held("the whole vehicle", weakest.strength, weakest.basis, f"{weakest.subject}: {weakest.why}")


def unmodified(record: Record) -> Held:
    whole = all_parts(record)
    return Held("modifications", whole.strength, whole.basis, whole.why)


# condition


def checks(record: Record, *, codes: Iterable[str], subject: str) -> Held:
    """All of these were looked at without finding a fault, or else."""
    asked = [code for code in codes if code in record.asked or code in record.check]
    rows = [record.check.get(code) for code in asked]
    bad = [row for row in rows if row is not None and row.is_fault]
    if bad:
        return Held(subject, CONTRADICTED, bad[0].basis, f"a fault was found at {bad[0].name}")
    weakest = min((_borne(row) for row in rows), default=Strength.UNKNOWN)
    open_ones = [code for code, row in zip(asked, rows, strict=True) if _borne(row) < Strength.ASSERTED]
    fine = [code for code in asked if code not in open_ones]
    names = [CHECK_NAMES[one] for one in fine[:MOST_NAMES]]
    mended = f"No fault was found when we looked at {listed(names)}." if names else ""
    basis = Basis.SEEN if weakest == Strength.ASSERTED else Basis.NOT_ESTABLISHED
    why = (
        f"{len(open_ones)} of {len(asked)} checks of it were not seen or found wear"
        if asked
        else "no check speaks of it"
    )
    return Held(subject, weakest, basis, why, mended)


def _borne(row: CheckSaid | None) -> Strength:
    if row is None or row.grade != Grade.NO_FAULT:
        return Strength.UNKNOWN
    return BORNE[row.basis]


_RUST = [code for code, check in CHECKS.items() if RUST_WORDS.search(check.wording)]
_HIT = [code for code, check in CHECKS.items() if HIT_WORDS.search(check.wording)]


def rust(record: Record) -> Held:
    return checks(record, codes=_RUST, subject="rust")


def hits(record: Record) -> Held:
    return checks(record, codes=_HIT, subject="accidents and damage")


_STATE_OF: dict[str, tuple[str, ...]] = {
    "engine": ("cold_start.", "engine_bay."),
    "transmission": ("road_test.automatic", "road_test.manual", "road_test.noises"),
    "paint": ("front.paint", "left_side.paint", "right_side.paint", "rear.paint"),
    "interior_trim": ("interior.",),
    "dash": ("interior.dash", "interior.switches"),
    "front_brakes": ("road_test.pedal", "road_test.stopping", "underside.brake", "engine_bay.master", "tyres.lining"),
    "glass": ("glass.",),
    "frame": ("underside.frame", "underside.unit_body"),
    "wheels": ("tyres.",),
    "suspension": ("underside.suspension", "underside.dampers", "road_test.handling"),
    "steering": ("interior.steering", "underside.linkage", "road_test.free", "road_test.power_steering"),
}


def state(record: Record, *, parts: Collection[str]) -> Held:
    """The state of what a sentence names, else of the whole vehicle."""
    named = [code for code in _STATE_OF if code in parts]
    starts = tuple(start for code in named for start in _STATE_OF[code])
    subject = f"the state of {listed([PARTS[code][0] for code in named])}" if named else "the state of the vehicle"
    return checks(record, codes=[code for code in CHECKS if not starts or code.startswith(starts)], subject=subject)


# papers, people, miles, work


def title(record: Record) -> Held:
    if not record.title_brand:
        return Held("the title", Strength.UNKNOWN, Basis.NOT_ESTABLISHED, "its brand is not established")
    if record.title_brand != TitleBrand.CLEAN:
        return Held(
            "the title", CONTRADICTED, Basis.DOCUMENTED, f"it is branded {TitleBrand(record.title_brand).label}"
        )
    basis = Basis.DOCUMENTED if record.paper_read else Basis.TOLD
    return Held("the title", BORNE[basis], basis, _on(basis))


def pedigree(record: Record) -> Held:
    """Owners, history and rarity: the record holds none of it, unless papers of it were read and looked through."""
    records = record.check.get("paperwork.records")
    looked = records is not None and records.basis in STRONG and (records.grade or 0) >= Grade.SERVICEABLE
    if looked and any(paper.standing == PaperStanding.READ for paper in record.papers):
        return Held("owners and history", Strength.ON_PAPER, Basis.DOCUMENTED, "it can rest on the papers at most")
    return Held("owners and history", Strength.UNKNOWN, Basis.NOT_ESTABLISHED, "no paper stands behind it")


def cost(record: Record) -> Held:
    if any(change.papers for change in record.changes):
        return Held("what the work cost", Strength.ON_PAPER, Basis.DOCUMENTED, "it can rest on the papers at most")
    return Held("what the work cost", Strength.UNKNOWN, Basis.NOT_ESTABLISHED, "no paper of it was seen")


def restoration(record: Record, *, verb: str, parts: Collection[str], degree: bool) -> Held:
    """Work that was done. How complete a restoration was is nothing that can be seen: papers at most."""
    stem = verb.replace("-", "")[:7]
    seen = [
        change
        for change in record.changes
        if stem and stem in change.what.lower().replace("-", "") and (not parts or _parts_of(change) & set(parts))
    ]
    best = max((change.basis for change in seen), key=lambda basis: BORNE[basis], default="")
    if best and not degree:
        return Held("the work done", BORNE[best], best, _on(best))
    if any(change.papers for change in record.changes):
        return Held("the work done", Strength.ON_PAPER, Basis.DOCUMENTED, "it can rest on the papers at most")
    if record.build_class == BuildClass.RESTORED:
        return Held("the work done", Strength.ATTRIBUTED, Basis.TOLD, "no paper of it was seen")
    return Held("the work done", Strength.UNKNOWN, Basis.NOT_ESTABLISHED, "nothing of it is recorded")


def _parts_of(change: ChangeSaid) -> set[str]:
    return {code for code, said in SUBJECTS.items() if said.search(change.what.lower())} | set(change.components)


def mileage(record: Record) -> Held:
    """An odometer proves no mileage: at best somebody states it."""
    if record.odometer_status == OdometerStatus.ACTUAL:
        return Held("the mileage", Strength.ATTRIBUTED, Basis.TOLD, "the owner states it, and nobody has verified it")
    if record.odometer_status == OdometerStatus.NOT_STATED:
        return Held("the mileage", Strength.UNKNOWN, Basis.NOT_ESTABLISHED, "its status is not stated")
    label = OdometerStatus(record.odometer_status).label
    return Held("the mileage", CONTRADICTED, Basis.TOLD, f"the reading is stated to be {label}")


def other_reading(record: Record) -> Held:
    return Held("the odometer", CONTRADICTED, Basis.SEEN, f"it shows {record.mileage:,} miles")
