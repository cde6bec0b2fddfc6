"""The catalogue of the walk: whole, well formed, mirrored, and never asking more for knowing more."""

import re
from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.rules.catalogue import CHECKS, STATION_OF, STATIONS, Check, Feature, Station, asked
from inventory.rules.limit_rows import CRITERIA, LIMITS, STOPS_DRIVES
from inventory.rules.words import BuildClass

WALKING_ORDER = [
    "cold_start",
    "paperwork",
    "front",
    "left_side",
    "rear",
    "right_side",
    "glass",
    "engine_bay",
    "interior",
    "underside",
    "tyres",
    "road_test",
]
ALL = [check for station in STATIONS for check in station.checks]
FEATURES = st.frozensets(st.sampled_from(Feature))
CLASSES = st.sampled_from(["", *BuildClass.values])

each_station = pytest.mark.parametrize("station", STATIONS, ids=lambda station: station.code)
each_check = pytest.mark.parametrize("check", ALL, ids=lambda check: check.code)


def codes(
    *, has: frozenset[Feature] = frozenset(), lacks: frozenset[Feature] = frozenset(), build_class: str = ""
) -> set[str]:
    return {check.code for one in STATIONS for check in asked(one, has=has, lacks=lacks, build_class=build_class)}


def test_stations_stand_in_walking_order() -> None:
    assert [station.code for station in STATIONS] == WALKING_ORDER
    assert list(CHECKS) == [check.code for check in ALL]


def test_codes_are_unique() -> None:
    assert len(CHECKS) == len(ALL)
    assert 95 <= len(ALL) <= 115


@each_station
def test_station_is_a_walk_of_its_own(station: Station) -> None:
    assert 6 <= len(station.checks) <= 13
    assert station.shots
    assert len(set(station.shots)) == len(station.shots)
    assert not station.hint.endswith(".")
    assert station.caution == "" or station.caution.endswith(".")


@each_check
def test_check_is_well_formed(check: Check) -> None:
    station = STATION_OF[check.code]
    assert check in station.checks
    assert re.fullmatch(rf"{station.code}\.[a-z]+(_[a-z]+)*", check.code)
    assert 1 <= check.weight <= 5
    assert 0 < len(check.wording) <= 90
    assert check.wording[0].isupper()
    assert check.wording[-1] not in ".?!:;, "
    assert check.how == "" or (check.how[0].isupper() and re.search(r"[^.]\.$", check.how))
    assert ". " not in check.how, "one sentence"
    assert not check.needs & check.unless


def test_wordings_are_unique() -> None:
    assert not [wording for wording, count in Counter(check.wording.casefold() for check in ALL).items() if count > 1]


@pytest.mark.parametrize("check", [check for check in ALL if check.twin], ids=lambda check: check.code)
def test_twins_are_mutual_and_mirror_each_other(check: Check) -> None:
    twin = CHECKS[check.twin]
    assert twin.twin == check.code != twin.code

    def mirrored(text: str) -> str:
        other = {"left": "right", "right": "left", "Left": "Right", "Right": "Left"}
        return re.sub("left|right", lambda side: other[side[0]], text, flags=re.IGNORECASE)

    assert (mirrored(check.wording), mirrored(check.code)) == (twin.wording, twin.code)
    facts = ("how", "weight", "unit", "limit", "criterion", "structural", "needs", "unless", "only_for")
    assert [getattr(check, name) for name in facts] == [getattr(twin, name) for name in facts]


def test_sides_are_asked_in_the_same_order() -> None:
    left, right = (next(one for one in STATIONS if one.code == f"{side}_side") for side in ("left", "right"))
    assert [check.twin for check in left.checks] == [check.code for check in right.checks]


# What only an instrument of the workshop tells, and no walk can ask: a roller bench, a light meter, an air line.
NOT_OF_A_WALK = {"brake_imbalance", "glass_light", "leak_down"}


def test_every_limit_is_read_and_every_criterion_looked_at() -> None:
    """49 CFR 570 as `limit_rows.py` has it: whatever may stop a test drive has its check."""
    assert {check.limit for check in ALL} - {""} == set(LIMITS) - NOT_OF_A_WALK
    assert {check.criterion for check in ALL} - {""} == set(CRITERIA)
    stops = {code for code, limit in LIMITS.items() if limit.system in STOPS_DRIVES}
    assert stops & NOT_OF_A_WALK == {"brake_imbalance"}


@each_check
def test_reading_has_the_unit_of_its_limit(check: Check) -> None:
    assert not check.limit or check.unit == LIMITS[check.limit].unit


def test_readings_without_a_limit_have_a_unit() -> None:
    assert {check.code: check.unit for check in ALL if check.unit and not check.limit} == {
        "cold_start.battery": "volts",
        "cold_start.charging": "volts",
        "left_side.filler": "micrometres",
        "right_side.filler": "micrometres",
        "road_test.oil_pressure": "psi",
    }


def test_tread_is_read_at_each_wheel() -> None:
    assert sum(check.limit == "tread_depth" for check in ALL) == 4


def test_structure_is_never_lost_to_one_word_too_many() -> None:
    """Whatever is said of the frame, its rails or the body's are asked for, and the floors in any case."""
    for has in (frozenset[Feature](), frozenset({Feature.SEPARATE_FRAME})):
        for lacks in (frozenset[Feature](), frozenset({Feature.SEPARATE_FRAME}) - has):
            left = codes(has=has, lacks=lacks)
            assert left & {"underside.frame", "underside.body_sills"}
            assert "underside.floors" in left


@pytest.mark.parametrize("feature", list(Feature), ids=str)
def test_every_feature_is_used_and_has_a_short_label(feature: Feature) -> None:
    assert any(feature in check.needs | check.unless for check in ALL)
    assert len(feature.value) <= 30
    assert feature.label
    assert feature.label[-1] != "."


def test_nothing_known_is_asked_everything() -> None:
    assert codes() == set(CHECKS)


@each_check
def test_check_goes_where_what_it_needs_is_lacking(check: Check) -> None:
    for feature in check.needs:
        assert check.code not in codes(lacks=frozenset({feature}))
        assert check.code in codes(has=frozenset({feature}))
    for feature in check.unless:
        assert check.code not in codes(has=frozenset({feature}))
        assert check.code in codes(lacks=frozenset({feature}))


def test_question_for_one_build_class() -> None:
    code = "paperwork.assigned"
    assert {kind for kind in BuildClass if code in codes(build_class=kind)} == {BuildClass.REPLICA}
    assert {check.code for check in ALL if check.only_for} == {code}


@given(has=FEATURES, lacks=FEATURES, more_has=FEATURES, more_lacks=FEATURES, build_class=CLASSES)
def test_knowing_more_never_adds_a_question(
    *,
    has: frozenset[Feature],
    lacks: frozenset[Feature],
    more_has: frozenset[Feature],
    more_lacks: frozenset[Feature],
    build_class: str,
) -> None:
    before = codes(has=has, lacks=lacks)
    after = codes(has=has | more_has, lacks=lacks | more_lacks, build_class=build_class)
    assert after <= before


@given(has=FEATURES, lacks=FEATURES, build_class=CLASSES)
def test_what_is_asked_keeps_walking_order(
    *, has: frozenset[Feature], lacks: frozenset[Feature], build_class: str
) -> None:
    for station in STATIONS:
        left = asked(station, has=has, lacks=lacks, build_class=build_class)
        assert left == tuple(check for check in station.checks if check in left)


@given(has=FEATURES)
def test_what_is_settled_by_features_keeps_the_core_of_each_station(has: frozenset[Feature]) -> None:
    """Every feature said, one way or the other, leaves a walk at each station."""
    lacks = frozenset(Feature) - has
    for station in STATIONS:
        assert len(asked(station, has=has, lacks=lacks, build_class=BuildClass.SURVIVOR)) >= 4


@each_station
def test_earlier_question_is_named_but_not_asked(station: Station) -> None:
    """Frozen inspections answered one overall check a station; it keeps its wording there."""
    assert [check.code for check in station.earlier] == [f"{station.code}.overall"]
    assert station.ever == station.checks + station.earlier
    assert not CHECKS.keys() & {check.code for check in station.earlier}
