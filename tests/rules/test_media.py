"""How large and how many; and where a picture may belong."""

import pytest

from inventory.errors import Refused
from inventory.rules import media
from inventory.rules.media import Spot


@pytest.mark.parametrize(
    ("size", "written"),
    [(0, "0 MB"), (104_858, "0.1 MB"), (2**20, "1 MB"), (3 * 2**19, "1.5 MB"), (300 * 2**20, "300 MB")],
)
def test_megabytes_are_written_as_people_do(size: int, written: str) -> None:
    assert media.megabytes(size) == written


@pytest.mark.parametrize(("kind", "most"), [("photo", 20 * 2**20), ("clip", 300 * 2**20)])
def test_size_is_held_to_its_kind(kind: str, most: int) -> None:
    media.check_size(most, kind=kind, name="a")
    with pytest.raises(Refused, match="larger than"):
        media.check_size(most + 1, kind=kind, name="a")
    with pytest.raises(Refused, match="is empty"):
        media.check_size(0, kind=kind, name="a")


def test_room_and_open_uploads_are_held_at_their_bounds() -> None:
    media.check_room(3 * 2**30 - 1, more=1)
    media.check_open_uploads(39)
    with pytest.raises(Refused, match="would pass 3,072 MB"):
        media.check_room(3 * 2**30, more=1)
    with pytest.raises(Refused, match="40 at a time"):
        media.check_open_uploads(40)


def test_file_falls_into_2000_pieces_at_most() -> None:
    whole = 300 * 2**20
    least = 157_287  # 314,572,800 / 2,000 = 157,286.4
    media.check_piece(least, rest=whole, total=whole, name="walk.mov")
    media.check_piece(1, rest=1, total=whole, name="walk.mov")
    with pytest.raises(Refused, match="has at least 157287 bytes") as refusal:
        media.check_piece(least - 1, rest=whole, total=whole, name="walk.mov")
    assert (refusal.value.code, refusal.value.got) == ("bad_piece", least - 1)
    assert "larger pieces" in str(refusal.value)


def test_a_day_of_one_person_and_the_disk_have_an_end() -> None:
    media.check_day(20 * 2**30 - 1, more=1)
    media.check_disk(2**30 + 1, more=1, least=2**30)
    with pytest.raises(Refused, match="in 24 hours"):
        media.check_day(20 * 2**30, more=1)
    with pytest.raises(Refused, match="1,023 MB left"):
        media.check_disk(2**30 - 2**20, more=1, least=2**30)


def test_spot_names_a_station_of_the_walk() -> None:
    for spot in (Spot(), Spot("front"), Spot("front", "front.hood", "front.straight")):
        assert media.check_spot(spot) == spot
    for spot, field in ((Spot("moon"), "station"), (Spot("front", "x"), "check_code"), (Spot(shot="x"), "station")):
        with pytest.raises(Refused) as refusal:
            media.check_spot(spot)
        assert refusal.value.field == field
