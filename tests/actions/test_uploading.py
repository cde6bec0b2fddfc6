"""Files in pieces: what came is kept in order, made into one photo or clip once, and cleared when nobody goes on."""

import hashlib
import os
import uuid
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from inventory.actions import filming, recording, uploading
from inventory.actions.uploading import Sending
from inventory.errors import NotAllowed, NotFound, Refused, TooLate
from inventory.models import Clip, Consignment, LogEntry, Photo, Upload
from inventory.queries.media import arrived, bytes_sent
from inventory.rules import media as rules
from inventory.rules.media import Spot
from inventory.rules.roles import Actor
from inventory.uploads import assembled, clean_picture, pieces
from tests import build
from tests.test_uploads import picture
from tests.uploads import films

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def media(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def stay(at: datetime) -> Consignment:
    return build.consignment(at=at)


def sending(content: bytes = b"pixels", **changes: Any) -> Sending:
    announced = Sending(
        kind="photo", name="front.jpg", total=len(content), sha256=hashlib.sha256(content).hexdigest(),
        client_key=uuid.uuid4(),
    )  # fmt: skip
    return replace(announced, **changes)


def begin(stay: Consignment, content: bytes, *, by: Actor, at: datetime, **changes: Any) -> Upload:
    return uploading.begin_upload(stay.pk, sending=sending(content, **changes), by=by, at=at)


def send(row: Upload, content: bytes, *, by: Actor, at: datetime, piece: int = 1000) -> Upload:
    """All pieces from where it stands, and the end of it."""
    for offset in range(row.received, len(content), piece):
        row = uploading.receive_piece(row.code, offset=offset, content=content[offset : offset + piece], by=by, at=at)
    with assembled(arrived(row)) as made:
        return uploading.finish_upload(row.code, made=made, by=by, at=at)


def on_disk(folder: Path) -> list[str]:
    return sorted(path.name for path in (folder / "uploads").glob("*"))


# the way through


def test_photo_in_pieces_is_one_photo_with_its_original(
    intake: Actor, stay: Consignment, at: datetime, tmp_path: Path, django_capture_on_commit_callbacks: Any
) -> None:
    content = picture(size=(600, 400))
    row = begin(stay, content, by=intake, at=at, caption="nose", public=True, spot=Spot("front", "", "front_whole"))
    with django_capture_on_commit_callbacks(execute=True):
        row = send(row, content, by=intake, at=at)
    photo = Photo.objects.get()
    assert (row.photo, row.finished_at) == (photo, at)
    assert Path(photo.original.path).read_bytes() == content
    assert (photo.caption, photo.public, photo.station, photo.shot) == ("nose", True, "front", "front_whole")
    assert photo.original_sha256 == hashlib.sha256(content).hexdigest()
    assert (photo.original_bytes, photo.original_name) == (len(content), "front.jpg")
    assert on_disk(tmp_path) == []


def test_clip_in_pieces_is_one_clip_moved_and_not_rewritten(
    intake: Actor, stay: Consignment, at: datetime, tmp_path: Path, django_capture_on_commit_callbacks: Any
) -> None:
    content = films.mp4(major=b"qt  ")
    row = begin(stay, content, by=intake, at=at, kind="clip", name="walk.mov", clip_kind="walk_round")
    with django_capture_on_commit_callbacks(execute=True):
        row = send(row, content, by=intake, at=at, piece=100)
    clip = Clip.objects.get()
    assert Path(clip.file.path).read_bytes() == content
    assert (row.clip, clip.kind, clip.content_type, clip.by) == (clip, "walk_round", "video/quicktime", "Sam Intake")
    assert clip.file.name.endswith(".mov")
    assert on_disk(tmp_path) == []
    assert LogEntry.objects.filter(action="clip.added", subject_id=clip.pk).count() == 1


def test_lost_answer_is_made_up_for_by_asking_again(intake: Actor, stay: Consignment, at: datetime) -> None:
    content = picture()
    announced = sending(content)
    row = uploading.begin_upload(stay.pk, sending=announced, by=intake, at=at)
    uploading.receive_piece(row.code, offset=0, content=content[:300], by=intake, at=at)
    again = uploading.begin_upload(stay.pk, sending=announced, by=intake, at=at)
    assert (again.pk, again.received) == (row.pk, 300)
    assert send(again, content, by=intake, at=at).photo is not None
    assert uploading.begin_upload(stay.pk, sending=announced, by=intake, at=at).photo == Photo.objects.get()


def test_finished_twice_is_one_photo(intake: Actor, stay: Consignment, at: datetime) -> None:
    content = picture()
    row = begin(stay, content, by=intake, at=at)
    row = send(row, content, by=intake, at=at)
    made = clean_picture(content, name="front.jpg")
    assert uploading.finish_upload(row.code, made=made, by=intake, at=at).photo == row.photo
    assert uploading.receive_piece(row.code, offset=0, content=content[:9], by=intake, at=at).photo == row.photo
    assert Photo.objects.count() == 1


def test_same_file_under_another_key_is_the_same_photo_and_need_not_be_sent(
    intake: Actor, owner: Actor, stay: Consignment, at: datetime
) -> None:
    content, film = picture(), films.mp4()
    first = send(begin(stay, content, by=intake, at=at), content, by=intake, at=at)
    send(begin(stay, film, kind="clip", by=intake, at=at), film, by=intake, at=at)
    again = begin(stay, content, by=owner, at=at)
    assert (again.photo, again.received, again.finished_at) == (first.photo, len(content), at)
    assert begin(stay, film, kind="clip", by=owner, at=at).clip == Clip.objects.get()


def test_two_people_send_the_same_file_at_once_and_it_is_one_photo(
    intake: Actor, owner: Actor, stay: Consignment, at: datetime
) -> None:
    content = picture()
    rows = [(begin(stay, content, by=who, at=at), who) for who in (intake, owner)]
    made = {send(row, content, by=who, at=at).photo for row, who in rows}
    assert made == {Photo.objects.get()}


# what is refused


def test_wrong_offset_says_how_much_is_here(intake: Actor, stay: Consignment, at: datetime) -> None:
    content = picture()
    row = begin(stay, content, by=intake, at=at)
    uploading.receive_piece(row.code, offset=0, content=content[:100], by=intake, at=at)
    for offset in (99, 101):
        with pytest.raises(TooLate) as refusal:
            uploading.receive_piece(row.code, offset=offset, content=b"\0" * 50, by=intake, at=at)
        assert (refusal.value.code, refusal.value.got) == ("offset_differs", 100)
    row.refresh_from_db()
    assert row.received == 100


def test_other_bytes_at_a_place_that_is_here_change_nothing(intake: Actor, stay: Consignment, at: datetime) -> None:
    content = picture()
    row = begin(stay, content, by=intake, at=at)
    uploading.receive_piece(row.code, offset=0, content=content[:100], by=intake, at=at)
    uploading.receive_piece(row.code, offset=0, content=content[:100], by=intake, at=at)
    with pytest.raises(TooLate):
        uploading.receive_piece(row.code, offset=0, content=b"\0" * 100, by=intake, at=at)
    assert pieces.path_of(row.code).read_bytes() == content[:100]


@pytest.mark.parametrize(("size", "code"), [(0, "bad_piece"), (2 * 2**20 + 1, "bad_piece"), (11, "beyond_total")])
def test_piece_of_a_wrong_size_is_refused(intake: Actor, stay: Consignment, at: datetime, size: int, code: str) -> None:
    row = begin(stay, b"0123456789", by=intake, at=at)
    with pytest.raises(Refused) as refusal:
        uploading.receive_piece(row.code, offset=0, content=b"0" * size, by=intake, at=at)
    assert refusal.value.code == code


def test_wrong_hash_makes_nothing_and_keeps_the_pieces(intake: Actor, stay: Consignment, at: datetime) -> None:
    content = picture()
    row = begin(stay, content, by=intake, at=at, sha256="0" * 64)
    with pytest.raises(Refused, match="is not what was announced") as refusal:
        send(row, content, by=intake, at=at)
    assert refusal.value.code == "wrong_sha256"
    assert pieces.path_of(row.code).read_bytes() == content
    assert not Photo.objects.exists()


def test_what_is_no_picture_makes_nothing(intake: Actor, stay: Consignment, at: datetime, tmp_path: Path) -> None:
    with pytest.raises(Refused, match="is no JPEG"):
        send(begin(stay, b"hello", by=intake, at=at), b"hello", by=intake, at=at)
    assert not Photo.objects.exists()
    assert not (tmp_path / "originals").exists()


def test_clip_with_its_place_is_kept_internal_only(intake: Actor, stay: Consignment, at: datetime) -> None:
    content = films.mp4(films.place_of_android())
    announced = sending(content, kind="clip", name="walk.mp4", public=True)
    row = uploading.begin_upload(stay.pk, sending=announced, by=intake, at=at)
    with pytest.raises(Refused, match="Turn off location in the camera") as refusal:
        send(row, content, by=intake, at=at)
    assert (refusal.value.code, refusal.value.field) == ("place_in_clip", "public")
    row = uploading.begin_upload(stay.pk, sending=replace(announced, public=False), by=intake, at=at)
    clip = send(row, content, by=intake, at=at).clip
    assert clip
    assert (clip.located, clip.public) == (True, False)


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"total": 0}, "empty_file"),
        ({"total": 20 * 2**20 + 1}, "too_large"),
        ({"kind": "clip", "total": 300 * 2**20 + 1}, "too_large"),
        ({"spot": Spot("moon")}, "no_station"),
        ({"spot": Spot("", "", "front_whole")}, "station_missing"),
        ({"spot": Spot("front", "nothing")}, "no_check"),
        ({"sha256": "F" * 64}, "invalid"),
    ],
)
def test_announcement_that_cannot_be_is_refused(
    intake: Actor, stay: Consignment, at: datetime, changes: dict[str, Any], code: str
) -> None:
    with pytest.raises(Refused) as refusal:
        begin(stay, b"pixels", by=intake, at=at, **changes)
    assert refusal.value.code == code
    assert not Upload.objects.exists()


def test_key_stays_with_its_file_and_its_person(intake: Actor, owner: Actor, stay: Consignment, at: datetime) -> None:
    announced = sending(b"pixels")
    uploading.begin_upload(stay.pk, sending=announced, by=intake, at=at)
    for by, changed, code in ((owner, {}, "key_taken"), (intake, {"sha256": "0" * 64}, "other_file")):
        with pytest.raises(Refused) as refusal:
            uploading.begin_upload(stay.pk, sending=replace(announced, **changed), by=by, at=at)
        assert refusal.value.code == code


def test_upload_of_somebody_else_is_not_there(intake: Actor, owner: Actor, stay: Consignment, at: datetime) -> None:
    row = begin(stay, b"pixels", by=intake, at=at)
    with pytest.raises(NotFound):
        uploading.receive_piece(row.code, offset=0, content=b"p", by=owner, at=at)
    with pytest.raises(NotFound):
        uploading.drop_upload(row.code, by=owner, at=at)


def test_sales_staff_and_commands_send_nothing(sales: Actor, stay: Consignment, at: datetime) -> None:
    with pytest.raises(NotAllowed):
        begin(stay, b"pixels", by=sales, at=at)
    with pytest.raises(Refused, match="Sign in as staff"):
        begin(stay, b"pixels", by=build.BUILDER, at=at)


def test_vehicle_has_room_for_3_gigabytes_counting_what_is_on_its_way(
    intake: Actor, stay: Consignment, at: datetime
) -> None:
    """10 × 300 MB are 3,000 MB of 3,072."""
    for number in range(10):
        begin(stay, b"", by=intake, at=at, kind="clip", total=rules.CLIP_BYTES, sha256=f"{number:064x}")
    with pytest.raises(Refused, match="would pass 3,072 MB") as refusal:
        begin(stay, b"", by=intake, at=at, kind="clip", total=rules.CLIP_BYTES, sha256="f" * 64)
    assert refusal.value.code == "no_room"
    assert begin(stay, b"", by=intake, at=at, kind="clip", total=72 * 2**20, sha256="e" * 64)


def test_room_counts_an_upload_once_when_it_is_finished(
    intake: Actor, stay: Consignment, at: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    content = picture()
    monkeypatch.setattr(rules, "STAY_BYTES", len(content))
    assert send(begin(stay, content, by=intake, at=at), content, by=intake, at=at).photo


def test_person_has_40_uploads_open_at_most(intake: Actor, owner: Actor, stay: Consignment, at: datetime) -> None:
    rows = [begin(stay, f"picture {number}".encode(), by=intake, at=at) for number in range(40)]
    with pytest.raises(Refused, match="You have 40 uploads open"):
        begin(stay, b"one more", by=intake, at=at)
    assert begin(stay, b"one more", by=owner, at=at)
    uploading.drop_upload(rows[0].code, by=intake, at=at)
    assert begin(stay, b"one more", by=intake, at=at)


# giving up, and clearing


def test_upload_given_up_leaves_no_pieces(
    intake: Actor, stay: Consignment, at: datetime, tmp_path: Path, django_capture_on_commit_callbacks: Any
) -> None:
    row = begin(stay, b"pixels", by=intake, at=at)
    uploading.receive_piece(row.code, offset=0, content=b"pix", by=intake, at=at)
    with django_capture_on_commit_callbacks(execute=True):
        uploading.drop_upload(row.code, by=intake, at=at)
    assert (Upload.objects.count(), on_disk(tmp_path)) == (0, [])


def test_finished_upload_cannot_be_given_up(intake: Actor, stay: Consignment, at: datetime) -> None:
    content = picture()
    row = send(begin(stay, content, by=intake, at=at), content, by=intake, at=at)
    with pytest.raises(TooLate, match="Hide it instead"):
        uploading.drop_upload(row.code, by=intake, at=at)


def test_stale_uploads_are_cleared_and_others_stay(
    intake: Actor, stay: Consignment, at: datetime, tmp_path: Path, django_capture_on_commit_callbacks: Any
) -> None:
    stale, going_on = (begin(stay, name, by=intake, at=at) for name in (b"stale", b"going on"))
    week = timedelta(days=7)
    for row, moment in ((stale, at), (going_on, at + week)):
        uploading.receive_piece(row.code, offset=0, content=row.name[:3].encode(), by=intake, at=moment)
    orphan = tmp_path / "uploads" / f"{uuid.uuid4()}.part"
    orphan.write_bytes(b"of nobody")
    for path in (tmp_path / "uploads").iterdir():
        os.utime(path, (at.timestamp(), at.timestamp()))
    with django_capture_on_commit_callbacks(execute=True):
        count = uploading.clear_uploads(week, by=build.BUILDER, at=at + week + timedelta(seconds=1))
    assert (count, [row.pk for row in Upload.objects.all()]) == (1, [going_on.pk])
    assert on_disk(tmp_path) == [f"{going_on.code}.part"]
    assert LogEntry.objects.filter(action="uploads.cleared").count() == 1


# pieces in any cut


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    content=st.binary(min_size=1, max_size=300),
    cuts=st.lists(st.integers(1, 80), min_size=1, max_size=20),
    repeats=st.lists(st.integers(1, 3), min_size=1, max_size=20),
)
def test_any_cut_sent_in_order_with_repeats_gives_the_same_bytes(
    intake: Actor, stay: Consignment, at: datetime, content: bytes, cuts: list[int], repeats: list[int]
) -> None:
    row = begin(stay, content, by=intake, at=at)
    turn = 0
    while row.received < len(content):
        offset = row.received
        piece = content[offset : offset + cuts[turn % len(cuts)]]
        for _ in range(repeats[turn % len(repeats)]):
            row = uploading.receive_piece(row.code, offset=offset, content=piece, by=intake, at=at)
        turn += 1
    assert row.is_whole
    assert pieces.path_of(row.code).read_bytes() == content
    uploading.drop_upload(row.code, by=intake, at=at)


# photos and clips themselves


def test_hidden_photo_sent_again_is_a_new_one(intake: Actor, stay: Consignment, at: datetime) -> None:
    made = clean_picture(picture(), name="front.jpg")
    first = recording.add_photo(stay.pk, picture=made, by=intake, at=at)
    filming.hide_photo(first.code, reason="a stranger in it", by=intake, at=at)
    second = recording.add_photo(stay.pk, picture=made, by=intake, at=at)
    assert second.pk != first.pk
    assert recording.add_photo(stay.pk, picture=made, by=intake, at=at).pk == second.pk


def test_photo_of_an_earlier_version_is_known_by_what_is_shown(intake: Actor, stay: Consignment, at: datetime) -> None:
    made = clean_picture(picture(), name="front.jpg")
    first = recording.add_photo(
        stay.pk, picture=replace(made, original=None, thumbnail=b"", width=None, height=None), by=intake, at=at
    )
    assert recording.add_photo(stay.pk, picture=made, by=intake, at=at).pk == first.pk
    assert first.small == first.file


def test_photo_without_place_is_put_to_the_station_it_is_sent_for(
    intake: Actor, stay: Consignment, at: datetime
) -> None:
    made = clean_picture(picture(), name="front.jpg")
    for spot, station in ((Spot(), ""), (Spot("front"), "front"), (Spot("rear"), "front"), (Spot(), "front")):
        assert recording.add_photo(stay.pk, picture=made, spot=spot, by=intake, at=at).station == station
    assert LogEntry.objects.filter(action="photo.placed").count() == 1


def test_hiding_is_told_who_and_why_and_is_done_once(
    intake: Actor, sales: Actor, stay: Consignment, at: datetime
) -> None:
    made = clean_picture(picture(), name="front.jpg")
    row = recording.add_photo(stay.pk, picture=made, by=intake, at=at)
    with pytest.raises(NotAllowed):
        filming.hide_photo(row.code, reason="mine", by=sales, at=at)
    with pytest.raises(Refused, match="cannot be blank"):
        filming.hide_photo(row.code, reason="  ", by=intake, at=at)
    filming.hide_photo(row.code, reason="blurred", by=intake, at=at)
    with pytest.raises(TooLate, match="hidden by Sam Intake on 2026-03-16: blurred"):
        filming.hide_photo(row.code, reason="blurred", by=intake, at=at)
    assert row.file.storage.exists(row.file.name)


def test_files_of_a_refused_photo_are_taken_away(
    intake: Actor, stay: Consignment, at: datetime, tmp_path: Path
) -> None:
    made = clean_picture(picture(), name="front.jpg")
    with pytest.raises(Refused):
        recording.add_photo(stay.pk, picture=made, caption="x" * 121, by=intake, at=at)
    assert not [path for path in tmp_path.rglob("*") if path.is_file()]


def test_day_of_a_person_counts_each_photo_once_whichever_way_it_was_sent(
    intake: Actor, owner: Actor, stay: Consignment, at: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    in_pieces, whole, more = picture(size=(600, 400)), picture(size=(300, 200)), picture(size=(200, 300))
    made, next_one = clean_picture(whole, name="whole.jpg"), clean_picture(more, name="more.jpg")
    send(begin(stay, in_pieces, by=intake, at=at), in_pieces, by=intake, at=at)
    recording.add_photo(stay.pk, picture=made, by=intake, at=at)
    assert bytes_sent(by_id=intake.id or 0, since=at) == len(in_pieces) + len(whole)
    monkeypatch.setattr(rules, "DAY_BYTES", len(in_pieces) + len(whole) + len(more) - 1)
    for deed in (
        lambda: recording.add_photo(stay.pk, picture=next_one, by=intake, at=at),
        lambda: begin(stay, more, by=intake, at=at),
    ):
        with pytest.raises(Refused) as refusal:
            deed()
        assert refusal.value.code == "day_full"
    recording.add_photo(stay.pk, picture=next_one, by=owner, at=at)
    recording.add_photo(build.consignment(at=at).pk, picture=next_one, by=intake, at=at + rules.DAY * 2)
