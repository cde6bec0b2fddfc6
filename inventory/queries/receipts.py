"""The arrival receipts of one stay, and the stored paper of each."""

import uuid
from dataclasses import dataclass
from datetime import datetime

from django.core.files import File

from inventory.errors import NotFound
from inventory.models import ArrivalReceipt, Consignment


@dataclass(frozen=True, kw_only=True)
class ReceiptSeen:
    """One receipt in the list: the first counts, the others were replaced."""

    code: uuid.UUID
    number: int
    at: datetime
    signed: bool
    replaced: bool


def latest_receipt(stay: Consignment) -> ArrivalReceipt | None:
    rows = ArrivalReceipt.objects.filter(consignment=stay)
    return rows.prefetch_related("damage", "items").order_by("-number").first()


def receipts_seen(stay: Consignment) -> tuple[ReceiptSeen, ...]:
    """Newest first; only the newest stands."""
    rows = ArrivalReceipt.objects.filter(consignment=stay).order_by("-number")
    told = rows.values_list("code", "number", "at", "signed_at")
    return tuple(
        ReceiptSeen(code=code, number=number, at=at, signed=signed_at is not None, replaced=place > 0)
        for place, (code, number, at, signed_at) in enumerate(told)
    )


def receipt(code: uuid.UUID, *, stay: Consignment | None = None) -> ArrivalReceipt:
    """One receipt; with `stay` only if it is of that stay."""
    rows = ArrivalReceipt.objects.select_related("consignment").filter(code=code)
    row = (rows if stay is None else rows.filter(consignment=stay)).first()
    if row is None:
        raise _no_such_receipt(code)
    return row


def receipt_content(row: ArrivalReceipt) -> File[bytes]:
    """The stored paper, open for reading."""
    try:
        return row.file.open("rb")
    except FileNotFoundError as problem:
        raise _no_such_receipt(row.code) from problem


def file_name(row: ArrivalReceipt) -> str:
    return f"arrival-receipt-{row.consignment.stock_number}-{row.number}.pdf"


def _no_such_receipt(code: uuid.UUID) -> NotFound:
    return NotFound("not_found", "There is no such receipt.", field="receipt", got=str(code))
