"""The care rota: what is asked, what was done, and who is not asked."""

import uuid
from datetime import datetime, timedelta
from decimal import Decimal

import pytest

from inventory.actions import caring, figures, placing, recording
from inventory.actions.caring import Cared
from inventory.actions.figures import Measured
from inventory.actions.writing import trade_day
from inventory.errors import NotAllowed, NotFound, Refused
from inventory.models import CareDone, LogEntry
from inventory.queries.care import care_lines, care_of
from inventory.queries.floor_today import floor_today
from inventory.rules.floor_words import CareKind, PlaceKind
from inventory.rules.roles import Actor
from inventory.rules.states import State
from tests import build

pytestmark = pytest.mark.django_db


def asked(at: datetime, *, days: int) -> set[tuple[str, str]]:
    lines = care_lines(today=trade_day(at + timedelta(days=days)))
    return {(line.stock_number, line.due.kind) for line in lines}


def test_rota_asks_for_what_is_here_and_not_for_what_is_away_booked_or_gone(
    intake: Actor, sales: Actor, at: datetime
) -> None:
    assert caring.start_rota(by=intake, at=at) == 4
    assert caring.start_rota(by=intake, at=at) == 0
    here, away = build.consignment(at=at), build.consignment(at=at)
    build.consignment(State.BOOKED, at=at)
    build.consignment(State.RELEASED, at=at)
    placing.add_place("Show", kind=PlaceKind.EVENT, by=intake, at=at)
    recording.record_place(away.pk, place="Show", by=intake, at=at)
    assert asked(at, days=7) == {(here.stock_number, "cover")}
    assert {kind for _, kind in asked(at, days=30)} == {"battery", "start_up", "tyre_pressure", "cover"}
    (line,) = floor_today(by=sales, at=at + timedelta(days=30))
    assert (line.text, line.page, line.is_urgent) == ("One vehicle wants care", "care", False)
    with pytest.raises(NotAllowed):
        caring.start_rota(by=sales, at=at)


def test_care_of_several_is_done_once_and_asked_for_again_when_it_is_due(
    intake: Actor, sales: Actor, at: datetime
) -> None:
    caring.set_care_rule(CareKind.COVER, every_days=7, by=intake, at=at)
    stays = [build.consignment(at=at) for _ in range(2)]
    key, cared = uuid.uuid4(), [Cared(stay.pk) for stay in stays]
    later = at + timedelta(days=7)
    for _ in range(2):
        caring.record_care(cared, kind="cover", note=" dry ", client_key=key, by=sales, at=later)
    assert list(CareDone.objects.values_list("note", "by")) == [("dry", sales.name)] * 2
    assert LogEntry.objects.filter(action="care.done").count() == 2
    assert not asked(at, days=13)
    assert len(asked(at, days=14)) == 2


def test_vehicle_may_want_it_otherwise_and_follows_the_lot_again(intake: Actor, at: datetime) -> None:
    caring.set_care_rule(CareKind.COVER, every_days=7, by=intake, at=at)
    stay = build.consignment(at=at)
    caring.set_care_rule(CareKind.COVER, every_days=None, consignment_id=stay.pk, by=intake, at=at)
    assert not asked(at, days=60)
    caring.drop_own_rule(stay.pk, kind=CareKind.COVER, by=intake, at=at)
    assert asked(at, days=60)
    with pytest.raises(Refused, match="no rule of its own"):
        caring.drop_own_rule(stay.pk, kind=CareKind.COVER, by=intake, at=at)


def test_battery_reading_says_the_charge_by_the_system_of_its_figures(intake: Actor, at: datetime) -> None:
    stay = build.consignment(at=at)
    caring.record_care([Cared(stay.pk, Decimal("12.45"))], kind="battery", by=intake, at=at)
    assert "record whether the system has 6 or 12 V" in care_of(stay, today=trade_day(at)).done[0].reading
    measured = Measured(figures={"system_volts": 12}, basis="seen")
    figures.record_electric(stay.pk, measured=measured, by=intake, at=at)
    assert "about 75 % charged" in care_of(stay, today=trade_day(at)).done[0].reading


def test_care_that_cannot_be_is_refused_and_nothing_is_kept(intake: Actor, at: datetime) -> None:
    here, booked = build.consignment(at=at), build.consignment(State.BOOKED, at=at)
    tried = [
        ([Cared(here.pk), Cared(booked.pk)], "cover", at, "is not here"), ([], "cover", at, "No vehicle is chosen"),
        ([Cared(here.pk, Decimal(3))], "cover", at, "has no reading"), ([Cared(here.pk)], "polish", at, "no care"),
        ([Cared(here.pk)], "cover", at - timedelta(days=2), "arrived on"),
    ]  # fmt: skip
    for cared, kind, when, said in tried:
        with pytest.raises(Refused, match=said):
            caring.record_care(cared, kind=kind, on=trade_day(when), by=intake, at=at)
    assert not CareDone.objects.exists()


def test_what_is_not_there_is_told_and_the_same_rule_again_changes_nothing(intake: Actor, at: datetime) -> None:
    with pytest.raises(NotFound):
        caring.record_care([Cared(1)], kind="cover", by=intake, at=at)
    rules = [caring.set_care_rule(CareKind.COVER, every_days=7, by=intake, at=at) for _ in range(2)]
    assert [rule.version for rule in rules] == [1, 1]
    assert LogEntry.objects.filter(action="care.rule").count() == 1
