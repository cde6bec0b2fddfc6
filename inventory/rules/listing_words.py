"""Each sentence of a description, worded by its basis: none may be stronger than what it rests on.

Measured and seen are stated; documented says “per the papers or plate”; told says “the owner reports”; presumed says
“believed to be”; what is not established says so. *Not seen* is never an implied pass, and *no fault found* is told
as what it is: nobody found one when looking there.
"""

from collections.abc import Sequence
from decimal import Decimal

from inventory.rules.listing_names import PARTS, listed
from inventory.rules.listing_record import STRONG
from inventory.rules.receipts import odometer_told
from inventory.rules.words import (
    Basis,
    Fitting,
    Grade,
    ListingTone,
    OdometerStatus,
    PaperStanding,
    Standing,
    TitleBrand,
    TitleKind,
    Verdict,
)

_LEAD: dict[str, str] = {
    Basis.MEASURED: "",
    Basis.SEEN: "",
    Basis.DOCUMENTED: "Per the papers or plate: ",
    Basis.TOLD: "The owner reports: ",
    Basis.PRESUMED: "Believed to be so, and not verified: ",
    Basis.NOT_ESTABLISHED: "Not established: ",
}
"""In front of a text that somebody wrote and that cannot be bent into a clause."""

_INFINITIVE = {"is": "be", "are": "be"}


def capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def led(text: str, *, basis: str) -> str:
    """A text as it was written down, behind words that say what it rests on."""
    return f"{_LEAD[basis]}{capital(text.strip().rstrip('.'))}."


def claimed(subject: str, *, verb: str, rest: str, basis: str, tone: str = ListingTone.TELLING) -> str:
    """One statement about one thing: in a full sentence, or short."""
    if tone == ListingTone.PLAIN:
        return _short(capital(subject.removeprefix("the ")), rest=rest, basis=basis)
    if basis in STRONG:
        return f"{capital(subject)} {verb} {rest}."
    if basis == Basis.DOCUMENTED:
        return f"Per the papers or plate, {subject} {verb} {rest}."
    if basis == Basis.TOLD:
        return f"The owner reports that {subject} {verb} {rest}."
    if basis == Basis.PRESUMED:
        return f"{capital(subject)} {verb} believed to {_INFINITIVE[verb]} {rest}; nobody has verified it."
    return f"It is not established whether {subject} {verb} {rest}."


def _short(name: str, *, rest: str, basis: str) -> str:
    if basis in STRONG:
        return f"{name}: {rest}."
    if basis == Basis.DOCUMENTED:
        return f"{name}: {rest}, per the papers or plate."
    if basis == Basis.TOLD:
        return f"{name}: the owner reports {rest}."
    if basis == Basis.PRESUMED:
        return f"{name}: believed to be {rest}."
    return f"{name}: not established."


_STANDS: dict[str, str] = {
    Standing.ORIGINAL: "original",
    Standing.SERVICE_REPLACEMENT: "of a kind used for service replacement",
    Standing.PERIOD_CORRECT: "of the right period, which does not say that it came with the vehicle",
    Standing.REPRODUCTION: "of reproduction make",
    Standing.NON_ORIGINAL: "not original",
    Standing.MISSING: "missing",
}


def part_sentence(
    codes: Sequence[str], *, standing: str, basis: str, as_found: str = "", tone: str = ListingTone.TELLING
) -> str:
    """The standing of one or several components that rest on the same; *not established* stays so on any basis."""
    names = [PARTS[code][0] for code in codes]
    verb = PARTS[codes[0]][1] if len(codes) == 1 else "are"
    if standing == Standing.NOT_ESTABLISHED or basis == Basis.NOT_ESTABLISHED:
        found = f" What is there: {as_found.strip().rstrip('.')}." if as_found and basis in STRONG else ""
        return f"It is not established whether {listed(names)} {verb} original.{found}"
    rest = _STANDS[standing] + (f" ({as_found.strip().rstrip('.')})" if as_found.strip() else "")
    return claimed(listed(names), verb=verb, rest=rest, basis=basis, tone=tone)


def as_built_sentence(code: str, *, what: str, basis: str) -> str:
    """What it left the factory with: that says nothing about what is there now."""
    return led(f"{PARTS[code][0]} as built: {what}", basis=basis)


def number_sentence(code: str, *, number: str, basis: str) -> str:
    return led(f"number on {PARTS[code][0]}: {number}", basis=basis)


_GRADED: dict[int, dict[str, str]] = {
    Grade.NO_FAULT: {
        Basis.MEASURED: "No fault was found when we looked at {names}.",
        Basis.SEEN: "No fault was found when we looked at {names}.",
        Basis.DOCUMENTED: "Per the papers, no fault was found at {names}; we did not look ourselves.",
        Basis.TOLD: "The owner reports no fault at {names}; we did not look ourselves.",
        Basis.PRESUMED: "We did not look at {names}.",
    },
    Grade.LIGHT_WEAR: {
        Basis.MEASURED: "We found light wear at {names}.",
        Basis.SEEN: "We found light wear at {names}.",
        Basis.DOCUMENTED: "Per the papers, there is light wear at {names}; we did not look ourselves.",
        Basis.TOLD: "The owner reports light wear at {names}; we did not look ourselves.",
        Basis.PRESUMED: "We did not look at {names}.",
    },
    Grade.SERVICEABLE: {
        Basis.MEASURED: "We found wear or marks at {names}, still serviceable.",
        Basis.SEEN: "We found wear or marks at {names}, still serviceable.",
        Basis.DOCUMENTED: "Per the papers, there are wear or marks at {names}; we did not look ourselves.",
        Basis.TOLD: "The owner reports wear or marks at {names}; we did not look ourselves.",
        Basis.PRESUMED: "We did not look at {names}; wear or marks are believed to be there.",
    },
    Grade.NEEDS_REPAIR: {
        Basis.MEASURED: "Needs repair: {names}.",
        Basis.SEEN: "Needs repair: {names}.",
        Basis.DOCUMENTED: "Per the papers, in need of repair: {names}.",
        Basis.TOLD: "The owner reports, in need of repair: {names}.",
        Basis.PRESUMED: "Believed to be in need of repair: {names}.",
    },
    Grade.FAILED: {
        Basis.MEASURED: "Failed, or missing though it belongs there: {names}.",
        Basis.SEEN: "Failed, or missing though it belongs there: {names}.",
        Basis.DOCUMENTED: "Per the papers, failed or missing: {names}.",
        Basis.TOLD: "The owner reports, failed or missing: {names}.",
        Basis.PRESUMED: "Believed to be failed or missing: {names}.",
    },
}
_NOT_GRADED: dict[str, str] = {
    Verdict.DELETED_ON_PURPOSE: "taken out on purpose: {names}",
    Verdict.NOT_FITTED_WHEN_NEW: "not fitted when new: {names}",
}


def check_sentence(names: Sequence[str], *, verdict: str, grade: int | None, basis: str) -> str:
    """What was found at one or several places; where nobody looked, that nobody did."""
    said = listed(list(names))
    if verdict == Verdict.NOT_SEEN:
        return f"Not seen: {said}."
    if verdict != Verdict.GRADED or grade is None:
        return led(_NOT_GRADED[verdict].format(names=said), basis=basis)
    if basis == Basis.NOT_ESTABLISHED:
        return f"Not established: the state of {said}."
    return _GRADED[grade][basis].format(names=said)


def reading_sentence(name: str, *, reading: Decimal, unit: str, basis: str) -> str:
    return led(f"reading of {name}: {reading.normalize():f} {unit}", basis=basis)


def fault_note(sentence: str, *, note: str, flag: str, basis: str) -> str:
    """A fault with what was written beside it and what the published limit says, on the fault's own basis."""
    more = [led(text, basis=basis) for text in (note, flag) if text.strip()]
    return " ".join([sentence, *more])


_WORK: dict[int, str] = {
    Grade.NO_FAULT: "no fault was found in the work",
    Grade.LIGHT_WEAR: "the work is sound, with light marks",
    Grade.SERVICEABLE: "the work is plain and serviceable",
    Grade.NEEDS_REPAIR: "the work needs repair",
    Grade.FAILED: "the work has failed",
}


def change_sentence(what: str, *, where: str, fitting: str, workmanship: int | None, basis: str) -> str:
    """A deliberate change, how it is fitted and how well it was done."""
    place = f" ({where.strip()})" if where.strip() else ""
    fitted = "cut or welded" if fitting == Fitting.CUT_OR_WELDED else "bolted on"
    work = f"; {_WORK[workmanship]}" if workmanship is not None else ""
    return led(f"{what.strip().rstrip('.')}{place}, {fitted}{work}", basis=basis)


_BRANDED: dict[str, str] = {
    TitleBrand.CLEAN: "the title carries no brand",
    TitleBrand.SALVAGE: "the title is branded salvage",
    TitleBrand.REBUILT: "the title is branded rebuilt",
    TitleBrand.FLOOD: "the title is branded for flood damage",
    TitleBrand.LEMON: "the title says that it was returned under a lemon law",
    TitleBrand.OTHER: "the title carries a brand: ask us which",
}


def brand_sentence(brand: str, *, basis: str) -> str:
    return led(_BRANDED[brand], basis=basis) if brand else "Whether the title carries a brand is not established."


def paper_sentence(kind: str, *, standing: str) -> str:
    """A paper that was shown. It was seen; what it says is only as good as the paper."""
    name = TitleKind(kind).label
    if standing == PaperStanding.READ:
        return f"We have read this paper: {name}."
    if standing == PaperStanding.COPIED:
        return f"We have seen only a copy of this paper: {name}."
    return f"We doubt this paper, which was shown to us: {name}."


_MILEAGE: dict[str, tuple[str, str]] = {
    OdometerStatus.ACTUAL: (
        "The owner reports that the reading is the true mileage; we have not verified it.", Basis.TOLD,
    ),
    OdometerStatus.OVER_LIMIT: (
        "The owner reports that the odometer has passed its limit: the true mileage is more than it shows.", Basis.TOLD,
    ),
    OdometerStatus.NOT_ACTUAL: (
        "The owner reports that the reading is not the true mileage: do not rely on it.", Basis.TOLD,
    ),
    OdometerStatus.NOT_STATED: ("The true mileage is not established.", Basis.NOT_ESTABLISHED),
}  # fmt: skip


def reading_of_odometer(mileage: int, *, seen: bool) -> tuple[str, str]:
    """What the odometer shows, and on which basis that is known."""
    shown = odometer_told(mileage, reason="", status=OdometerStatus.NOT_STATED).split(";", maxsplit=1)[0]
    basis = Basis.SEEN if seen else Basis.TOLD
    return led(shown, basis=basis), basis


def mileage_sentence(status: str) -> tuple[str, str]:
    """What the reading is worth. It is never more than somebody's word here: no reading proves itself."""
    return _MILEAGE[status]
