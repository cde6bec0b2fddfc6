"""The words of the printed papers: no statement stronger than what it rests on, nothing left blank."""

from collections.abc import Sequence
from datetime import date
from decimal import Decimal

from inventory.rules.money import show
from inventory.rules.odometer import MEANINGS
from inventory.rules.words import Basis, Fitting, Grade, Standing, Verdict

DECIDES = "The software flags; a licensed inspector or mechanic decides. Check local law."
LAWYER = "To be reviewed by a lawyer under local law before anybody signs."
NOT_ESTABLISHED = "not established"
NOT_GUARANTEED = (
    "What stands here is what the lot has measured, seen, read or been told, and says which. It is no guarantee of "
    "what nobody has looked at; see the vehicle, and have it looked at by somebody you trust."
)
NET_SHEET = (
    "Worked out by these terms from the charges and the lien as they stand on that day. It shows what the terms "
    "would do; it is no promise of a price."
)
BUYERS_SIDE = (
    "Sales tax, title and registration fees that the buyer pays beside the price are the buyer's, and are no part of "
    "this statement."
)
NO_INSURANCE = "Nothing is recorded about who insures the vehicle while it is at the lot."
SIGNED_COPY = "The paper that was signed counts; this is a print of what the lot recorded."

_WORDED: dict[str, str] = {
    Basis.MEASURED: "{} (measured)",
    Basis.SEEN: "{} (seen)",
    Basis.DOCUMENTED: "{}, per its papers",
    Basis.TOLD: "the owner reports: {}",
    Basis.PRESUMED: "believed to be: {}",
}


def based(text: str, *, basis: str, claim: bool = False) -> str:
    """The text as its basis allows. A `claim` (what an engine is, say) is never made on a guess: then it is left open.

    An unknown or empty basis is *not established*.
    """
    if not text.strip() or basis not in _WORDED or (claim and basis == Basis.PRESUMED):
        return NOT_ESTABLISHED
    return _WORDED[basis].format(text.strip())


CLAIMS = frozenset({"engine", "frame", "body_shell", "heads"})
"""Components whose identity a guess may not carry."""


def component_told(component: str, *, standing: str, as_found: str, basis: str, not_fitted: bool = False) -> str:
    """What is there and how it stands, as the ledger's line allows."""
    if not_fitted:
        return based("never had one", basis=basis)
    known = [] if standing == Standing.NOT_ESTABLISHED else [str(Standing(standing).label)]
    return based(", ".join([*filter(None, [as_found.strip()]), *known]), basis=basis, claim=component in CLAIMS)


def as_entered(text: str) -> str:
    """A fact of the file whose basis nobody recorded."""
    return f"{text.strip()}, as entered at intake and not verified" if text.strip() else NOT_ESTABLISHED


def odometer_said(mileage: int | None, *, status: str) -> str:
    """The reading and what may be said of it; without a reading the status would speak of nothing."""
    if mileage is None:
        return "No reading is recorded."
    return f"Shows {mileage:,} miles. {MEANINGS[status]}"


def title_said(brand: str, *, read_on: date | None) -> str:
    """The brand as recorded, and whether any paper of ownership was read."""
    paper = f"A paper of ownership was read on {read_on}." if read_on else "No paper of ownership has been read yet."
    return f"{_capital(brand)}, as the lot recorded it. {paper}" if brand else f"Not known to the lot. {paper}"


def serial_said(serial: str, *, kind: str, numbers: Sequence[tuple[str, str, str, str]]) -> str:
    """The number of the file, and where it was read on what basis. `numbers`: place, value, basis, its label."""
    if not serial:
        return "None seen."
    same = [f"{place} ({label})" for place, value, basis, label in numbers if value == serial and basis in _WORDED]
    other = [f"{place} says {value}" for place, value, basis, _ in numbers if value != serial and basis in _WORDED]
    read = f"; read on: {', '.join(dict.fromkeys(same))}" if same else "; not read off the vehicle yet"
    return f"{serial} ({kind}){read}{'. ' + '; '.join(other) if other else ''}"


def modification_said(
    what: str, *, where: str = "", material: str = "", fitting: str, workmanship: int | None, basis: str,
    papers: bool = False,
) -> str:  # fmt: skip
    """One deliberate change in one line."""
    judged = "workmanship not judged" if workmanship is None else f"workmanship graded {workmanship} of 4"
    parts = [what, where, material, str(Fitting(fitting).label), judged, "papers seen" if papers else ""]
    return _capital(based(", ".join(part.strip() for part in parts if part.strip()), basis=basis))


def found_said(*, verdict: str, grade: int | None, basis: str) -> str:
    """What one check found, in words; a check that nobody made is never a pass."""
    if grade is None:
        return {Verdict.NOT_SEEN.value: "NOT SEEN"}.get(verdict, _capital(str(Verdict(verdict).label)))
    return _capital(based(f"{grade}, {Grade(grade).label}", basis=basis))


NOT_LOOKED_AT = "NOT SEEN: nobody looked"


def fault_said(wording: str, *, grade: int, reading: str = "") -> str:
    return f"{wording}: {Grade(grade).label}{', ' + reading if reading else ''}"


def flag_said(where: str, *, message: str, section: str) -> str:
    cited = f" ({section})" if section and section not in message else ""
    return f"{where}: {message}{cited}"


def cleared_said(where: str, *, by: str, on: date, reason: str) -> str:
    return f"{where}: flag cleared by {by} on {on}, because: {reason}"


def interval_said(low: Decimal | None, *, high: Decimal | None) -> str:
    """An interval of 0 to 100; what was not seen is what widens it."""
    if low is None or high is None:
        return NOT_ESTABLISHED
    ends = f"{_plain(low)} of 100" if low == high else f"from {_plain(low)} to {_plain(high)} of 100"
    return f"{ends}; what nobody saw or established widens it"


def due_told(due: Decimal, *, is_reversal: bool = False) -> tuple[str, str]:
    """The sum of a statement: whose it is, and how much."""
    if is_reversal:
        return "Sum taken back", show(due)
    return ("Due from the consignor", show(-due)) if due < 0 else ("Due to the consignor", show(due))


def accepted_told(by: str, *, on: date, how: str) -> str:
    return f"Accepted on {on} by {by} ({how}). The exact text that was agreed to:"


def _plain(value: Decimal) -> str:
    return f"{value.normalize():f}"


def _capital(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"
