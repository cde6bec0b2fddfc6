"""Test drives: what stops them is kept, what was signed stays as it was, and no copy outlives its days."""

from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from inventory.actions import agreeing, driving, inspecting, recording, selling
from inventory.actions.driving import NewDrive
from inventory.actions.inquiring import Reach, log_inquiry
from inventory.actions.inspecting import Finding
from inventory.actions.writing import trade_day
from inventory.errors import NotAllowed, Refused, TooLate
from inventory.models import Consignment, Contact, LogEntry, Showing, TestDrive
from inventory.queries.drives import drive_with_copy
from inventory.rules.drives import DEFAULT_TEXT, text_mark
from inventory.rules.roles import Actor
from inventory.rules.signatures import Signature
from inventory.rules.states import State
from inventory.rules.words import Basis
from inventory.uploads import clean_picture
from tests import build
from tests.test_uploads import picture

pytestmark = pytest.mark.django_db
REFUSED = "test_drive.refused"


@pytest.fixture(autouse=True)
def media(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def stay(at: datetime) -> Consignment:
    return build.consignment(State.LISTED, at=at)


def going(at: datetime, **changes: Any) -> NewDrive:
    drive = NewDrive(
        driver="Bo Larkin", licence_from="Ohio", licence_valid_until=trade_day(at) + timedelta(days=90),
        text_seen=text_mark(DEFAULT_TEXT), signature=Signature(typed=True), odometer_out=61240,
    )  # fmt: skip
    return replace(drive, **changes)


def take_out(stay: Consignment, *, by: Actor, at: datetime, **changes: Any) -> TestDrive:
    return driving.take_out(stay.pk, drive=going(at, **changes), by=by, at=at)


def refused(stay: Consignment, *, by: Actor, at: datetime, **changes: Any) -> Refused:
    with pytest.raises(Refused) as problem:
        take_out(stay, by=by, at=at, **changes)
    return problem.value


def test_drive_out_and_back_is_kept_and_counts_as_a_showing(stay: Consignment, sales: Actor, at: datetime) -> None:
    asked = log_inquiry(stay.pk, way="phone", who="Bo Larkin", phone="555 010 0188", by=sales, at=at)
    out = take_out(stay, inquiry_id=asked.pk, by=sales, at=at)
    assert (out.waiver, out.signed, out.contact) == (DEFAULT_TEXT, "typed", asked.contact)
    seen = Showing.objects.get()
    assert (seen.who, seen.inquiry, seen.contact, seen.note) == ("Bo Larkin", asked, asked.contact, "test drive")
    recording.change_lot({"drive_waiver": "Another text."}, by=build.BUILDER, at=at)
    back = driving.bring_back(out.code, odometer_back=61252, by=sales, at=at + timedelta(minutes=40))
    assert (back.waiver, back.odometer_back, back.back_by) == (DEFAULT_TEXT, 61252, sales.name)
    stay.refresh_from_db()
    assert stay.mileage == 61240
    assert not [row for row in LogEntry.objects.filter(consignment=stay) if "Bo Larkin" in str(row.data)]
    with pytest.raises(TooLate):
        driving.bring_back(out.code, odometer_back=61260, by=sales, at=at)


def test_open_brake_flag_stops_the_drive_and_the_try_is_kept(stay: Consignment, sales: Actor, at: datetime) -> None:
    inspecting.begin_inspection(stay.pk, by=build.BUILDER, at=at)
    worn = Finding(check_code="underside.brake_lines", grade=0, basis=Basis.SEEN)
    result = inspecting.record_check(stay.pk, finding=worn, by=build.BUILDER, at=at)
    problem = refused(stay, by=sales, at=at)
    assert problem.code == "drives_stopped"
    assert "49 CFR 570" in problem.message
    tried = LogEntry.objects.get(action=REFUSED)
    assert (tried.actor_name, tried.data["code"]) == (sales.name, "drives_stopped")
    assert not TestDrive.objects.exists()
    inspecting.clear_flag(stay.pk, key=f"check-{result.pk}", reason="hose renewed", by=build.BUILDER, at=at)
    assert take_out(stay, by=sales, at=at).pk


def test_expired_licence_second_drive_and_a_sold_vehicle_are_refused_and_kept(
    stay: Consignment, sales: Actor, at: datetime
) -> None:
    yesterday = trade_day(at) - timedelta(days=1)
    assert refused(stay, licence_valid_until=yesterday, by=sales, at=at).field == "licence_valid_until"
    assert refused(stay, text_seen="0" * 16, by=sales, at=at).code == "text_changed"
    take_out(stay, by=sales, at=at)
    assert refused(stay, by=sales, at=at).code == "out_already"
    selling.withdraw(stay.pk, reason="changed_mind", by=build.BUILDER, at=at)
    assert refused(stay, by=sales, at=at).code == "not_for_sale"
    kept = [row.data["code"] for row in LogEntry.objects.filter(action=REFUSED).order_by("pk")]
    assert kept == ["licence_expired", "out_already", "not_for_sale"]  # a slip of the form is not


def test_terms_without_test_drives_refuse_them(stay: Consignment, sales: Actor, at: datetime) -> None:
    agreeing.agree_terms(stay.pk, terms=build.terms(at, test_drives_allowed=False), by=build.BUILDER, at=at)
    assert refused(stay, by=sales, at=at).code == "drives_not_allowed"
    assert LogEntry.objects.get(action=REFUSED).data["code"] == "drives_not_allowed"


def test_unsigned_or_lower_odometer_is_refused_and_leaves_nothing(
    stay: Consignment, sales: Actor, intake: Actor, at: datetime
) -> None:
    with pytest.raises(NotAllowed):
        take_out(stay, by=intake, at=at)
    assert refused(stay, signature=Signature(), by=sales, at=at).code == "not_signed"
    assert refused(stay, driver="", reach=Reach(phone="555 010 0188"), by=sales, at=at).code == "no_name"
    assert not Contact.objects.exists()
    assert not Showing.objects.exists()
    out = take_out(stay, by=sales, at=at)
    with pytest.raises(Refused) as problem:
        driving.bring_back(out.code, odometer_back=61239, by=sales, at=at)
    assert problem.value.field == "odometer_back"


def test_copy_of_a_licence_is_kept_only_where_the_lot_says_and_only_for_its_days(
    stay: Consignment, owner: Actor, at: datetime, tmp_path: Path, django_capture_on_commit_callbacks: Any
) -> None:
    copy = clean_picture(picture(), name="licence.jpg")
    assert refused(stay, licence_copy=copy, by=owner, at=at).code == "no_licence_copies"
    recording.change_lot({"keep_licence_copies": True, "licence_copy_days": 3}, by=owner, at=at)
    out = take_out(stay, licence_copy=copy, by=owner, at=at)
    last = trade_day(at) + timedelta(days=3)
    assert out.copy_kept_until == last
    assert b"Phone of somebody" not in Path(out.licence_copy.path).read_bytes()
    assert drive_with_copy(out.code, stay=stay, today=last) == out
    with pytest.raises(Refused):
        drive_with_copy(out.code, stay=stay, today=last + timedelta(days=1))
    assert driving.clear_licences(by=owner, at=at + timedelta(days=3)) == 0
    with django_capture_on_commit_callbacks(execute=True):
        assert driving.clear_licences(by=owner, at=at + timedelta(days=4)) == 1
    out.refresh_from_db()
    assert (bool(out.licence_copy), out.copy_deleted_at) == (False, at + timedelta(days=4))
    assert not [path for path in tmp_path.rglob("*.jpg") if "licences" in str(path)]
    assert LogEntry.objects.filter(action="test_drive.copy_deleted", consignment=stay).count() == 1


def test_vehicle_in_the_shop_is_not_driven(stay: Consignment, sales: Actor, at: datetime) -> None:
    recording.record_place(stay.pk, place="Shop", not_for_sale=True, by=sales, at=at)
    assert refused(stay, by=sales, at=at).code == "away"
    assert LogEntry.objects.filter(action=REFUSED, consignment=stay).exists()
    recording.record_place(stay.pk, place="Bay 1", by=sales, at=at)
    assert take_out(stay, by=sales, at=at).pk
