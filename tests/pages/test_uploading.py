"""The addresses that take files in pieces."""

import hashlib
import json
import uuid
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from inventory.models import Clip, Consignment, Photo, Upload
from inventory.rules.roles import Actor
from tests import build
from tests.pages.browse import sign_in
from tests.test_uploads import picture
from tests.uploads import films

pytestmark = pytest.mark.django_db
BEGIN = "/uploads/"


@pytest.fixture(autouse=True)
def media(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def stay() -> Consignment:
    return build.consignment(at=timezone.now())


def announced(stay: Consignment, content: bytes, **changes: Any) -> dict[str, Any]:
    return {
        "stock_number": stay.stock_number, "kind": "photo", "name": "front.jpg", "bytes": len(content),
        "sha256": hashlib.sha256(content).hexdigest(), "client_key": str(uuid.uuid4()), "station": "front",
        "shot": "front_whole", "caption": "nose", "public": True, **changes,
    }  # fmt: skip


def begin(client: Client, body: Any) -> Any:
    return client.post(BEGIN, json.dumps(body), content_type="application/json")


def put(client: Client, code: str, content: bytes, *, offset: object) -> Any:
    return client.put(f"/uploads/{code}/?offset={offset}", content, content_type="application/octet-stream")


def test_photo_in_three_pieces_with_a_lost_answer(client: Client, intake: Actor, stay: Consignment) -> None:
    content = picture(size=(500, 300))
    sign_in(client, intake)
    begun = begin(client, announced(stay, content))
    code = begun.json()["code"]
    assert (begun.status_code, begun.json()["received"]) == (201, 0)
    assert put(client, code, content[:500], offset=0).json()["received"] == 500
    assert put(client, code, content[:500], offset=0).json()["received"] == 500
    wrong = put(client, code, content[700:], offset=700)
    assert (wrong.status_code, wrong.json()["received"]) == (409, 500)
    assert client.get(reverse("upload", args=[code])).json() == {
        "code": code, "received": 500, "total": len(content), "finished": False, "made": None,
    }  # fmt: skip
    done = put(client, code, content[500:], offset=500).json()
    row = Photo.objects.get()
    assert (done["finished"], done["made"]) == (True, str(row.code))
    assert Path(row.original.path).read_bytes() == content
    assert (row.caption, row.station, row.shot, row.public) == ("nose", "front", "front_whole", True)


def test_wrong_hash_is_told_and_the_upload_can_be_given_up(client: Client, intake: Actor, stay: Consignment) -> None:
    content = picture()
    sign_in(client, intake)
    code = begin(client, announced(stay, content, sha256="0" * 64)).json()["code"]
    refused = put(client, code, content, offset=0)
    assert (refused.status_code, refused.json()["code"]) == (422, "wrong_sha256")
    assert client.get(reverse("upload", args=[code])).json()["received"] == len(content)
    assert client.delete(reverse("upload", args=[code])).status_code == 200
    assert client.get(reverse("upload", args=[code])).status_code == 404


def test_clip_with_its_place_is_refused_then_kept_internal_without_sending_it_again(
    client: Client, intake: Actor, stay: Consignment
) -> None:
    content = films.mp4(films.place_of_apple())
    body = announced(stay, content, kind="clip", name="walk.mov", clip_kind="cold_start", shot="", station="")
    sign_in(client, intake)
    code = begin(client, body).json()["code"]
    refused = put(client, code, content, offset=0)
    assert (refused.status_code, refused.json()["code"]) == (422, "place_in_clip")
    assert "Turn off location in the camera" in refused.json()["message"]
    again = begin(client, {**body, "public": False}).json()
    assert (again["code"], again["finished"]) == (code, True)
    row = Clip.objects.get()
    assert (row.kind, row.public, row.located) == ("cold_start", False, True)


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"kind": "paper"}, "kind"),
        ({"bytes": -1}, "bytes"),
        ({"bytes": "many"}, "bytes"),
        ({"bytes": 0}, "file"),
        ({"bytes": 10**30}, "file"),
        ({"sha256": "x"}, "sha256"),
        ({"client_key": "7"}, "client_key"),
        ({"client_key": [1]}, "client_key"),
        ({"name": ""}, "name"),
        ({"name": None}, "name"),
        ({"caption": "x" * 121}, "caption"),
        ({"station": "moon"}, "station"),
        ({"shot": "Front whole!"}, "shot"),
    ],
)
def test_announcement_names_the_field_that_is_wrong(
    client: Client, intake: Actor, stay: Consignment, changes: dict[str, Any], field: str
) -> None:
    answer = begin(sign_in(client, intake), announced(stay, b"pixels", **changes))
    assert (answer.status_code, answer.json()["field"]) == (422, field)
    assert not Upload.objects.exists()


@pytest.mark.parametrize("body", ["", "no json", "[1]", "7", "\x00"])
def test_what_is_no_json_object_is_refused(client: Client, intake: Actor, body: str) -> None:
    answer = sign_in(client, intake).post(BEGIN, body, content_type="application/json")
    assert (answer.status_code, answer.json()["code"]) == (422, "no_json")


def test_unknown_vehicle_is_nothing_here(client: Client, intake: Actor, stay: Consignment) -> None:
    assert begin(sign_in(client, intake), announced(stay, b"x", stock_number="99-0001")).status_code == 404


@pytest.mark.parametrize("offset", ["", "-1", "x", "1.5", "９", "9" * 30])
def test_offset_that_is_no_number_is_refused(client: Client, intake: Actor, stay: Consignment, offset: str) -> None:
    code = begin(sign_in(client, intake), announced(stay, b"pixels")).json()["code"]
    answer = put(client, code, b"pix", offset=offset)
    assert (answer.status_code, answer.json()["field"]) == (422, "offset")


@pytest.mark.parametrize("size", [2 * 2**20 + 1, 6 * 2**20])
def test_piece_over_2_megabytes_is_refused_before_it_is_read(
    client: Client, intake: Actor, stay: Consignment, size: int
) -> None:
    code = begin(sign_in(client, intake), announced(stay, b"", bytes=10 * 2**20)).json()["code"]
    answer = put(client, code, bytes(size), offset=0)
    assert (answer.status_code, answer.json()["field"]) == (422, "body")


def test_upload_is_seen_by_whoever_began_it_alone(
    client: Client, intake: Actor, owner: Actor, sales: Actor, stay: Consignment
) -> None:
    code = begin(sign_in(client, intake), announced(stay, b"pixels")).json()["code"]
    address = reverse("upload", args=[code])
    for by, status in ((owner, 404), (sales, 403)):
        other = sign_in(Client(), by)
        assert [other.get(address).status_code, put(other, code, b"p", offset=0).status_code] == [status, status]
    assert Client().get(address)["Location"].startswith(reverse("sign_in"))


def test_posts_and_pieces_need_the_token_of_the_page(intake: Actor, stay: Consignment) -> None:
    strict = Client(enforce_csrf_checks=True)
    sign_in(strict, intake)
    assert begin(strict, announced(stay, b"pixels")).status_code == 403
    assert put(strict, str(uuid.uuid4()), b"p", offset=0).status_code == 403


def test_upload_begun_says_when(client: Client, intake: Actor, stay: Consignment) -> None:
    before: datetime = timezone.now()
    begin(sign_in(client, intake), announced(stay, b"pixels"))
    row = Upload.objects.get()
    assert before <= row.begun_at <= timezone.now()
    assert row.by.full_name == "Sam Intake"
