"""Photos and clips of the vehicle file: who is served what, and the form that hides one."""

import hashlib
import uuid
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from inventory.actions import filming, linking, recording
from inventory.models import Clip, Consignment, HiddenMedia, LogEntry, Photo
from inventory.rules.media import Spot
from inventory.rules.roles import Actor
from inventory.rules.states import State
from inventory.uploads import clean_clip, clean_picture
from tests import build
from tests.pages.browse import sign_in, text_of, url
from tests.test_uploads import picture
from tests.uploads import films

pytestmark = pytest.mark.django_db
FILM = films.mp4(film=b"0123456789" * 30)
RACY = films.mp4(films.place_of_android())


@pytest.fixture(autouse=True)
def media(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path / "media"


@pytest.fixture
def now() -> datetime:
    return timezone.now()


@pytest.fixture
def stay(now: datetime) -> Consignment:
    return build.consignment(State.LISTED, at=now)


def add_photo(stay: Consignment, *, size: tuple[int, int] = (600, 400), **more: Any) -> Photo:
    made = clean_picture(picture(size=size), name="IMG 1.jpg")
    return recording.add_photo(stay.pk, picture=made, by=build.BUILDER, at=timezone.now(), **more)


def add_clip(stay: Consignment, folder: Path, *, content: bytes = FILM, **more: Any) -> Clip:
    path = folder / f"{uuid.uuid4()}.part"
    path.write_bytes(content)
    made = clean_clip(path, name="walk.mp4")
    given = {"kind": "walk_round", "name": "walk.mp4", **more}
    return filming.add_clip(stay.pk, clip=made, by=build.BUILDER, at=timezone.now(), **given)


def content_of(answer: Any) -> bytes:
    return b"".join(answer.streaming_content)


def status_of(answer: Any) -> int:
    """The status, with the content read to its end, so that the file is closed."""
    if answer.streaming:
        content_of(answer)
    return int(answer.status_code)


def linked(stay: Consignment) -> Client:
    """The consignor's browser, once the link was opened."""
    _, token = linking.make_link(stay.pk, by=build.BUILDER, at=timezone.now())
    client = Client()
    client.get(reverse("open_link", args=[token]))
    return client


# photos


def test_list_shows_thumbnails_with_their_size_and_lazily(client: Client, sales: Actor, stay: Consignment) -> None:
    row = add_photo(stay, caption="nose")
    page = text_of(sign_in(client, sales).get(url(stay, "vehicle_file")))
    small = reverse("small_photo", args=[row.code])
    assert f'<img src="{small}" loading="lazy" width="600" height="400" alt="nose">' in page
    assert content_of(client.get(small)) == Path(row.thumbnail.path).read_bytes()
    assert Path(row.thumbnail.path).stat().st_size < Path(row.file.path).stat().st_size


def test_photo_of_an_earlier_version_is_its_own_thumbnail_and_original(
    client: Client, owner: Actor, stay: Consignment
) -> None:
    row = add_photo(stay)
    Photo.objects.filter(pk=row.pk).update(
        thumbnail="", original="", original_sha256="", original_name="", original_bytes=None, width=None, height=None
    )
    shown = Path(row.file.path).read_bytes()
    sign_in(client, owner)
    for name in ("photo", "small_photo", "original_photo"):
        assert content_of(client.get(reverse(name, args=[row.code]))) == shown
    assert reverse("original_photo", args=[row.code]) not in text_of(client.get(url(stay, "vehicle_file")))


def test_original_goes_to_the_owner_alone_to_be_saved(
    client: Client, owner: Actor, intake: Actor, sales: Actor, stay: Consignment
) -> None:
    row = add_photo(stay)
    address = reverse("original_photo", args=[row.code])
    answer = sign_in(client, owner).get(address)
    content = content_of(answer)
    assert hashlib.sha256(content).hexdigest() == row.original_sha256
    assert b"Phone of somebody" in content
    assert answer["Content-Disposition"] == 'attachment; filename="IMG 1.jpg"'
    assert (answer["Content-Type"], answer["X-Content-Type-Options"]) == ("application/octet-stream", "nosniff")
    assert answer["Content-Security-Policy"].startswith("sandbox; default-src 'none'")
    assert answer["Cache-Control"] == "no-store"
    for by in (intake, sales):
        assert sign_in(Client(), by).get(address).status_code == 403
        assert address not in text_of(sign_in(Client(), by).get(url(stay, "vehicle_file")))
    assert linked(stay).get(address)["Location"].startswith(reverse("sign_in"))


def test_name_of_an_original_cannot_break_the_header(client: Client, owner: Actor, stay: Consignment) -> None:
    row = add_photo(stay)
    Photo.objects.filter(pk=row.pk).update(original_name='a"\r\nSet-Cookie: x=1.jpg')
    answer = sign_in(client, owner).get(reverse("original_photo", args=[row.code]))
    content_of(answer)
    assert "\n" not in answer["Content-Disposition"]
    assert "x" not in answer.cookies


def test_form_takes_camera_and_gallery_and_what_it_is_asked_for(
    client: Client, intake: Actor, stay: Consignment
) -> None:
    sign_in(client, intake)
    page = client.get(url(stay, "vehicle_file"), {"station": "front", "shot": "front.straight"})
    assert '<input type="hidden" name="station" value="front" id="photo_station">' in text_of(page)
    assert "For Front: Front, straight on" in text_of(page)
    given = {
        "camera": [SimpleUploadedFile("now.jpg", picture(size=(50, 40)))],
        "file": [SimpleUploadedFile("then.jpg", picture(size=(60, 40)))],
        "station": "front",
        "shot": "front.straight",
    }
    client.post(url(stay, "add_photo"), given)
    rows = Photo.objects.values_list("original_name", "station", "shot").order_by("pk")
    assert list(rows) == [("now.jpg", "front", "front.straight"), ("then.jpg", "front", "front.straight")]
    assert "<h3>Front <small>1 of 3 shots</small></h3>" in text_of(client.get(url(stay, "vehicle_file")))


def test_form_without_a_picture_says_so(client: Client, intake: Actor, stay: Consignment) -> None:
    answer = sign_in(client, intake).post(url(stay, "add_photo"), {"caption": "nose"})
    assert "Choose at least one picture." in text_of(answer)


def test_picture_sent_twice_is_told_to_be_here(client: Client, intake: Actor, stay: Consignment) -> None:
    sign_in(client, intake)
    for told in ("One picture is kept.", "One was here already."):
        given = {"file": [SimpleUploadedFile("a.jpg", picture())]}
        assert told in text_of(client.post(url(stay, "add_photo"), given, follow=True))
    assert Photo.objects.count() == 1


def test_picture_that_a_full_disk_refuses_is_answered_as_a_refusal_with_what_was_typed(
    client: Client, intake: Actor, stay: Consignment, settings: Any
) -> None:
    settings.LEAST_FREE_DISK = 2**60
    sent = [SimpleUploadedFile(f"{count}.jpg", picture(size=(80, 60 + count))) for count in range(2)]
    given = {"file": sent, "caption": "the nose", "station": "front"}
    answer = sign_in(client, intake).post(url(stay, "add_photo"), given)
    assert (answer.status_code, Photo.objects.count()) == (422, 0)
    page = text_of(answer)
    assert page.count("no files are taken. Tell whoever runs this house to make room.") == 1
    assert 'value="the nose"' in page
    assert answer.context["forms"]["photo"].data["station"] == "front"


def test_unknown_station_is_refused_and_nothing_kept(client: Client, intake: Actor, stay: Consignment) -> None:
    given = {"file": [SimpleUploadedFile("a.jpg", picture())], "station": "moon"}
    assert "There is no station moon." in text_of(sign_in(client, intake).post(url(stay, "add_photo"), given))
    assert not Photo.objects.exists()


# clips


def test_clip_is_served_whole_and_in_stretches(client: Client, sales: Actor, stay: Consignment, tmp_path: Path) -> None:
    address = reverse("clip", args=[add_clip(stay, tmp_path).code])
    sign_in(client, sales)
    whole = client.get(address)
    assert (whole.status_code, content_of(whole)) == (200, FILM)
    assert (whole["Content-Type"], whole["Content-Length"]) == ("video/mp4", str(len(FILM)))
    assert (whole["Accept-Ranges"], whole["Content-Disposition"]) == ("bytes", "inline")
    assert (whole["Cache-Control"], whole["X-Content-Type-Options"]) == ("no-store", "nosniff")
    for header, first, last in (
        ("bytes=0-9", 0, 9),
        ("bytes=50-", 50, len(FILM) - 1),
        ("bytes=-7", len(FILM) - 7, len(FILM) - 1),
    ):
        part = client.get(address, headers={"Range": header})
        assert (part.status_code, content_of(part)) == (206, FILM[first : last + 1])
        assert part["Content-Range"] == f"bytes {first}-{last}/{len(FILM)}"
        assert part["Content-Length"] == str(last - first + 1)


def test_stretch_beyond_the_end_is_told_the_size(
    client: Client, sales: Actor, stay: Consignment, tmp_path: Path
) -> None:
    address = reverse("clip", args=[add_clip(stay, tmp_path).code])
    answer = sign_in(client, sales).get(address, headers={"Range": f"bytes={len(FILM)}-"})
    assert (answer.status_code, answer["Content-Range"]) == (416, f"bytes */{len(FILM)}")


def test_stretch_of_another_file_under_this_address_is_the_whole(
    client: Client, sales: Actor, stay: Consignment, tmp_path: Path
) -> None:
    row = add_clip(stay, tmp_path)
    address, tag = reverse("clip", args=[row.code]), f'"{row.sha256}"'
    sign_in(client, sales)
    same = client.get(address, headers={"Range": "bytes=0-1", "If-Range": tag})
    other = client.get(address, headers={"Range": "bytes=0-1", "If-Range": '"other"'})
    assert (content_of(same), content_of(other)) == (FILM[:2], FILM)


def test_lost_clip_is_nothing_here(client: Client, sales: Actor, stay: Consignment, tmp_path: Path) -> None:
    row = add_clip(stay, tmp_path)
    Path(row.file.path).unlink()
    assert sign_in(client, sales).get(reverse("clip", args=[row.code])).status_code == 404


def test_file_shows_its_clips_and_what_they_hold(
    client: Client, sales: Actor, stay: Consignment, tmp_path: Path
) -> None:
    row = add_clip(stay, tmp_path, content=RACY, caption="all round")
    page = text_of(sign_in(client, sales).get(url(stay, "vehicle_file")))
    assert f'<video controls preload="metadata" src="{reverse("clip", args=[row.code])}"' in page
    assert "holds the place where it was taken" in page
    assert "Walk-round: all round" in page


# the consignor's link


def test_link_opens_public_photos_and_clips_of_its_own_stay_only(
    client: Client, stay: Consignment, now: datetime, tmp_path: Path
) -> None:
    other = build.consignment(at=now)
    own = linked(stay)
    rows: list[tuple[str, str, Photo | Clip, int]] = [
        ("status_small_photo", "photo", add_photo(stay), 200),
        ("status_small_photo", "photo", add_photo(stay, size=(60, 41), public=False), 404),
        ("status_small_photo", "photo", add_photo(other), 404),
        ("status_clip", "clip", add_clip(stay, tmp_path, public=True), 200),
        ("status_clip", "clip", add_clip(stay, tmp_path, content=RACY), 404),
        ("status_clip", "clip", add_clip(other, tmp_path, public=True), 404),
    ]
    for name, kind, row, status in rows:
        address = reverse(name, kwargs={"code": stay.code, kind: row.code})
        answer = own.get(address)
        assert status_of(answer) == status, (name, row)
        assert answer["Cache-Control"] == "no-store"
        assert client.get(address).status_code == 404, "a stranger"
        assert own.get(reverse(kind, args=[row.code]))["Location"].startswith(reverse("sign_in"))
    page = text_of(own.get(reverse("status", args=[stay.code])))
    assert page.count("<img ") == page.count("<video ") == 1
    assert 'width="600" height="400"' in page
    part = own.get(reverse("status_clip", args=[stay.code, rows[3][2].code]), headers={"Range": "bytes=2-5"})
    assert (part.status_code, content_of(part)) == (206, FILM[2:6])


def test_link_that_ran_out_opens_no_clip(stay: Consignment, tmp_path: Path) -> None:
    row, own = add_clip(stay, tmp_path, public=True), linked(stay)
    linking.revoke_link(stay.pk, by=build.BUILDER, at=timezone.now())
    assert own.get(reverse("status_clip", args=[stay.code, row.code])).status_code == 404


# hiding


@pytest.mark.parametrize("kind", ["photo", "clip"])
def test_hidden_is_shown_no_more_and_stays_on_file(
    client: Client, intake: Actor, stay: Consignment, tmp_path: Path, kind: str
) -> None:
    row: Photo | Clip = add_photo(stay) if kind == "photo" else add_clip(stay, tmp_path, public=True)
    own, address = linked(stay), reverse(f"status_{kind}", args=[stay.code, row.code])
    before = status_of(own.get(address))
    sign_in(client, intake)
    asked = client.get(reverse(f"hide_{kind}", args=[row.code]))
    assert f"Hide this {kind}" in text_of(asked)
    answer = client.post(reverse(f"hide_{kind}", args=[row.code]), {"reason": "a stranger in it"}, follow=True)
    assert f"The {kind} is hidden." in text_of(answer)
    assert "Hidden: 1" in text_of(answer)
    assert (before, own.get(address).status_code) == (200, 404)
    assert HiddenMedia.objects.get().reason == "a stranger in it"
    assert LogEntry.objects.filter(action=f"{kind}.hidden").count() == 1
    assert Path(row.file.path).exists()
    again = client.post(reverse(f"hide_{kind}", args=[row.code]), {"reason": "twice"})
    assert (again.status_code, HiddenMedia.objects.count()) == (422, 1)


def test_hiding_without_a_reason_is_refused(client: Client, intake: Actor, sales: Actor, stay: Consignment) -> None:
    address = reverse("hide_photo", args=[add_photo(stay).code])
    assert sign_in(client, intake).post(address, {"reason": " "}).status_code == 422
    assert sign_in(Client(), sales).post(address, {"reason": "mine"}).status_code == 403
    assert not HiddenMedia.objects.exists()


def test_file_takes_as_many_queries_with_one_photo_and_clip_as_with_ten(
    client: Client, owner: Actor, stay: Consignment, tmp_path: Path
) -> None:
    sign_in(client, owner)

    def count() -> int:
        with CaptureQueriesContext(
            connection,
        ) as queries:
            client.get(url(stay, "vehicle_file"))
        return len(queries)

    def add(number: int) -> None:
        add_photo(stay, size=(40 + number, 30), spot=Spot("front"))
        gone = add_photo(stay, size=(40 + number, 50))
        filming.hide_photo(gone.code, reason="blurred", by=owner, at=timezone.now())
        add_clip(stay, tmp_path, content=films.mp4(film=b"%d" % number))

    add(0)
    few = count()
    for number in range(1, 10):
        add(number)
    assert count() == few


def test_missing_shots_say_what_they_are_for_in_words(client: Client, stay: Consignment, owner: Actor) -> None:
    sign_in(client, owner)
    shown = text_of(client.get(url(stay, "vehicle_file")))
    assert "where there is one: trunk or cargo floor" in shown
    assert "frozenset" not in shown
