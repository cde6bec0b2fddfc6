"""Arrival receipts, clips and photos by the API: what is known of each, and the paper itself."""

import hashlib
import uuid
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from rest_framework.test import APIClient

from inventory.actions import filming, recording
from inventory.models import Consignment
from inventory.rules.media import Spot
from inventory.rules.states import State
from inventory.uploads import clean_picture
from tests.api import rows
from tests.api.conftest import said, url
from tests.api.rows import DEED
from tests.test_uploads import picture

pytestmark = pytest.mark.django_db


def test_receipts_are_told_newest_first(as_sales: APIClient, stay: Callable[..., Consignment]) -> None:
    built = stay(State.ON_LOT)
    first, second = (rows.received_with_paper(built) for _ in range(2))
    listed = as_sales.get(url(built, "receipts/")).json()["results"]
    assert [(row["code"], row["number"], row["signed"], row["replaced"]) for row in listed] == [
        (str(second.code), 2, True, False), (str(first.code), 1, True, True),
    ]  # fmt: skip
    assert listed[0]["file_name"] == f"arrival-receipt-{built.stock_number}-2.pdf"


def file_of(client: APIClient, stay: Consignment, code: uuid.UUID, **headers: str) -> Any:
    return client.get(url(stay, f"receipts/{code}/file/"), **headers)


@pytest.mark.parametrize("accept", ["*/*", "application/pdf", "application/json", "application/pdf, */*;q=0.1"])
def test_paper_is_served_as_it_was_signed_and_kept_by_no_cache(
    as_intake: APIClient, stay: Callable[..., Consignment], accept: str
) -> None:
    built = stay(State.ON_LOT)
    row = rows.received_with_paper(built)
    answer = file_of(as_intake, built, row.code, HTTP_ACCEPT=accept)
    assert (answer.status_code, answer["Content-Type"]) == (200, "application/pdf")
    assert hashlib.sha256(b"".join(answer.streaming_content)).hexdigest() == row.sha256
    assert (answer["Cache-Control"], answer["X-Content-Type-Options"]) == ("private, no-store", "nosniff")
    assert f'filename="arrival-receipt-{built.stock_number}-1.pdf"' in answer["Content-Disposition"]


def test_paper_of_another_stay_and_one_nobody_knows_are_404(
    as_owner: APIClient, stay: Callable[..., Consignment]
) -> None:
    built, other = stay(State.ON_LOT), stay(State.ON_LOT)
    row = rows.received_with_paper(built)
    for one, code in ((other, row.code), (built, uuid.uuid4())):
        answer = file_of(as_owner, one, code, HTTP_ACCEPT="application/pdf")
        assert (answer.status_code, said(answer)["code"]) == (404, "not_found")


def test_paper_that_is_lost_is_404(as_owner: APIClient, stay: Callable[..., Consignment]) -> None:
    built = stay(State.ON_LOT)
    row = rows.received_with_paper(built)
    Path(row.file.path).unlink()
    assert file_of(as_owner, built, row.code).status_code == 404


def test_stranger_who_asks_for_a_paper_is_told_in_json(stranger: APIClient, stay: Callable[..., Consignment]) -> None:
    built = stay(State.ON_LOT)
    answer = file_of(stranger, built, rows.received_with_paper(built).code, HTTP_ACCEPT="application/pdf")
    assert (answer.status_code, said(answer)["code"]) == (401, "not_authenticated")


def test_clip_is_told_without_its_content_and_not_once_hidden(
    as_sales: APIClient, stay: Callable[..., Consignment]
) -> None:
    built = stay(State.ON_LOT)
    row = rows.filmed(built)
    (told,) = as_sales.get(url(built, "clips/")).json()["results"]
    assert (told["code"], told["kind"], told["bytes"], told["sha256"]) == (
        str(row.code), "walk_round", row.bytes, row.sha256,
    )  # fmt: skip
    assert (told["public"], told["located"], told["content_type"]) == (False, False, "video/mp4")
    assert "file" not in told
    filming.hide_clip(row.code, reason="blurred", **DEED)
    assert as_sales.get(url(built, "clips/")).json()["results"] == []


def test_photo_is_told_with_its_place_and_size(as_sales: APIClient, stay: Callable[..., Consignment]) -> None:
    built = stay(State.ON_LOT)
    spot = Spot(station="front", check_code="front.hood", shot="front.three_quarters")
    recording.add_photo(built.pk, spot=spot, picture=clean_picture(picture(size=(120, 80)), name="left.jpg"), **DEED)
    (told,) = as_sales.get(url(built, "photos/")).json()["results"]
    assert (told["width"], told["height"]) == (120, 80)
    assert (told["station"], told["check_code"], told["shot"]) == (spot.station, spot.check_code, spot.shot)
