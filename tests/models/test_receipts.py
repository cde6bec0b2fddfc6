"""The database refuses a receipt that must never be, also when Python is bypassed."""

from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from django.db import DatabaseError, connection, transaction

from inventory.models import ArrivalReceipt, Consignment, IdentityResolution, ReceiptDamage, ReceiptItem, Vehicle
from tests import build
from tests.models.test_database_refuses import refused
from tests.receipts import signed

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def media(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def stay(at: datetime) -> Consignment:
    return build.consignment(at=at)


def row(stay: Consignment, at: datetime, **changes: Any) -> ArrivalReceipt:
    given: dict[str, Any] = {
        "consignment": stay, "number": 7, "mileage": 5, "odometer_status": "not_stated", "fuel": "half",
        "keys_count": 1, "arrived_on": at.date(), "handed_over_by": "A", "signs_as": "owner", "giver_signed": "typed",
        "taken_in_by": "B", "taker_signed": "typed", "signed_at": at, "file": "x.pdf", "sha256": "0" * 64,
        "by": "x", "at": at,
    }  # fmt: skip
    return ArrivalReceipt(**{**given, **changes})


def test_possible_receipt_is_taken(stay: Consignment, at: datetime) -> None:
    ArrivalReceipt.objects.bulk_create([row(stay, at)])
    assert ArrivalReceipt.objects.count() == 1


@pytest.mark.parametrize(
    "changes",
    [
        {"mileage": None}, {"no_reading_reason": "dark"}, {"mileage": None, "no_reading_reason": ""},
        {"handed_over_by": ""}, {"taken_in_by": ""},
        {"signed_at": None}, {"unsigned_reason": "after hours"}, {"giver_signed": "not_signed"},
        {"giver_signed": "not_signed", "signed_at": None},
        {"giver_signed": "not_signed", "unsigned_reason": "after hours"},
        {"taker_signed": "not_signed"}, {"taker_signed": "nodded"}, {"giver_signed": "nodded"},
        {"fuel": "some"}, {"signs_as": "friend"}, {"odometer_status": "true"}, {"mileage": -1}, {"keys_count": -1},
    ],
    ids=str,
)  # fmt: skip
def test_impossible_receipt_is_refused(stay: Consignment, at: datetime, changes: dict[str, Any]) -> None:
    assert refused(lambda: ArrivalReceipt.objects.bulk_create([row(stay, at, **changes)]))


def test_chain_of_receipts_has_one_start_no_fork_and_no_number_twice(stay: Consignment, at: datetime) -> None:
    first = signed(stay, at=at)
    second = signed(stay, at=at)
    assert refused(lambda: ArrivalReceipt.objects.bulk_create([row(stay, at)]))
    assert refused(lambda: ArrivalReceipt.objects.bulk_create([row(stay, at, follows=first)]))
    assert refused(lambda: ArrivalReceipt.objects.bulk_create([row(stay, at, follows=second, number=2)]))


@pytest.mark.parametrize("line", [{"where": ""}, {"what": ""}, {"position": 1}])
def test_impossible_line_of_damage_is_refused(stay: Consignment, at: datetime, line: dict[str, Any]) -> None:
    receipt = signed(stay, at=at)
    given = {"receipt": receipt, "position": 2, "where": "door", "what": "dent", **line}
    assert refused(lambda: ReceiptDamage.objects.bulk_create([ReceiptDamage(**given)]))


@pytest.mark.parametrize("line", [{"what": ""}, {"count": 0}, {"position": 1}])
def test_impossible_line_of_items_is_refused(stay: Consignment, at: datetime, line: dict[str, Any]) -> None:
    receipt = signed(stay, at=at)
    given = {"receipt": receipt, "position": 2, "what": "cover", "count": 1, **line}
    assert refused(lambda: ReceiptItem.objects.bulk_create([ReceiptItem(**given)]))


def test_signed_receipt_cannot_be_changed_by_sql(stay: Consignment, at: datetime) -> None:
    signed(stay, at=at)
    for statement in (
        "UPDATE inventory_arrivalreceipt SET keys_count = 9",
        "UPDATE inventory_receiptdamage SET what = 'none'",
        "UPDATE inventory_receiptitem SET count = 9",
    ):
        with pytest.raises(DatabaseError), transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(statement)


@pytest.mark.parametrize("changes", [{"question": ""}, {"reason": ""}])
def test_resolution_without_question_or_reason_is_refused(
    stay: Consignment, at: datetime, changes: dict[str, str]
) -> None:
    given: dict[str, Any] = {"question": "q", "reason": "r", "numbers_digest": "0" * 64, "by": "x", "at": at, **changes}
    rows = [IdentityResolution(vehicle=stay.vehicle, **given)]
    assert refused(lambda: IdentityResolution.objects.bulk_create(rows))


@pytest.mark.parametrize("year", [1885, 2201])
def test_impossible_year_built_is_refused(stay: Consignment, year: int) -> None:
    assert refused(lambda: Vehicle.objects.filter(pk=stay.vehicle_id).update(year_built=year))
