"""Photos by station and the shots that are missing, from plain values."""

from dataclasses import dataclass

from hypothesis import given
from hypothesis import strategies as st

from inventory.queries.shots import StationShots, shot_list, shots_wanted
from inventory.rules.catalogue import STATIONS, Shot


@dataclass(frozen=True)
class Taken:
    station: str = ""
    shot: str = ""
    number: int = 0


WANTED = (
    StationShots("front", "Front", (Shot("front_whole", "Whole front"), Shot("lamps", "Lamps"))),
    StationShots("rear", "Rear", (Shot("rear_whole", "Whole rear"),)),
    StationShots("glass", "Glass"),
)


def test_shot_is_missing_until_a_photo_of_its_station_answers_it() -> None:
    front, rear, glass = shot_list([Taken("front", "lamps"), Taken("rear", "front_whole")], WANTED)
    assert [shot.code for shot in front.missing] == ["front_whole"]
    assert (front.answered, front.wanted) == (1, 2)
    assert [shot.code for shot in rear.missing] == ["rear_whole"]
    assert (glass.photos, glass.missing, glass.wanted) == ((), (), 0)


def test_two_photos_of_one_shot_answer_it_once_and_both_are_shown() -> None:
    front = shot_list([Taken("front", "lamps", 1), Taken("front", "lamps", 2)], WANTED)[0]
    assert ([photo.number for photo in front.photos], front.answered) == ([1, 2], 1)


def test_photo_of_no_station_or_of_one_that_is_gone_stands_at_the_end() -> None:
    *_, last = shot_list([Taken(), Taken("trailer", "hitch")], WANTED)
    assert (last.code, len(last.photos), last.missing) == ("", 2, ())


def test_without_photos_nothing_stands_at_the_end() -> None:
    assert [station.code for station in shot_list([], WANTED)] == ["front", "rear", "glass"]


@given(st.lists(st.builds(Taken, st.sampled_from(["", "front", "rear", "moon"]), st.sampled_from(["", "lamps"]))))
def test_no_photo_is_lost_or_shown_twice(taken: list[Taken]) -> None:
    numbered = [Taken(one.station, one.shot, place) for place, one in enumerate(taken)]
    shown = [photo.number for station in shot_list(numbered, WANTED) for photo in station.photos]
    assert sorted(shown) == list(range(len(taken)))


def test_stations_come_in_walking_order() -> None:
    assert [station.code for station in shots_wanted(lacks=())] == [station.code for station in STATIONS]
