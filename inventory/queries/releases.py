"""The receipt of whoever took a vehicle away: what stands on its paper, and the paper as it is kept."""

import uuid
from dataclasses import dataclass

from django.core.files import File
from django.utils import timezone

from inventory.errors import NotFound
from inventory.models import Consignment, Release
from inventory.papers.parts import SignaturePrinted
from inventory.papers.release_receipt import ReleaseReceiptPaper
from inventory.queries import facts
from inventory.rules import odometer, releases
from inventory.rules.states import State
from inventory.rules.words import Collector, SignedBy


@dataclass(frozen=True, kw_only=True)
class Leaving:
    """What the page of a release shows first: to whom it goes and what is known of it."""

    sold: bool
    to: str  # the buyer, or the consignor of a withdrawn one
    collectors: tuple[Collector, ...]


def leaving(stay: Consignment) -> Leaving | None:
    """None where nothing can be released: neither sold nor withdrawn, or gone already."""
    if stay.released_on is not None or stay.state not in {State.SOLD, State.SETTLED, State.WITHDRAWN}:
        return None
    sold = stay.state != State.WITHDRAWN
    return Leaving(sold=sold, to=_goes_to(stay, sold=sold), collectors=releases.collectors(sold=sold))


def _goes_to(stay: Consignment, *, sold: bool) -> str:
    deal = facts.live_deal(stay) if sold else None
    name: str = deal.buyer if deal else stay.consignor.name
    return name


def release_of(stay: Consignment) -> Release | None:
    return Release.objects.filter(consignment=stay).first()


def release(code: uuid.UUID) -> Release:
    row = Release.objects.select_related("consignment").filter(code=code).first()
    if row is None:
        raise _no_such_release(code)
    return row


def _no_such_release(code: uuid.UUID) -> NotFound:
    return NotFound("not_found", "There is no such receipt.", field="release", got=str(code))


def release_of_stay(code: uuid.UUID, *, stay: Consignment) -> tuple[Release, bytes]:
    """The receipt of a vehicle that was handed back to its consignor, as it was signed."""
    row = release(code)
    if row.consignment_id != stay.pk or stay.state != State.RELEASED:
        raise _no_such_release(code)
    with release_content(row) as file:
        return row, file.read()


def release_content(row: Release) -> File[bytes]:
    """The stored paper, open for reading."""
    try:
        return row.file.open("rb")
    except (FileNotFoundError, ValueError) as problem:  # ValueError: a row without a file
        raise _no_such_release(row.code) from problem


def file_name(row: Release) -> str:
    return f"release-receipt-{row.consignment.stock_number}.pdf"


def release_paper(row: Release) -> ReleaseReceiptPaper:
    """What the paper of a release says, from its row alone and what it is of."""
    lot, made = facts.the_lot(), timezone.localtime(row.at).strftime("%Y-%m-%d %H:%M %Z")
    words = "" if row.signed == SignedBy.DRAWN else "Signed by typing the name."
    collector = SignaturePrinted(
        side="Received by", name=row.collected_by, signs_as=row.get_collector_display(), when=f"Signed {made}",
        strokes=row.strokes, words=words,
    )  # fmt: skip
    giver = SignaturePrinted(
        side="Handed over for the lot by", name=row.handed_over_by, words="Entered by the lot; not signed here."
    )
    return ReleaseReceiptPaper(
        lot_name=lot.name, lot_address=lot.address, stock_number=row.consignment.stock_number, made=f"Made {made}",
        facts=_facts(row), note=row.note, caution=releases.CAUTION, signatures=[collector, giver],
    )  # fmt: skip


def _facts(row: Release) -> list[tuple[str, str]]:
    stay, vehicle = row.consignment, row.consignment.vehicle
    sold = stay.state != State.RELEASED  # a sold one keeps its state when it leaves
    number = f"{vehicle.serial} ({vehicle.get_serial_kind_display()})" if vehicle.serial else "none seen"
    reading = releases.reading_told(row.mileage, status_told=odometer.MEANINGS[stay.odometer_status])
    return [
        ("Stock number", stay.stock_number),
        ("Vehicle", str(vehicle)),
        ("VIN or serial", number),
        ("Released on", str(row.on)),
        ("It leaves", "sold" if sold else "withdrawn by its consignor"),
        ("It goes to", f"{_goes_to(stay, sold=sold)}, {'the buyer' if sold else 'the consignor'}"),
        ("Collected by", f"{row.collected_by}, {row.get_collector_display()}"),
        ("Odometer", reading),
        ("Keys", "not counted" if row.keys_count is None else str(row.keys_count)),
    ]
