"""A disk that is nearly full takes no file from outside, whatever the file is; what it was part of is not done."""

from collections.abc import Callable
from datetime import datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from django.core.files.base import ContentFile

from inventory.actions import importing, prospecting, recording, settling, uploading
from inventory.errors import Refused
from inventory.models import Disbursement, Photo, ProspectPhoto, SalesImport, TestDrive, Upload
from inventory.rules.roles import Actor
from inventory.rules.states import State
from inventory.uploads import clean_picture, room
from tests import build
from tests.actions import test_driving, test_prospecting, test_settling, test_uploading
from tests.test_uploads import picture

pytestmark = pytest.mark.django_db
Deed = Callable[[], object]
PDF = b"%PDF-1.7 paid"


@pytest.fixture(autouse=True)
def media(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path


def refused(deed: Deed, *, settings: Any) -> None:
    """While the disk is full; and done when there is room again."""
    was, settings.LEAST_FREE_DISK = settings.LEAST_FREE_DISK, 2**60
    with pytest.raises(Refused) as problem:
        deed()
    assert (problem.value.code, "no files are taken" in str(problem.value)) == ("disk_full", True)
    assert not [path for path in Path(settings.MEDIA_ROOT).rglob("*") if path.is_file()]
    settings.LEAST_FREE_DISK = was
    deed()


def test_photo_of_a_stay_and_of_a_prospect(owner: Actor, at: datetime, settings: Any) -> None:
    stay, made = build.consignment(at=at), clean_picture(picture(), name="front.jpg")
    refused(lambda: recording.add_photo(stay.pk, picture=made, by=owner, at=at), settings=settings)
    settings.MEDIA_ROOT = Path(settings.MEDIA_ROOT) / "other"
    asked = test_prospecting.logged(by=owner, at=at)
    refused(lambda: prospecting.add_prospect_photo(asked.pk, picture=made, by=owner, at=at), settings=settings)
    assert (Photo.objects.count(), ProspectPhoto.objects.count()) == (1, 1)


def test_copy_of_a_licence(owner: Actor, at: datetime, settings: Any) -> None:
    stay, copy = build.consignment(State.LISTED, at=at), clean_picture(picture(), name="licence.jpg")
    recording.change_lot({"keep_licence_copies": True, "licence_copy_days": 3}, by=owner, at=at)
    refused(lambda: test_driving.take_out(stay, licence_copy=copy, by=owner, at=at), settings=settings)
    assert TestDrive.objects.count() == 1


def test_proof_of_a_payment(owner: Actor, at: datetime, settings: Any) -> None:
    settlement = settling.approve_settlement(
        test_settling.sold(at, price="48500.00", rate=Decimal(9)).pk, by=owner, at=at
    )
    refused(
        lambda: test_settling.pay(settlement, "100.00", proof=ContentFile(PDF, name="paid.pdf"), by=owner, at=at),
        settings=settings,
    )
    assert Disbursement.objects.count() == 1


def test_spreadsheet(owner: Actor, at: datetime, settings: Any) -> None:
    sheet = ContentFile(b"Yr,Make", name="sales.csv")
    refused(lambda: importing.keep_upload(sheet, name="sales.csv", by=owner, at=at), settings=settings)
    assert SalesImport.objects.count() == 1


def test_file_in_pieces_is_refused_at_any_piece_and_goes_on_later(intake: Actor, at: datetime, settings: Any) -> None:
    """Announcing asks for the whole; by the time the pieces come others may have taken the room."""
    content, stay = picture(), build.consignment(at=at)
    refused(lambda: test_uploading.begin(stay, content, by=intake, at=at), settings=settings)
    row = Upload.objects.get()
    refused(
        lambda: uploading.receive_piece(row.code, offset=0, content=content[:100], by=intake, at=at), settings=settings
    )
    row.refresh_from_db()
    assert row.received == 100


def test_room_is_measured_where_data_and_media_lie_and_before_their_folders_are_made(
    settings: Any, tmp_path: Path
) -> None:
    free = room.free_bytes()
    settings.MEDIA_ROOT = tmp_path / "not" / "yet"
    assert free > 0
    assert abs(room.free_bytes() - free) < 2**30  # others write meanwhile
    room.refuse_full_disk(0)
    with pytest.raises(Refused):
        room.refuse_full_disk(free + 2**30)
