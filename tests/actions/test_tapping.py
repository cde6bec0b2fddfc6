"""Taps of devices: each once, in any order, the later told one counting."""

import uuid
from datetime import datetime, timedelta
from decimal import Decimal
from random import Random

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from inventory.actions import inspecting, tapping
from inventory.actions.inspecting import Finding
from inventory.actions.tapping import Fate, Tap
from inventory.errors import NotAllowed
from inventory.models import CheckResult, Consignment, LateTap, LogEntry, StationVisit
from inventory.queries.inspections import latest_results
from inventory.rules.catalogue import CHECKS
from inventory.rules.roles import Actor
from inventory.rules.states import State
from tests import build

pytestmark = pytest.mark.django_db
CODES = [code for code, check in CHECKS.items() if not check.unit and not code.startswith("road_test")][:5]


@pytest.fixture
def stay(intake: Actor, at: datetime) -> Consignment:
    stay = build.consignment(State.ON_LOT, at=at)
    inspecting.begin_inspection(stay.pk, by=intake, at=at)
    return stay


def tap(number: int, code: str, grade: int, *, at: datetime) -> Tap:
    finding = Finding(check_code=code, grade=grade, basis="seen")
    return Tap(key=uuid.UUID(int=number), inspection=1, made_at=at, finding=finding)


def send(
    stay: Consignment, taps: list[Tap], *, by: Actor, at: datetime, device: str = "a", sent_at: datetime | None = None
) -> list[Fate]:
    taken = tapping.take_taps(stay.pk, taps=taps, device=device, sent_at=sent_at or at, by=by, at=at)
    return [one.fate for one in taken]


def counting(stay: Consignment) -> dict[str, int | None]:
    return {code: row.grade for code, row in latest_results(stay.inspections.get()).items()}


def test_parcel_sent_again_counts_once(stay: Consignment, intake: Actor, at: datetime) -> None:
    taps = [tap(1, CODES[0], 3, at=at), tap(2, CODES[1], 2, at=at)]
    assert send(stay, taps, by=intake, at=at) == [Fate.COUNTS, Fate.COUNTS]
    assert send(stay, taps, by=intake, at=at + timedelta(hours=1)) == [Fate.COUNTS, Fate.COUNTS]
    assert CheckResult.objects.count() == 2
    assert LogEntry.objects.filter(action="inspection.check").count() == 2


def test_later_told_answer_counts_whichever_comes_first(
    stay: Consignment, intake: Actor, owner: Actor, at: datetime
) -> None:
    late = at + timedelta(minutes=30)
    assert send(stay, [tap(1, CODES[0], 1, at=at + timedelta(minutes=9))], by=owner, at=late, device="b") == [
        Fate.COUNTS
    ]
    assert send(stay, [tap(2, CODES[0], 4, at=at)], by=intake, at=late, device="a") == [Fate.OUTDONE]
    assert counting(stay) == {CODES[0]: 1}
    assert CheckResult.objects.count() == 2


def test_clock_of_a_device_is_set_right_by_when_it_sends(
    stay: Consignment, intake: Actor, owner: Actor, at: datetime
) -> None:
    """One device is a day ahead. What it says it said an hour before sending was said an hour ago."""
    now, day = at + timedelta(hours=2), timedelta(days=1)
    send(stay, [tap(1, CODES[0], 4, at=now + day - timedelta(hours=1))], by=intake, at=now, sent_at=now + day)
    send(stay, [tap(2, CODES[0], 1, at=now - timedelta(minutes=5))], by=owner, at=now, device="b")
    assert counting(stay) == {CODES[0]: 1}


@pytest.mark.parametrize("order", [(0, 1), (1, 0)], ids=["in order", "turned round"])
def test_of_one_device_the_later_tap_counts_however_long_the_earlier_one_was_on_its_way(
    stay: Consignment, intake: Actor, at: datetime, order: tuple[int, int]
) -> None:
    """A mistake is tapped right at once. The first parcel takes two seconds, and so seems to have been made later."""
    wrong, right = tap(1, CODES[0], 3, at=at), tap(2, CODES[0], 2, at=at + timedelta(milliseconds=40))
    ways = [(wrong, timedelta(seconds=2)), (right, timedelta(milliseconds=50))]
    for one, on_the_way in (ways[place] for place in order):
        sent_at = one.made_at + timedelta(milliseconds=10)
        send(stay, [one], by=intake, at=sent_at + on_the_way, sent_at=sent_at)
    assert counting(stay) == {CODES[0]: 2}


def test_nothing_is_told_in_the_future(stay: Consignment, intake: Actor, at: datetime) -> None:
    send(stay, [tap(1, CODES[0], 4, at=at + timedelta(days=300))], by=intake, at=at)
    assert CheckResult.objects.get().told_at == at


def test_same_moment_is_decided_by_the_device_and_not_by_the_order(
    stay: Consignment, intake: Actor, owner: Actor, at: datetime
) -> None:
    send(stay, [tap(1, CODES[0], 1, at=at)], by=owner, at=at, device="b")
    send(stay, [tap(2, CODES[0], 4, at=at)], by=intake, at=at, device="a")
    assert counting(stay) == {CODES[0]: 1}


def test_bad_tap_is_told_by_itself_and_the_others_are_taken(stay: Consignment, intake: Actor, at: datetime) -> None:
    taps = [
        tap(1, CODES[0], 3, at=at),
        tap(2, "roof.tent", 3, at=at),
        tap(3, CODES[1], 9, at=at),
        tap(4, CODES[2], 2, at=at),
    ]
    taken = tapping.take_taps(stay.pk, taps=taps, device="a", sent_at=at, by=intake, at=at)
    assert [one.fate for one in taken] == [Fate.COUNTS, Fate.REFUSED, Fate.REFUSED, Fate.COUNTS]
    assert "no check roof.tent" in taken[1].told
    assert counting(stay) == {CODES[0]: 3, CODES[2]: 2}


def test_visit_is_a_tap_too(stay: Consignment, intake: Actor, at: datetime) -> None:
    visit = Tap(key=uuid.UUID(int=9), inspection=1, made_at=at, visit={"station": "engine_bay", "engine": "cold"})
    empty = Tap(key=uuid.UUID(int=8), inspection=1, made_at=at)
    elsewhere = Tap(key=uuid.UUID(int=7), inspection=5, made_at=at, visit={"station": "front", "engine": "off"})
    assert send(stay, [visit, visit, empty, elsewhere], by=intake, at=at) == [
        Fate.COUNTS, Fate.COUNTS, Fate.REFUSED, Fate.REFUSED,
    ]  # fmt: skip
    assert StationVisit.objects.count() == 1


def test_tap_after_the_finish_is_kept_word_for_word_and_counts_nowhere(
    stay: Consignment, intake: Actor, at: datetime
) -> None:
    first = tap(1, CODES[0], 3, at=at)
    send(stay, [first], by=intake, at=at)
    walk = inspecting.finish_inspection(stay.pk, by=intake, at=at)
    finding = Finding(
        check_code="tyres.tread_left_front", grade=0, basis="measured", reading=Decimal("1.5"), note="bald"
    )
    late = Tap(key=uuid.UUID(int=2), inspection=1, made_at=at, finding=finding)
    visit = Tap(key=uuid.UUID(int=3), inspection=1, made_at=at, visit={"station": "front", "engine": "off"})
    assert send(stay, [first, late, late, visit], by=intake, at=at) == [Fate.COUNTS, Fate.KEPT, Fate.KEPT, Fate.KEPT]
    row = LateTap.objects.get(client_key=late.key)
    assert row.said["words"] == "Left front tyre: thinnest tread: 0, reading 1.5, “bald”"
    assert LogEntry.objects.filter(action="inspection.late").count() == 2
    walk.refresh_from_db()
    assert counting(stay) == {CODES[0]: 3}


def test_road_test_tapped_before_anybody_knew_of_a_flag_is_taken(
    stay: Consignment, intake: Actor, at: datetime
) -> None:
    road = next(code for code in CHECKS if code.startswith("road_test"))
    taps = [tap(1, "underside.brake_lines", 0, at=at), tap(2, road, 4, at=at)]
    assert send(stay, taps, by=intake, at=at) == [Fate.COUNTS, Fate.COUNTS]


def test_sales_staff_tap_nothing(stay: Consignment, sales: Actor, at: datetime) -> None:
    with pytest.raises(NotAllowed):
        send(stay, [tap(1, CODES[0], 3, at=at)], by=sales, at=at)


TAPS = st.lists(
    st.tuples(st.sampled_from(CODES), st.integers(0, 4), st.integers(0, 50), st.sampled_from("ab")),
    min_size=1, max_size=8, unique_by=lambda one: (one[0], one[2], one[3]),
)  # fmt: skip


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(said=TAPS, shuffler=st.randoms(use_true_random=False))
def test_order_of_taps_does_not_matter(
    said: list[tuple[str, int, int, str]], shuffler: Random, intake: Actor, at: datetime
) -> None:
    """Two devices, taps in any order and sent twice: the house holds the same."""
    made = [(tap(number, code, grade, at=at + timedelta(seconds=second)), device)
            for number, (code, grade, second, device) in enumerate(said)]  # fmt: skip
    held = []
    for _ in range(2):
        stay = build.consignment(State.ON_LOT, at=at)
        inspecting.begin_inspection(stay.pk, by=intake, at=at)
        mixed = [
            (Tap(**{**one.__dict__, "key": uuid.uuid5(one.key, stay.stock_number)}), device) for one, device in made
        ]
        shuffler.shuffle(mixed)
        for one, device in mixed * 2:
            send(stay, [one], by=intake, at=at + timedelta(minutes=5), device=device)
        held.append(counting(stay))
        assert CheckResult.objects.filter(inspection__consignment=stay).count() == len(made)
    assert held[0] == held[1]
