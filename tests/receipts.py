"""Arrival receipts for tests: signed by invented hands."""

from datetime import datetime
from typing import Any

from inventory.actions import receiving
from inventory.actions.receiving import NewReceipt
from inventory.models import ArrivalReceipt, Consignment
from inventory.rules.signatures import Signature
from tests import build

HAND = [[[100, 100], [200, 300], [300, 90], [500, 310]], [[650, 200]]]


def new(**changes: Any) -> NewReceipt:
    given: dict[str, Any] = {
        "mileage": 61240, "odometer_status": "not_stated", "fuel": "half", "keys_count": 2,
        "damage": [("left door", "scratch, 4 inches")], "items": [("car cover", 2)], "note": "keys on hook 7",
        "handed_over_by": "Ada Fenwick", "signs_as": "owner", "giver": Signature(strokes=HAND),
        "taken_in_by": "Ines Quarles", "taker": Signature(typed=True),
    }  # fmt: skip
    return NewReceipt(**{**given, **changes})


def signed(stay: Consignment, *, at: datetime, **changes: Any) -> ArrivalReceipt:
    """One more receipt of a stay; it replaces the one that counted."""
    changes.setdefault("replaces", stay.receipts.count())
    return receiving.sign_receipt(stay.pk, receipt=new(**changes), by=build.BUILDER, at=at)
