"""The catalogue of checks: its structure, its texts, and what each kind of vehicle is asked."""

import re
from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.errors import Refused
from inventory.rules import catalogue
from inventory.rules.catalogue import (
    CHECKS,
    EARLIER,
    SHOTS,
    STATION_OF,
    STATIONS,
    Check,
    Feature,
    Station,
    asked,
    asked_codes,
)
from inventory.rules.limit_rows import CRITERIA, LIMITS
from inventory.rules.words import BuildClass

WALK = [
    "cold_start", "paperwork", "front", "left_side", "rear", "right_side",
    "glass", "engine_bay", "interior", "underside", "tyres", "road_test",
]  # fmt: skip
# Shares of the stations in percent, from when each had one check (common practice, no source).
SHARES = dict(zip(WALK, (10, 4, 7, 9, 7, 9, 5, 11, 10, 14, 6, 8), strict=True))
# Brake force left and right takes a roller bench, toe an alignment gauge and the maker's figure: a shop's work.
TAKES_A_BENCH = {"brake_imbalance", "toe"}
OTHER_UNITS = {"volts", "psi", "°F", "mils", "inHg"}

ROWS = [check for station in STATIONS for check in station.checks]
by_code = pytest.mark.parametrize("check", ROWS, ids=lambda check: check.code)
by_station = pytest.mark.parametrize("station", STATIONS, ids=lambda station: station.code)

FEATURES = st.sets(st.sampled_from(Feature.values))
BUILDS = st.sampled_from(["", *BuildClass.values])


def all_but(*has: Feature) -> dict[str, list[str]]:
    """A vehicle whose every feature is known: it has these and lacks the rest."""
    return {"has": list(has), "lacks": [word for word in Feature.values if word not in has]}


# structure


def test_stations_are_in_walking_order() -> None:
    assert [station.code for station in STATIONS] == WALK


def test_codes_are_of_one_check_each() -> None:
    assert [code for code, times in Counter(check.code for check in ROWS).items() if times > 1] == []
    assert list(CHECKS) == [check.code for check in ROWS]


@by_code
def test_code_begins_with_its_station(check: Check) -> None:
    assert re.fullmatch(rf"{STATION_OF[check.code].code}\.[a-z]+(_[a-z]+)*", check.code)
    assert check in STATION_OF[check.code].checks
    assert len(check.code) <= 60  # the column


def test_number_of_checks_is_a_walk_and_not_a_teardown() -> None:
    assert 105 <= len(ROWS) <= 120


@by_station
def test_station_fits_a_quarter_of_an_hour(station: Station) -> None:
    assert 6 <= len(station.checks) <= 14
    assert 2 <= len(station.shots) <= 5


@by_code
def test_weight_is_from_1_to_10(check: Check) -> None:
    assert 1 <= check.weight <= 10


@by_station
def test_share_of_station_is_roughly_what_it_was(station: Station) -> None:
    total = sum(check.weight for check in ROWS)
    assert 300 <= total <= 500
    assert sum(check.weight for check in station.checks) * 100 / total == pytest.approx(SHARES[station.code], abs=2)


def test_left_and_right_are_mirror_images() -> None:
    left, right = (station for station in STATIONS if station.code in {"left_side", "right_side"})
    assert [check.twin for check in left.checks] == [check.code for check in right.checks]
    assert [check.twin for check in right.checks] == [check.code for check in left.checks]
    for one in left.checks:
        other = CHECKS[one.twin]
        assert other.wording == one.wording.replace("Left", "Right").replace("left", "right") != one.wording
        for kept in ("weight", "unit", "limit", "criterion", "structural", "needs", "unless", "not_for"):
            assert getattr(one, kept) == getattr(other, kept), (one.code, kept)
    assert not {check.code for check in ROWS if check.twin} - {check.code for check in left.checks + right.checks}
    assert "left" not in repr(right.checks).lower().replace("twin='left_side", "")
    assert [shot.code.replace("left", "right") for shot in left.shots] == [shot.code for shot in right.shots]


def test_cautions_stand_where_it_hurts() -> None:
    told = {station.code: station.caution.split(":")[0].split(",")[0] for station in STATIONS if station.caution}
    assert told == {
        "cold_start": "Running engine",
        "engine_bay": "Fuel and battery",
        "underside": "Lift",
        "tyres": "Lift",
        "road_test": "Licensed driver",
    }


# limits, criteria, units


@by_code
def test_reading_has_the_unit_of_its_limit(check: Check) -> None:
    if check.limit:
        assert check.unit == LIMITS[check.limit].unit
    else:
        assert check.unit in OTHER_UNITS | {""}


def test_each_limit_measured_by_hand_is_asked() -> None:
    assert {check.limit for check in ROWS if check.limit} == set(LIMITS) - TAKES_A_BENCH


def test_each_criterion_is_asked_once() -> None:
    assert Counter(check.criterion for check in ROWS if check.criterion) == dict.fromkeys(CRITERIA, 1)


def test_each_wheel_and_the_spare_have_their_tread() -> None:
    treads = [check.code for check in ROWS if check.limit == "tread_depth"]
    assert treads == [
        "rear.spare_tread",
        *(f"tyres.tread_{corner}" for corner in ("left_front", "right_front", "left_rear", "right_rear")),
    ]


def test_readings_without_a_limit_have_their_units() -> None:
    units = {check.code: check.unit for check in ROWS if check.unit and not check.limit}
    assert units == {
        "cold_start.battery": "volts",
        "cold_start.charging": "volts",
        "cold_start.oil_pressure": "psi",
        "cold_start.idle": "inHg",
        "front.paint": "mils",
        "left_side.paint": "mils",
        "rear.paint": "mils",
        "right_side.paint": "mils",
        "interior.air_conditioning": "°F",
        "road_test.temperature": "°F",
        "road_test.oil_pressure_hot": "psi",
    }


def test_structural_is_what_carries() -> None:
    assert {check.code for check in ROWS if check.structural} == {
        "front.support", "front.cowl", "left_side.rocker", "right_side.rocker", "rear.trunk_floor", "interior.floor",
        "interior.wood", "underside.frame", "underside.unit_body", "underside.floors",
    }  # fmt: skip


# texts


@by_code
def test_texts_fit_a_phone(check: Check) -> None:
    assert 10 <= len(check.wording) <= 60
    assert 20 <= len(check.hint) <= 140
    assert check.wording[0].isupper()
    assert not check.wording.endswith(".")
    assert check.hint[-1] in ".?"


def test_no_two_checks_read_alike() -> None:
    assert len({check.wording.lower() for check in ROWS}) == len(ROWS)
    assert len({shot.title.lower() for shot in SHOTS.values()}) == len(SHOTS)


def test_parts_have_their_american_names() -> None:
    british = re.compile(
        r"\b(bonnet|boot|sills?|wings?|windscreen|gearbox|silencer|propshaft|petrol|spanner|indicators?|bulkhead"
        r"|number plate|hood cover|tires?|color|bulbholder|earth)\b",
        re.IGNORECASE,
    )
    texts = [text for check in ROWS for text in (check.wording, check.hint)]
    texts += [text for station in STATIONS for text in (station.title, station.hint, station.caution)]
    texts += [shot.title for shot in SHOTS.values()] + Feature.labels
    assert [text for text in texts if british.search(text)] == []


def test_feature_labels_are_nouns_that_fit_a_question() -> None:
    assert 16 <= len(Feature) <= 20
    assert all(label == label.strip() and label[0].islower() and len(label) <= 40 for label in Feature.labels)
    assert all(len(value) <= 20 for value in Feature.values)


# photos


def test_shots_are_about_forty_with_codes_of_their_own() -> None:
    wanted = [shot for station in STATIONS for shot in station.shots]
    assert 36 <= len(wanted) <= 44
    assert list(SHOTS) == [shot.code for shot in wanted]
    assert len(SHOTS) == len(wanted)
    assert all(shot.code.startswith(f"{station.code}.") for station in STATIONS for shot in station.shots)
    assert all(len(shot.title) <= 60 for shot in wanted)


# earlier checks


def test_earlier_checks_are_readable_and_no_longer_asked() -> None:
    assert list(EARLIER) == [f"{code}.overall" for code in WALK]
    assert EARLIER["left_side.overall"].wording == "Left side: overall"
    assert {check.code.split(".")[0]: check.weight for check in EARLIER.values()} == SHARES
    assert EARLIER["tyres.overall"].unit == LIMITS["tread_depth"].unit
    assert EARLIER["underside.overall"].structural
    assert not EARLIER.keys() & CHECKS.keys()
    assert not EARLIER.keys() & asked_codes(has=[], lacks=[])
    assert all(STATION_OF[code].code == code.split(".")[0] for code in EARLIER)
    assert set(STATION_OF) == set(CHECKS) | set(EARLIER)


# what is asked


def test_everything_is_asked_of_a_vehicle_of_which_nothing_is_known() -> None:
    assert asked_codes(has=[], lacks=[]) == CHECKS.keys()
    for station in STATIONS:
        assert asked(station, has=[], lacks=[]) == station.checks


@pytest.mark.parametrize("feature", Feature)
def test_feature_decides_something(feature: Feature) -> None:
    narrowed = asked_codes(has=[feature], lacks=[]) & asked_codes(has=[], lacks=[feature])
    assert narrowed < CHECKS.keys()


@by_code
def test_check_is_left_out_for_each_of_its_reasons(check: Check) -> None:
    assert not check.needs & check.unless
    for feature in check.needs:
        assert check.code not in asked_codes(has=[], lacks=[feature])
    for feature in check.unless:
        assert check.code not in asked_codes(has=[feature], lacks=[])
    for build in check.not_for:
        assert check.code not in asked_codes(has=[], lacks=[], build_class=build)


@given(has=FEATURES, lacks=FEATURES, more=FEATURES, build=BUILDS)
def test_knowing_more_never_asks_more(has: set[str], lacks: set[str], more: set[str], build: str) -> None:
    lacks, more = lacks - has, more - has - lacks
    known = asked_codes(has=has, lacks=lacks, build_class=build)
    assert asked_codes(has=has, lacks=lacks | more, build_class=build) <= known
    assert asked_codes(has=has | more, lacks=lacks, build_class=build) <= known
    assert known <= asked_codes(has=has, lacks=lacks)


@given(has=FEATURES, lacks=FEATURES, build=BUILDS)
def test_check_that_hangs_on_nothing_is_always_asked(has: set[str], lacks: set[str], build: str) -> None:
    codes = asked_codes(has=has, lacks=lacks - has, build_class=build)
    assert {row.code for row in ROWS if not (row.needs or row.unless or row.not_for)} <= codes
    assert codes == {
        row.code for station in STATIONS for row in asked(station, has=has, lacks=lacks - has, build_class=build)
    }


@given(has=FEATURES, build=BUILDS)
def test_asked_checks_keep_their_order(has: set[str], build: str) -> None:
    for station in STATIONS:
        places = [station.checks.index(row) for row in asked(station, has=has, lacks=[], build_class=build)]
        assert places == sorted(places)


def test_sedan_of_the_thirties_is_asked_its_frame_and_wood_and_no_discs() -> None:
    codes = asked_codes(
        **all_but(
            Feature.BODY_ON_FRAME, Feature.WOOD_IN_BODY, Feature.TRUNK, Feature.MANUAL, Feature.CARBURETTOR,
            Feature.LIQUID_COOLED, Feature.MECHANICAL_BRAKES,
        ),
        build_class=BuildClass.RESTORED,
    )  # fmt: skip
    assert CHECKS.keys() - codes == {
        "left_side.glass_fibre", "right_side.glass_fibre", "rear.bed_floor", "rear.bed_sides", "rear.second_tank",
        "glass.soft_top", "glass.roof_panels", "interior.air_conditioning", "underside.unit_body", "underside.discs",
        "underside.brake_lines", "road_test.vacuum_reserve", "road_test.automatic", "road_test.four_wheel_drive",
        "road_test.power_steering",
    }  # fmt: skip
    assert {"interior.wood", "underside.frame", "underside.drums", "underside.brake_rods"} <= codes


def test_pickup_with_soft_top_is_asked_its_bed_top_tank_and_transfer_case() -> None:
    codes = asked_codes(
        **all_but(
            Feature.PICKUP_BED, Feature.SOFT_TOP, Feature.BODY_ON_FRAME, Feature.FOUR_WHEEL_DRIVE, Feature.DUAL_TANKS,
            Feature.MANUAL, Feature.CARBURETTOR, Feature.LIQUID_COOLED, Feature.FRONT_DISCS, Feature.POWER_BRAKES,
        ),
        build_class=BuildClass.SURVIVOR,
    )  # fmt: skip
    assert CHECKS.keys() - codes == {
        "left_side.glass_fibre", "right_side.glass_fibre", "rear.trunk_lid", "rear.trunk_floor", "glass.roof_panels",
        "interior.wood", "interior.air_conditioning", "underside.unit_body", "underside.brake_rods",
        "road_test.automatic", "road_test.power_steering",
    }  # fmt: skip


def test_glass_fibre_replica_is_asked_its_cracks_and_no_rust_of_a_skin() -> None:
    codes = asked_codes(
        **all_but(
            Feature.GLASS_FIBRE_BODY, Feature.BODY_ON_FRAME, Feature.REMOVABLE_TOP, Feature.TRUNK, Feature.AUTOMATIC,
            Feature.FRONT_DISCS, Feature.REAR_DISCS, Feature.POWER_BRAKES, Feature.POWER_STEERING,
            Feature.LIQUID_COOLED,
        ),
        build_class=BuildClass.REPLICA,
    )  # fmt: skip
    assert CHECKS.keys() - codes == {
        "cold_start.choke", "paperwork.data_plate", "left_side.fender", "left_side.door_bottoms", "left_side.quarter",
        "right_side.fender", "right_side.door_bottoms", "right_side.quarter", "rear.bed_floor", "rear.bed_sides",
        "rear.second_tank", "glass.soft_top", "interior.wood", "interior.air_conditioning", "underside.unit_body",
        "underside.brake_rods", "underside.drums", "road_test.manual", "road_test.four_wheel_drive",
    }  # fmt: skip


def test_replica_is_not_asked_for_the_colour_of_a_factory() -> None:
    (paperwork,) = (station for station in STATIONS if station.code == "paperwork")
    for build in BuildClass:
        codes = [check.code for check in asked(paperwork, has=[], lacks=[], build_class=build)]
        assert ("paperwork.data_plate" in codes) is (build != BuildClass.REPLICA)


@pytest.mark.parametrize(
    ("said", "code", "got"),
    [
        ({"has": ["softtop"], "lacks": []}, "unknown_feature", "softtop"),
        ({"has": [], "lacks": ["hood", "bed"]}, "unknown_feature", "bed, hood"),
        ({"has": ["trunk"], "lacks": ["trunk"]}, "feature_both_ways", "trunk"),
        ({"has": [], "lacks": [], "build_class": "kit"}, "unknown_build_class", "kit"),
    ],
)
def test_words_that_mean_nothing_are_refused(said: dict[str, list[str]], code: str, got: str) -> None:
    with pytest.raises(Refused, match=got) as refusal:
        catalogue.asked_codes(**said)  # type: ignore[arg-type]
    assert (refusal.value.code, refusal.value.got) == (code, got)
    assert refusal.value.mend
