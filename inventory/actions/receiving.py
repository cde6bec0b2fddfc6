"""A vehicle is taken in: the arrival receipt is signed, printed and kept, all in one transaction."""

import hashlib
import uuid
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from django.core.files.base import ContentFile
from django.db import transaction
from django.utils import timezone

from inventory.actions import logbook
from inventory.actions.recording import correct_consignment
from inventory.actions.writing import add, add_all, again, check_fields, locked
from inventory.errors import Refused, TooLate
from inventory.models import ArrivalReceipt, Consignment, Lot, ReceiptDamage, ReceiptItem
from inventory.papers.arrival_receipt import ArrivalReceiptPaper, arrival_receipt
from inventory.papers.parts import SignaturePrinted
from inventory.queries.facts import the_lot
from inventory.queries.receipts import latest_receipt
from inventory.rules import receipts
from inventory.rules.roles import Act, Actor, require
from inventory.rules.signatures import Signature, check_signature
from inventory.rules.words import SignedBy

KEEP, UPDATE = "keep", "update"
"""What to do with the file where the receipt says another reading: leave it, or change it to this one."""


@dataclass(frozen=True, kw_only=True)
class NewReceipt:
    """What is written on an arrival receipt. `replaces` is the number of the one that counted so far, 0 for none."""

    mileage: int | None
    no_reading_reason: str = ""
    odometer_status: str
    fuel: str
    keys_count: int
    damage: Sequence[tuple[str, str]] = ()
    items: Sequence[tuple[str, int]] = ()
    note: str = ""
    handed_over_by: str
    signs_as: str
    giver: Signature = field(default_factory=Signature)
    unsigned_reason: str = ""
    taken_in_by: str
    taker: Signature = field(default_factory=Signature)
    replaces: int = 0
    file_answer: str = ""


@transaction.atomic
def sign_receipt(
    consignment_id: int, *, receipt: NewReceipt, client_key: uuid.UUID | None = None, by: Actor, at: datetime
) -> ArrivalReceipt:
    """Sign one receipt: nothing of it is ever changed; what was wrong is put right by the next one."""
    require(by, Act.RECORD_FACTS)
    stay = locked(consignment_id)
    if (known := again(ArrivalReceipt, client_key=client_key)) is not None:
        return known
    earlier = latest_receipt(stay)
    arrived_on = _refuse_out_of_turn(stay, earlier=earlier, receipt=receipt)
    receipts.check_reading(receipt.mileage, reason=receipt.no_reading_reason)
    receipts.check_lines(receipt.damage, field="damage")
    receipts.check_lines(receipt.items, field="items")
    _answer_for_file(stay, receipt=receipt, by=by, at=at)
    row = ArrivalReceipt(
        consignment=stay, number=earlier.number + 1 if earlier else 1, follows=earlier, arrived_on=arrived_on,
        client_key=client_key, by=by.name, at=at, **_written(receipt), **_signatures(receipt, at=at),
    )  # fmt: skip
    damage, items = _lines(row, receipt=receipt)
    content = arrival_receipt(_paper(row, damage=damage, items=items, lot=the_lot()))
    row.sha256 = hashlib.sha256(content).hexdigest()
    row.file = ContentFile(content, name=f"{row.code}.pdf")  # written with the row, after every check
    check_fields([*damage, *items])
    add(row)
    add_all(damage)
    add_all(items)
    logbook.record("receipt.signed", row, by=by, at=at, consignment=stay, **_told(row, earlier=earlier))
    return row


def _refuse_out_of_turn(stay: Consignment, *, earlier: ArrivalReceipt | None, receipt: NewReceipt) -> date:
    """The day it arrived, if a receipt may be signed now."""
    if stay.arrived_on is None:
        raise Refused(
            "not_here_yet",
            f"{stay.stock_number} is {stay.get_state_display()} and has not arrived.",
            mend="Say in its file that it has arrived.",
        )
    if not stay.is_open:
        raise Refused("gone", f"{stay.stock_number} has left the lot.", mend="Its receipts stay as they are.")
    standing = earlier.number if earlier else 0
    if receipt.replaces != standing:
        raise TooLate(
            "stale_version",
            f"Receipt {standing} of {stay.stock_number} was signed since you looked.",
            field="replaces",
            got=receipt.replaces,
            mend="Look at it first; if it is wrong, open the form again to replace it.",
        )
    return stay.arrived_on


def _answer_for_file(stay: Consignment, *, receipt: NewReceipt, by: Actor, at: datetime) -> None:
    question = receipts.odometer_question(
        receipt.mileage, status=receipt.odometer_status, on_file=stay.mileage, status_on_file=stay.odometer_status
    )
    if question and receipt.file_answer not in {KEEP, UPDATE}:
        raise Refused(
            "odometer_differs", question, field="mileage", got=receipt.mileage,
            mend="If it is right as it stands, say below what the file shall say.",
        )  # fmt: skip
    if question and receipt.file_answer == UPDATE:
        values = {"mileage": receipt.mileage, "odometer_status": receipt.odometer_status}
        correct_consignment(stay.pk, values=values, by=by, at=at)


def _written(receipt: NewReceipt) -> dict[str, Any]:
    return {
        "mileage": receipt.mileage, "no_reading_reason": receipt.no_reading_reason.strip(),
        "odometer_status": receipt.odometer_status, "fuel": receipt.fuel, "keys_count": receipt.keys_count,
        "note": receipt.note.strip(), "handed_over_by": receipt.handed_over_by.strip(),
        "signs_as": receipt.signs_as, "taken_in_by": receipt.taken_in_by.strip(),
    }  # fmt: skip


def _signatures(receipt: NewReceipt, *, at: datetime) -> dict[str, Any]:
    """The lot always signs. The other side signs, or the receipt says why not: never both."""
    taker_signed, taker_strokes = check_signature(receipt.taker, name=receipt.taken_in_by, field="taker_strokes")
    ours = {"taker_signed": taker_signed, "taker_strokes": taker_strokes}
    reason = receipt.unsigned_reason.strip()
    if not reason:
        signed, strokes = check_signature(receipt.giver, name=receipt.handed_over_by, field="giver_strokes")
        return {**ours, "giver_signed": signed, "giver_strokes": strokes, "signed_at": at}
    if receipt.giver.strokes or receipt.giver.typed:
        raise Refused(
            "signed_and_not",
            "The other side has signed, and the receipt also says why it did not.",
            field="unsigned_reason",
            got=reason,
            mend="Keep one of the two.",
        )
    return {**ours, "giver_signed": SignedBy.NOT_SIGNED, "unsigned_reason": reason}


def _lines(row: ArrivalReceipt, *, receipt: NewReceipt) -> tuple[list[ReceiptDamage], list[ReceiptItem]]:
    damage = [
        ReceiptDamage(receipt=row, position=place, where=where.strip(), what=what.strip())
        for place, (where, what) in enumerate(receipt.damage, start=1)
    ]
    items = [
        ReceiptItem(receipt=row, position=place, what=what.strip(), count=count)
        for place, (what, count) in enumerate(receipt.items, start=1)
    ]
    return damage, items


def _paper(
    row: ArrivalReceipt, *, damage: list[ReceiptDamage], items: list[ReceiptItem], lot: Lot
) -> ArrivalReceiptPaper:
    stay, made = row.consignment, _moment(row.at)
    earlier = row.follows
    return ArrivalReceiptPaper(
        lot_name=lot.name, lot_address=lot.address, stock_number=stay.stock_number, number=row.number,
        replaces=f"Replaces no. {earlier.number} of {_moment(earlier.at)}." if earlier else "",
        made=f"Made {made}", facts=_facts(row), note=row.note, caution=receipts.CAUTION,
        damage=[(line.where, line.what) for line in damage], items=[(line.what, line.count) for line in items],
        signatures=[
            _side(
                "Handed over by", row.handed_over_by, how=row.giver_signed, strokes=row.giver_strokes, when=made,
                signs_as=row.get_signs_as_display(), reason=row.unsigned_reason,
            ),
            _side("Taken in for the lot by", row.taken_in_by, how=row.taker_signed, strokes=row.taker_strokes,
                  when=made),
        ],
    )  # fmt: skip


def _facts(row: ArrivalReceipt) -> list[tuple[str, str]]:
    vehicle = row.consignment.vehicle
    number = f"{vehicle.serial} ({vehicle.get_serial_kind_display()})" if vehicle.serial else "none seen"
    built = [("Year built", str(vehicle.year_built))] if vehicle.year_built else []
    return [
        ("Stock number", row.consignment.stock_number),
        ("Vehicle", str(vehicle)),
        *built,
        ("VIN or serial", number),
        ("Arrived on", str(row.arrived_on)),
        (
            "Odometer",
            receipts.odometer_told(row.mileage, reason=row.no_reading_reason, status=row.odometer_status),
        ),
        ("Fuel", row.get_fuel_display()),
        ("Keys", str(row.keys_count)),
        ("Handed over by", f"{row.handed_over_by}, {row.get_signs_as_display()}"),
        ("Consignor", row.consignment.consignor.name),
        ("Taken in by", row.taken_in_by),
    ]


def _side(
    side: str, name: str, *, how: str, strokes: Any, when: str, signs_as: str = "", reason: str = ""
) -> SignaturePrinted:
    if how == SignedBy.NOT_SIGNED:
        words = f"Not signed by the other side, because: {reason}"
        return SignaturePrinted(side=side, name=name, signs_as=signs_as, words=words)
    words = "Signed by typing the name." if how == SignedBy.TYPED else ""
    return SignaturePrinted(
        side=side, name=name, signs_as=signs_as, when=f"Signed {when}", strokes=strokes, words=words
    )


def _moment(at: datetime) -> str:
    return timezone.localtime(at).strftime("%Y-%m-%d %H:%M %Z")


def _told(row: ArrivalReceipt, *, earlier: ArrivalReceipt | None) -> dict[str, Any]:
    unsigned = f"; not signed by the other side: {row.unsigned_reason}" if row.unsigned_reason else ""
    return {
        "number": row.number, "replacing": f" in place of {earlier.number}" if earlier else "",
        "giver": row.handed_over_by, "taker": row.taken_in_by, "unsigned": unsigned, "sha256": row.sha256,
    }  # fmt: skip
