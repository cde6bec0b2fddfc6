"""The log and the writers: guards that keep a deed and its entry together, and a lost race told as such."""

from datetime import datetime
from decimal import Decimal
from typing import Any

import pytest

from inventory.actions import intake, logbook, moving, recording, writing
from inventory.errors import NotFound, Refused, TooLate
from inventory.models import Consignor, Lot
from inventory.rules.roles import Actor
from inventory.rules.states import State
from tests import build

pytestmark = pytest.mark.django_db


def test_action_without_a_sentence_cannot_be_logged(at: datetime) -> None:
    stay = build.consignment(at=at)
    with pytest.raises(KeyError, match="has no sentence"):
        logbook.record("vehicle.polished", stay, by=build.BUILDER, at=at)


@pytest.mark.django_db(transaction=True)
def test_nothing_is_logged_outside_the_transaction_of_the_deed(at: datetime) -> None:
    stay = build.consignment(at=at)
    with pytest.raises(RuntimeError, match="outside the transaction"):
        logbook.record("link.made", stay, by=build.BUILDER, at=at)


def test_values_are_kept_plain(at: datetime) -> None:
    stay = build.consignment(at=at)
    entry = logbook.record(
        "link.made", stay, by=build.BUILDER, at=at, some=[Decimal("1.50"), State.SOLD, None, {"deep": at.date()}]
    )
    assert entry.data["some"] == ["$1.50", "sold", None, {"deep": "2026-03-16"}]


def test_many_entries_at_once_need_a_sentence_too(at: datetime) -> None:
    stay = build.consignment(at=at)
    with pytest.raises(KeyError, match="has no sentence"):
        logbook.record_all("vehicle.polished", [(stay, stay, {})], by=build.BUILDER, at=at)


def test_many_rows_at_once_are_checked_one_by_one(at: datetime) -> None:
    rows = [Consignor(name="Ada Fenwick", created_at=at), Consignor(name="", created_at=at)]
    with pytest.raises(Refused) as refusal:
        writing.add_all(rows)
    assert refusal.value.field == "name"
    assert not Consignor.objects.exists()


def test_many_rows_that_the_database_refuses_are_told_as_a_lost_race(at: datetime) -> None:
    stay = build.consignment(at=at)
    twins = [
        type(stay)(
            stock_number="26-9999", vehicle=stay.vehicle, consignor=stay.consignor, state_at=at, state_by="x",
            booked_on=at.date(),
        )
    ]  # fmt: skip
    with pytest.raises(TooLate):
        writing.add_all(twins)


def test_row_that_somebody_wrote_first_is_told_as_a_lost_race(at: datetime, monkeypatch: pytest.MonkeyPatch) -> None:
    """What the database refuses and the check afterwards cannot name (the other's row is gone again) is a lost race."""
    stay, other = build.consignment(at=at), build.consignment(at=at)
    monkeypatch.setattr(writing, "check", lambda row: None)
    twin = type(stay)(
        stock_number=stay.stock_number, vehicle=stay.vehicle, consignor=stay.consignor, state_at=at, state_by="x",
        booked_on=at.date(),
    )  # fmt: skip
    with pytest.raises(TooLate) as refusal:
        writing.add(twin)
    assert refusal.value.code == "lost_race"
    with pytest.raises(TooLate):
        writing.change(other, stock_number=stay.stock_number)


def test_consignment_that_is_not_there_is_not_found(owner: Actor, at: datetime) -> None:
    with pytest.raises(NotFound):
        moving.move(999, to=State.SOLD, by=owner, at=at)


def test_refusal_of_a_whole_row_has_its_own_sentence(at: datetime) -> None:
    lot = Lot(pk=2)
    with pytest.raises(Refused, match="There is one lot"):
        writing.add(lot)


def test_reason_alone_corrects_nothing(owner: Actor, at: datetime) -> None:
    vehicle = build.consignment(at=at).vehicle
    values: dict[str, Any] = {"vin_reason": "read twice"}
    with pytest.raises(Refused) as refusal:
        intake.correct_vehicle(vehicle.pk, values=values, by=owner, at=at)
    assert refusal.value.field == "vin"


def test_correction_that_changes_nothing_writes_nothing(owner: Actor, at: datetime) -> None:
    person: Consignor = build.consignment(at=at).consignor
    same = recording.correct_consignor(person.pk, values={"name": person.name}, by=owner, at=at)
    assert same.version == person.version
    assert recording.change_lot({"pay_within_days": 20}, by=owner, at=at).pay_within_days == 20
