"""The spec sheet of a vehicle for sale: each value with what it rests on."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from inventory.rules import odometer
from inventory.rules.listing import brand_basis
from inventory.rules.listing_record import SENSITIVE_PARTS, Record
from inventory.rules.words import Basis, BuildClass, OdometerStatus, SerialKind, TitleBrand

RESTS_ON: dict[str, str] = {
    Basis.MEASURED: "measured by us",
    Basis.SEEN: "seen by us",
    Basis.DOCUMENTED: "per the papers or plate",
    Basis.TOLD: "the owner reports",
    Basis.PRESUMED: "believed to be, not verified",
    Basis.NOT_ESTABLISHED: "not established",
}
NOT_KNOWN = "Not established"


@dataclass(frozen=True)
class Spec:
    """One row: what, its value, and its basis in words."""

    code: str
    label: str
    value: str
    basis: str

    @property
    def rests_on(self) -> str:
        return RESTS_ON[self.basis]

    @property
    def said(self) -> str:
        """The value for readers that have no column for its basis: softened where it is not known at first hand."""
        weak = self.basis not in {Basis.MEASURED, Basis.SEEN, Basis.DOCUMENTED}
        return f"{self.value} ({self.rests_on})" if weak else self.value


def spec_sheet(record: Record) -> tuple[Spec, ...]:
    """All that is known, and by name what is not."""
    titled = Basis.DOCUMENTED if record.paper_read else Basis.TOLD
    looked = Basis.SEEN if record.inspected else Basis.TOLD
    rows = [
        Spec("year", "Model year, as titled", str(record.year), titled),
        Spec("make", "Make", record.make, titled),
        Spec("model", "Model", " ".join(part for part in (record.model, record.trim) if part), titled),
        _spec("body", "Body", record.body, looked),
        _of_part(record, code="engine", label="Engine", typed=record.engine),
        _of_part(record, code="transmission", label="Transmission", typed=record.transmission),
        _spec("color", "Colour", record.color, looked),
        _spec("build_class", "Classed by us as", _label(BuildClass, record.build_class), looked),
        _mileage(record, looked=looked),
        _spec("odometer_status", "Odometer status", OdometerStatus(record.odometer_status).label, _status(record)),
        _spec("title_brand", "Title brand", _label(TitleBrand, record.title_brand), brand_basis(record)),
    ]
    if record.serial:
        kind = "VIN" if record.serial_kind == SerialKind.VIN else "Serial number"
        rows.append(Spec("serial", kind, record.serial, titled))
    return tuple(rows)


def _label(words: type[BuildClass] | type[TitleBrand], value: str) -> str:
    return str(words(value).label) if value else ""


def _spec(code: str, label: str, value: str, basis: str) -> Spec:
    return Spec(code, label, value, basis) if value else Spec(code, label, NOT_KNOWN, Basis.NOT_ESTABLISHED)


def _status(record: Record) -> str:
    return Basis.NOT_ESTABLISHED if record.odometer_status == OdometerStatus.NOT_STATED else Basis.TOLD


def _mileage(record: Record, *, looked: str) -> Spec:
    shown = "" if record.mileage is None else f"{record.mileage:,} miles"
    return _spec("mileage", "Odometer shows", shown, looked)


def _of_part(record: Record, *, code: str, label: str, typed: str) -> Spec:
    """What was found on the part, on its own basis; what was typed when it was logged is the owner's word."""
    part = record.part.get(code)
    if part is None or not part.as_found or part.basis == Basis.NOT_ESTABLISHED:
        return _spec(code, label, typed, Basis.TOLD)
    if part.basis == Basis.PRESUMED and code in SENSITIVE_PARTS:  # a belief would be the lot's own claim
        return _spec(code, label, typed, Basis.TOLD)
    return Spec(code, label, part.as_found, part.basis)


def reminders(record: Record, *, today: date) -> Iterable[str]:
    """What a buyer should know about readings and words."""
    yield "Inspect the vehicle before you buy, or have somebody inspect it for you."
    yield "Equipment, numbers and history are described as far as each sentence says what it rests on."
    free = odometer.exemption(record.year, sold_on=today)
    if not free.exempt:
        yield "A written odometer disclosure comes with the sale (49 CFR 580). Read it before you sign."
