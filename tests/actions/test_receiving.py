"""The arrival receipt is signed: what is kept, what is refused, what replaces what."""

import hashlib
import io
import uuid
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from inventory.actions import receiving, recording
from inventory.errors import NotAllowed, NotFound, Refused, TooLate
from inventory.models import ArrivalReceipt, Consignment, LogEntry, ReceiptDamage, ReceiptItem
from inventory.rules.roles import Actor
from inventory.rules.signatures import Signature
from inventory.rules.states import State
from tests import build, receipts
from tests.receipts import HAND, new, signed

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def media(settings: Any, tmp_path: Path) -> Path:
    settings.MEDIA_ROOT = tmp_path
    return tmp_path


@pytest.fixture
def stay(at: datetime) -> Consignment:
    return build.consignment(at=at)


def paper_of(row: ArrivalReceipt) -> str:
    with row.file.open("rb") as file:
        pages = PdfReader(io.BytesIO(file.read())).pages
        return " ".join(" ".join(page.extract_text() for page in pages).split())


def refusal(stay: Consignment, *, by: Actor, at: datetime, **changes: Any) -> Refused:
    with pytest.raises(Refused) as caught:
        receiving.sign_receipt(stay.pk, receipt=new(**changes), by=by, at=at)
    assert not ArrivalReceipt.objects.exists()
    return caught.value


def test_receipt_is_kept_whole_with_its_lines_and_log(intake: Actor, stay: Consignment, at: datetime) -> None:
    row = receiving.sign_receipt(stay.pk, receipt=new(), by=intake, at=at)
    row.refresh_from_db()
    assert (row.number, row.follows, row.mileage, row.fuel, row.keys_count) == (1, None, 61240, "half", 2)
    assert (row.giver_signed, row.giver_strokes, row.taker_signed, row.taker_strokes) == ("drawn", HAND, "typed", [])
    assert (row.signed_at, row.arrived_on, row.by) == (at, stay.arrived_on, "Sam Intake")
    assert list(row.damage.values_list("position", "where", "what")) == [(1, "left door", "scratch, 4 inches")]
    assert list(row.items.values_list("position", "what", "count")) == [(1, "car cover", 2)]
    entry = LogEntry.objects.get(action="receipt.signed")
    assert (entry.consignment_id, entry.data["giver"], entry.data["sha256"]) == (stay.pk, "Ada Fenwick", row.sha256)


def test_paper_is_stored_with_the_digest_of_its_bytes(stay: Consignment, at: datetime) -> None:
    row = signed(stay, at=at)
    with row.file.open("rb") as file:
        assert hashlib.sha256(file.read()).hexdigest() == row.sha256


def test_paper_says_what_the_receipt_says(stay: Consignment, at: datetime) -> None:
    recording.change_lot({"name": "Larkspur Yard", "address": "12 Larkspur Lane"}, by=build.BUILDER, at=at)
    said = paper_of(signed(stay, at=at))
    for value in (
        "Larkspur Yard", "12 Larkspur Lane", "26-0001", "1968 Merrow Alder", "8A17J100001 (earlier serial)",
        "Odometer shows 61,240 miles; status not stated", "Fuel half", "Keys 2", "Arrived on 2026-03-16",
        "Ada Fenwick, owner", "Ines Quarles", "left door scratch, 4 inches", "car cover 2", "keys on hook 7",
        "Signed by typing the name.", "Received for inspection and possible sale; not a sale. Check local law.",
    ):  # fmt: skip
        assert value in said, value


def test_correction_follows_and_both_stay_readable(stay: Consignment, at: datetime) -> None:
    first = signed(stay, at=at)
    second = signed(stay, at=at + timedelta(hours=1), keys_count=3)
    assert (second.number, second.follows) == (2, first)
    assert "Replaces no. 1 of 2026-03-16" in paper_of(second)
    assert "Keys 2" in paper_of(first)
    assert LogEntry.objects.filter(data__replacing=" in place of 1").count() == 1


def test_receipt_of_an_older_sight_is_refused(stay: Consignment, at: datetime) -> None:
    signed(stay, at=at)
    with pytest.raises(TooLate, match="Receipt 1 of 26-0001 was signed since you looked"):
        receiving.sign_receipt(stay.pk, receipt=new(), by=build.BUILDER, at=at)
    assert ArrivalReceipt.objects.count() == 1


def test_sent_twice_is_one_receipt(stay: Consignment, at: datetime) -> None:
    key = uuid.UUID(int=7)
    rows = [receiving.sign_receipt(stay.pk, receipt=new(), client_key=key, by=build.BUILDER, at=at) for _ in range(2)]
    assert rows[0] == rows[1]
    assert ArrivalReceipt.objects.count() == 1


def test_other_side_may_be_missing_with_a_reason(stay: Consignment, at: datetime) -> None:
    row = signed(stay, at=at, giver=Signature(), unsigned_reason="dropped off after hours", signs_as="carrier")
    assert (row.giver_signed, row.giver_strokes, row.signed_at) == ("not_signed", [], None)
    said = paper_of(row)
    assert "Not signed by the other side, because: dropped off after hours" in said
    assert "Ada Fenwick, carrier or driver" in said


@pytest.mark.parametrize(
    ("changes", "code", "field"),
    [
        ({"giver": Signature()}, "not_signed", "giver_strokes"),
        ({"taker": Signature()}, "not_signed", "taker_strokes"),
        ({"taker": Signature(), "giver": Signature(), "unsigned_reason": "x"}, "not_signed", "taker_strokes"),
        ({"unsigned_reason": "dropped off"}, "signed_and_not", "unsigned_reason"),
        ({"giver": Signature(strokes=[[[1, 1]]])}, "too_short", "giver_strokes"),
        ({"giver": Signature(strokes=HAND, typed=True)}, "signed_twice", "giver_strokes"),
        ({"mileage": None}, "no_reading", "mileage"),
        ({"no_reading_reason": "display dark"}, "reading_and_reason", "no_reading_reason"),
        ({"mileage": 61300}, "odometer_differs", "mileage"),
        ({"odometer_status": "actual"}, "odometer_differs", "mileage"),
        ({"damage": [("x", "y")] * 101}, "too_many_lines", "damage"),
        ({"items": [("x", 1)] * 101}, "too_many_lines", "items"),
        ({"damage": [("", "scratch")]}, "invalid", "where"),
        ({"items": [("cover", 0)]}, "invalid", "count"),
        ({"fuel": "some"}, "invalid", "fuel"),
        ({"signs_as": "friend"}, "invalid", "signs_as"),
        ({"keys_count": 51}, "invalid", "keys_count"),
        ({"handed_over_by": "x" * 201}, "invalid", "handed_over_by"),
        ({"handed_over_by": " "}, "no_name", "giver_strokes"),
    ],
)  # fmt: skip
def test_what_cannot_be_signed_is_refused_and_nothing_kept(
    intake: Actor, stay: Consignment, at: datetime, media: Path, changes: dict[str, Any], code: str, field: str
) -> None:
    caught = refusal(stay, by=intake, at=at, **changes)
    assert (caught.code, caught.field) == (code, field)
    assert not list(media.rglob("*.pdf"))
    assert not LogEntry.objects.filter(action="receipt.signed").exists()


@pytest.mark.parametrize(("answer", "on_file"), [("update", (61300, "not_actual")), ("keep", (61240, "not_stated"))])
def test_other_reading_than_the_files_is_answered_for(
    stay: Consignment, at: datetime, answer: str, on_file: tuple[int, str]
) -> None:
    row = signed(stay, at=at, mileage=61300, odometer_status="not_actual", file_answer=answer)
    stay.refresh_from_db()
    assert (stay.mileage, stay.odometer_status) == on_file
    assert (row.mileage, row.odometer_status) == (61300, "not_actual")


def test_receipt_without_a_reading_leaves_the_file_alone(stay: Consignment, at: datetime) -> None:
    row = signed(stay, at=at, mileage=None, no_reading_reason="display dark")
    stay.refresh_from_db()
    assert stay.mileage == 61240
    assert "No odometer reading, because: display dark; status not stated" in paper_of(row)


def test_vehicle_that_is_not_here_gets_no_receipt(intake: Actor, at: datetime) -> None:
    booked = build.consignment(State.BOOKED, at=at)
    assert refusal(booked, by=intake, at=at).code == "not_here_yet"
    gone = build.consignment(State.RELEASED, at=at)
    assert refusal(gone, by=intake, at=at).code == "gone"


def test_sales_staff_sign_no_receipt_and_nobody_one_of_nothing(sales: Actor, stay: Consignment, at: datetime) -> None:
    with pytest.raises(NotAllowed):
        receiving.sign_receipt(stay.pk, receipt=new(), by=sales, at=at)
    with pytest.raises(NotFound):
        receiving.sign_receipt(9999, receipt=new(), by=build.BUILDER, at=at)


def test_forty_lines_are_kept_in_order(stay: Consignment, at: datetime) -> None:
    damage = [(f"panel {number}", "mark") for number in range(40)]
    signed(stay, at=at, damage=damage, items=[("cover", number) for number in range(1, 41)])
    assert list(ReceiptDamage.objects.order_by("position").values_list("where", "what")) == damage
    assert list(ReceiptItem.objects.order_by("position").values_list("count", flat=True)) == list(range(1, 41))


def test_titled_and_built_years_stand_apart_on_the_paper(at: datetime) -> None:
    known = build.consignment(at=at, year_built=1967)
    assert "Year built 1967" in paper_of(receipts.signed(known, at=at))
    assert "Year built" not in paper_of(receipts.signed(build.consignment(at=at), at=at))
