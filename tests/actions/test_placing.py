"""Places, moves, keys and tags."""

import uuid
from datetime import date, datetime, timedelta

import pytest

from inventory.actions import placing, recording
from inventory.actions.writing import trade_day
from inventory.errors import NotAllowed, NotFound, Refused
from inventory.models import LogEntry, Movement
from inventory.queries.floor_today import floor_today
from inventory.queries.places import place_names, standings, whereabouts_of_stay
from inventory.rules.floor_words import PlaceKind
from inventory.rules.roles import Actor
from inventory.rules.states import State
from inventory.rules.wording import log_sentence
from tests import build

pytestmark = pytest.mark.django_db


def test_vehicle_moves_to_a_place_by_id_or_by_name_and_follows_whether_it_is_for_sale_there(
    intake: Actor, sales: Actor, at: datetime
) -> None:
    shop = placing.add_place("Shop", kind=PlaceKind.SHOP, not_for_sale=True, by=intake, at=at)
    stay = build.consignment(at=at)
    key = uuid.uuid4()
    first = recording.record_place(stay.pk, place_id=shop.pk, keys="Hook 1", client_key=key, by=sales, at=at)
    again = recording.record_place(stay.pk, place_id=shop.pk, keys="Hook 1", client_key=key, by=sales, at=at)
    assert (first.pk, first.place, first.at_place, first.not_for_sale) == (again.pk, "Shop", shop, True)
    said = recording.record_place(stay.pk, place="shop", not_for_sale=False, by=sales, at=at)
    assert (said.place, said.at_place, said.not_for_sale) == ("Shop", shop, False)
    typed = recording.record_place(stay.pk, place="behind the barn", by=sales, at=at)
    assert (typed.at_place, typed.not_for_sale) == (None, False)


def test_move_that_cannot_be_is_refused_with_its_field(intake: Actor, at: datetime) -> None:
    bay = placing.add_place("Bay 1", kind=PlaceKind.BAY, by=intake, at=at)
    old = placing.add_place("Bay 9", kind=PlaceKind.BAY, by=intake, at=at)
    placing.change_place(old.pk, values={}, retired=True, by=intake, at=at)
    stay = build.consignment(at=at)
    tried = [
        ({"place": "Shop", "place_id": bay.pk}, "place"), ({"place_id": old.pk}, "place_id"), ({}, "place"),
        ({"place_id": bay.pk, "expected_back_on": date(2026, 3, 15)}, "expected_back_on"),
    ]  # fmt: skip
    for given, field in tried:
        with pytest.raises(Refused) as refusal:
            recording.record_place(stay.pk, by=intake, at=at, **given)  # type: ignore[arg-type]
        assert refusal.value.field == field
    assert not Movement.objects.exists()


def test_keys_handed_on_leave_the_vehicle_where_it_is(sales: Actor, at: datetime) -> None:
    stay = build.consignment(at=at)
    with pytest.raises(Refused, match=r"Where .* stands is not recorded"):
        placing.hand_keys(stay.pk, keys="Sol", by=sales, at=at)
    recording.record_place(stay.pk, place="Bay 4", keys="Hook 4", not_for_sale=True, by=build.BUILDER, at=at)
    later = at + timedelta(days=2)
    placing.hand_keys(stay.pk, keys=" Sol ", by=sales, at=later)
    where = whereabouts_of_stay(stay)
    assert (where.place, where.since, where.by, where.not_for_sale) == ("Bay 4", at, "tests", True)
    assert (where.keys, where.keys_since, where.keys_by) == ("Sol", later, sales.name)
    line = LogEntry.objects.latest("pk")
    assert log_sentence(line.action, data=line.data) == "handed the keys on; keys: Sol"


def test_key_tag_hangs_on_one_vehicle_that_is_here_and_the_refusal_names_it(sales: Actor, at: datetime) -> None:
    one, two = build.consignment(at=at), build.consignment(at=at)
    placing.set_key_tag(one.pk, key_tag="K7", by=sales, at=at)
    with pytest.raises(Refused, match=f"Tag k7 is on the keys of {one.stock_number}, 1968 Merrow Alder") as refusal:
        placing.set_key_tag(two.pk, key_tag="k7", by=sales, at=at)
    assert refusal.value.field == "key_tag"
    build.step_to(State.WITHDRAWN, one, at=at, price=build.Decimal(1))
    build.step_to(State.RELEASED, one, at=at, price=build.Decimal(1))
    assert placing.set_key_tag(two.pk, key_tag="k7", by=sales, at=at).key_tag == "k7"


def test_place_is_renamed_in_the_present_alone_and_retired_only_when_empty(
    intake: Actor, sales: Actor, at: datetime
) -> None:
    bay = placing.add_place("Bay 1", kind=PlaceKind.BAY, by=intake, at=at)
    stay = build.consignment(at=at)
    recording.record_place(stay.pk, place="Bay 1", by=intake, at=at)
    placing.change_place(bay.pk, values={"name": "Window"}, version=bay.version, by=intake, at=at)
    assert place_names(standings(today=trade_day(at))) == ["Window"]
    assert stay.movements.get().place == "Bay 1"
    with pytest.raises(Refused, match=f"{stay.stock_number} stands at Window"):
        placing.change_place(bay.pk, values={}, retired=True, by=intake, at=at)
    with pytest.raises(Refused, match="a place of this name already"):
        placing.add_place("window", kind=PlaceKind.BAY, by=intake, at=at)
    with pytest.raises(NotAllowed):
        placing.add_place("Bay 2", kind=PlaceKind.BAY, by=sales, at=at)


def test_vehicle_late_from_an_event_is_a_line_of_today(sales: Actor, at: datetime) -> None:
    stay = build.consignment(at=at)
    recording.record_place(stay.pk, place="Show", expected_back_on=date(2026, 3, 17), by=sales, at=at)
    assert not floor_today(by=sales, at=at + timedelta(days=1))
    (line,) = floor_today(by=sales, at=at + timedelta(days=2))
    assert (line.text, line.stock_number) == ("Overdue back from Show, expected 2026-03-17", stay.stock_number)
    assert line.is_urgent


def test_keys_and_tag_sent_twice_count_once_and_a_tag_comes_off(sales: Actor, at: datetime) -> None:
    stay, key = build.consignment(at=at), uuid.uuid4()
    recording.record_place(stay.pk, place="Bay 4", by=sales, at=at)
    for _ in range(2):
        placing.hand_keys(stay.pk, keys="Sol", client_key=key, by=sales, at=at)
        placing.set_key_tag(stay.pk, key_tag="K7", by=sales, at=at)
    assert stay.movements.count() == 2
    assert LogEntry.objects.filter(action="movement.key_tag").count() == 1
    assert placing.set_key_tag(stay.pk, key_tag=" ", by=sales, at=at).key_tag == ""
    with pytest.raises(Refused, match="Nobody is named"):
        placing.hand_keys(stay.pk, keys=" ", by=sales, at=at)


def test_place_that_is_not_there_and_what_is_no_fact_of_a_place_are_refused(intake: Actor, at: datetime) -> None:
    with pytest.raises(NotFound, match="no such place"):
        placing.change_place(1, values={}, by=intake, at=at)
    bay = placing.add_place("Bay 1", kind=PlaceKind.BAY, by=intake, at=at)
    with pytest.raises(Refused, match="retired_at cannot be changed here"):
        placing.change_place(bay.pk, values={"retired_at": at}, by=intake, at=at)
    assert placing.change_place(bay.pk, values={"name": "Bay 1"}, by=intake, at=at).version == 1
