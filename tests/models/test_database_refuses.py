"""The database refuses what must never be, also when Python is bypassed."""

import uuid
from datetime import date, datetime
from decimal import Decimal
from typing import Any

import pytest
from django.db import DatabaseError, IntegrityError, connection, models, transaction

from inventory import models as house
from inventory.models import (
    CheckResult,
    Clip,
    Consignment,
    Deal,
    HiddenMedia,
    Inquiry,
    LogEntry,
    Offer,
    Photo,
    PriceOpinion,
    SaleOutcome,
    Upload,
    Vehicle,
)
from inventory.rules.roles import Role
from inventory.rules.states import State
from tests import build

pytestmark = pytest.mark.django_db

APPENDED = [model for name in house.__all__ if getattr(model := getattr(house, name), "is_appended", False)]


def refused(write: Any) -> bool:
    with pytest.raises(IntegrityError), transaction.atomic():
        write()
    return True


def test_second_open_stay_of_one_vehicle_is_refused(at: datetime) -> None:
    stay = build.consignment(State.ON_LOT, at=at)
    twin = Consignment(
        stock_number="26-9999", vehicle=stay.vehicle, consignor=stay.consignor, state_at=at, state_by="x",
        booked_on=at.date(),
    )  # fmt: skip
    assert refused(lambda: Consignment.objects.bulk_create([twin]))


@pytest.mark.parametrize(
    ("change", "value"),
    [("state", "lost"), ("odometer_status", "guessed"), ("released_on", "2026-01-01"), ("stock_number", None)],
)
def test_impossible_consignment_is_refused(at: datetime, change: str, value: Any) -> None:
    stay = build.consignment(State.ON_LOT, at=at)
    assert refused(lambda: Consignment.objects.filter(pk=stay.pk).update(**{change: value}))


@pytest.mark.parametrize(("change", "value"), [("year", 1500), ("make", ""), ("build_class", "nice"), ("serial", "")])
def test_impossible_vehicle_is_refused(at: datetime, change: str, value: Any) -> None:
    stay = build.consignment(State.ON_LOT, at=at)
    assert refused(lambda: Vehicle.objects.filter(pk=stay.vehicle_id).update(**{change: value}))


def test_two_vehicles_with_one_vin_are_refused(at: datetime) -> None:
    vin = "1ZZFB3EL5BA100001"
    build.consignment(State.ON_LOT, at=at, vin=vin, year=2011)
    twin = Vehicle(year=2011, make="Tarn", model="Six", serial=vin, serial_kind="vin", created_at=at)
    assert refused(lambda: Vehicle.objects.bulk_create([twin]))


@pytest.mark.parametrize("grade", [5, None])
def test_grade_outside_0_to_4_is_refused(at: datetime, grade: int | None) -> None:
    stay = build.consignment(State.INSPECTED, at=at)
    row = CheckResult(
        inspection=stay.inspections.get(), check_code="front.hood", verdict="graded", grade=grade, basis="seen",
        by="x", at=at,
    )  # fmt: skip
    assert refused(lambda: CheckResult.objects.bulk_create([row]))


def test_interval_with_low_above_high_is_refused(at: datetime) -> None:
    stay = build.consignment(State.INSPECTED, at=at)
    for low, high in ((Decimal(80), Decimal(70)), (None, Decimal(70)), (Decimal(-1), Decimal(70))):
        assert refused(lambda low=low, high=high: stay.inspections.update(condition_low=low, condition_high=high))


def test_counter_without_amount_is_refused(at: datetime) -> None:
    stay = build.consignment(State.LISTED, at=at)
    offer = Offer.objects.create(consignment=stay, amount=Decimal(5), bidder="x", on=at.date(), by="x", at=at)
    row = house.OfferAnswer(offer=offer, answer="countered", by="x", at=at)
    assert refused(lambda: house.OfferAnswer.objects.bulk_create([row]))


def test_two_live_deals_are_refused(at: datetime) -> None:
    stay = build.consignment(State.DEPOSIT, at=at)
    deal = Deal(consignment=stay, buyer="x", price=Decimal(1), began_on=at.date(), by="x", at=at)
    assert refused(lambda: Deal.objects.bulk_create([deal]))


def test_two_roots_of_outcomes_are_refused(at: datetime) -> None:
    stay = build.consignment(State.SOLD, at=at)
    twin = SaleOutcome(
        consignment=stay, result="sold", price=Decimal(1), effective_price=Decimal(1), ended_on=at.date(), year=1968,
        make="Merrow", model="Alder", by="x", at=at,
    )  # fmt: skip
    assert refused(lambda: SaleOutcome.objects.bulk_create([twin]))


@pytest.mark.parametrize(
    ("result", "price"), [("sold", None), ("sold", Decimal(-5)), ("withdrawn", Decimal(5)), ("kept", None)]
)
def test_outcome_without_sense_is_refused(at: datetime, result: str, price: Decimal | None) -> None:
    row = SaleOutcome(
        result=result, price=price, effective_price=price, ended_on=at.date(), year=1968, make="Merrow", model="Alder",
        by="x", at=at,
    )  # fmt: skip
    assert refused(lambda: SaleOutcome.objects.bulk_create([row]))


def test_offer_of_nothing_is_refused(at: datetime) -> None:
    stay = build.consignment(State.LISTED, at=at)
    row = Offer(consignment=stay, amount=Decimal("0.00"), bidder="x", on=at.date(), by="x", at=at)
    assert refused(lambda: Offer.objects.bulk_create([row]))


def test_inquiry_by_no_known_way_is_refused(at: datetime) -> None:
    stay = build.consignment(State.LISTED, at=at)
    row = house.Inquiry(consignment=stay, way="pigeon", on=build.trade_day(at), by="x", at=at)
    assert refused(lambda: house.Inquiry.objects.bulk_create([row]))


def test_band_upside_down_is_refused(at: datetime) -> None:
    fit = house.ModelFit.objects.create(learned={}, sales_used=1, sales_hash="x", newest_outcome_id=1, by="x", at=at)
    row = PriceOpinion(
        fit=fit, inputs={}, low=Decimal(3), likely=Decimal(2), high=Decimal(4), coverage_percent=80, by="x", at=at
    )
    assert refused(lambda: PriceOpinion.objects.bulk_create([row]))


def test_money_refuses_floats_and_unrounded_values(at: datetime) -> None:
    stay = build.consignment(State.LISTED, at=at)
    for amount, problem in ((1.5, TypeError), (Decimal("1.005"), ValueError)):
        row = Offer(consignment=stay, amount=amount, bidder="x", on=at.date(), by="x", at=at)
        with pytest.raises(problem):
            Offer.objects.bulk_create([row])


MEANING = {
    "component": "engine", "make": "Merrow", "from_year": 1960, "to_year": 1969, "written": "6B", "written_key": "6B",
    "meaning": "February", "source": "book", "by": "x",
}  # fmt: skip
DAY, BEFORE = date(1967, 5, 14), date(1967, 5, 13)


@pytest.mark.parametrize(
    "said",
    [
        {"standing": "nice"}, {"number": "77"}, {"number_basis": "seen"}, {"date_code": "6B10"}, {"date_basis": "seen"},
        {"earliest_on": DAY, "date_basis": "seen"}, {"latest_on": DAY}, {"earliest_on": DAY, "latest_on": DAY},
        {"earliest_on": DAY, "latest_on": BEFORE, "date_basis": "seen"},
        {"number": "77", "number_basis": "felt"},
        {"not_fitted": True, "standing": "original"}, {"not_fitted": True, "as_found": "one"},
        {"not_fitted": True, "number": "77", "number_basis": "seen"},
        {"not_fitted": True, "date_code": "6B10", "date_basis": "seen"},
        {"not_fitted": True, "earliest_on": DAY, "latest_on": DAY, "date_basis": "seen"},
    ],
    ids=str,
)  # fmt: skip
def test_impossible_line_of_the_ledger_is_refused(at: datetime, said: dict[str, Any]) -> None:
    stay = build.consignment(State.ON_LOT, at=at)
    whole = {"component": "top", "standing": "not_established", "basis": "seen", "by": "x", "at": at}
    house.ComponentRecord.objects.bulk_create([house.ComponentRecord(vehicle=stay.vehicle, **whole)])
    row = house.ComponentRecord(vehicle=stay.vehicle, **{**whole, **said})
    assert refused(lambda: house.ComponentRecord.objects.bulk_create([row]))


@pytest.mark.parametrize(
    "said",
    [
        {"latest_on": BEFORE}, {"latest_on": None}, {"basis": "not_established"}, {"basis": "felt"}, {"source": ""},
    ],
    ids=str,
)  # fmt: skip
def test_impossible_build_date_is_refused(at: datetime, said: dict[str, Any]) -> None:
    stay = build.consignment(State.ON_LOT, at=at)
    whole = {"earliest_on": DAY, "latest_on": DAY, "basis": "seen", "source": "cowl", "by": "x", "at": at}
    house.BuildDate.objects.bulk_create([house.BuildDate(vehicle=stay.vehicle, **whole)])
    row = house.BuildDate(vehicle=stay.vehicle, **{**whole, **said})
    assert refused(lambda: house.BuildDate.objects.bulk_create([row]))


@pytest.mark.parametrize(
    "said", [{"era": "soon"}, {"cost_told": Decimal(-1)}, {"workmanship": 5}, {"fitting": "glued"}]
)
def test_impossible_modification_is_refused(at: datetime, said: dict[str, Any]) -> None:
    stay = build.consignment(State.ON_LOT, at=at)
    whole = {"kind": "body", "what": "scoop", "fitting": "bolt_on", "basis": "seen", "at": at}
    row = house.Modification(vehicle=stay.vehicle, **{**whole, **said})
    assert refused(lambda: house.Modification.objects.bulk_create([row]))


def test_component_named_twice_by_one_modification_is_refused(at: datetime) -> None:
    stay = build.consignment(State.ON_LOT, at=at)
    change = house.Modification.objects.create(
        vehicle=stay.vehicle, kind="body", what="scoop", fitting="bolt_on", basis="seen", at=at
    )
    rows = [house.ModificationComponent(modification=change, component="hood") for _ in range(2)]
    assert refused(lambda: house.ModificationComponent.objects.bulk_create(rows))


@pytest.mark.parametrize(
    "said",
    [
        {"from_year": 1970, "to_year": 1969}, {"from_year": 1800}, {"to_year": 2300}, {"make": ""}, {"written_key": ""},
        {"meaning": ""}, {"source": ""}, {"match": "like"}, {"retired": True}, {"earliest_on": DAY},
        {"earliest_on": DAY, "latest_on": BEFORE},
    ],
    ids=str,
)  # fmt: skip
def test_impossible_entry_of_the_decoder_table_is_refused(at: datetime, said: dict[str, Any]) -> None:
    whole = {**MEANING, "at": at}
    house.DecoderEntry.objects.bulk_create([house.DecoderEntry(**whole)])
    assert refused(lambda: house.DecoderEntry.objects.bulk_create([house.DecoderEntry(**{**whole, **said})]))


def test_entry_of_the_decoder_table_is_corrected_once(at: datetime) -> None:
    whole = {**MEANING, "at": at}
    first = house.DecoderEntry.objects.create(**whole)
    rows = [house.DecoderEntry(**whole, corrects=first) for _ in range(2)]
    assert refused(lambda: house.DecoderEntry.objects.bulk_create(rows))


@pytest.mark.parametrize("model", APPENDED, ids=lambda model: model.__name__)
def test_appended_rows_refuse_python_edits(model: type[models.Model]) -> None:
    with pytest.raises(TypeError, match="appended"):
        model._default_manager.update(pk=1)
    with pytest.raises(TypeError, match="appended"):
        model._default_manager.all().delete()


def test_appended_rows_refuse_sql_edits(at: datetime) -> None:
    build.consignment(State.ON_LOT, at=at)
    for statement in (
        "UPDATE inventory_logentry SET actor_name = 'x'",
        "UPDATE inventory_identitynumber SET value = 'x'",
    ):
        with pytest.raises(DatabaseError), transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(statement)


def test_every_appended_table_has_its_trigger() -> None:
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("SELECT tbl_name FROM sqlite_master WHERE type = 'trigger'")
        else:
            cursor.execute("SELECT tgrelid::regclass::text FROM pg_trigger WHERE NOT tgisinternal")
        guarded = {name for (name,) in cursor.fetchall()}
    assert {model._meta.db_table for model in APPENDED} <= guarded


def test_save_of_an_appended_row_is_refused(at: datetime) -> None:
    build.consignment(State.ON_LOT, at=at)
    entry = LogEntry.objects.first()
    assert entry is not None
    with pytest.raises(TypeError):
        entry.save()
    with pytest.raises(TypeError):
        entry.delete()


@pytest.mark.parametrize(
    "change",
    [
        {"received": 11},
        {"kind": "paper"},
        {"clip_kind": "dance"},
        {"finished_at": "2026-03-16T15:00Z"},
        {"total": -1},
    ],
)
def test_impossible_upload_is_refused(at: datetime, change: dict[str, Any]) -> None:
    stay, by = build.consignment(State.ON_LOT, at=at), build.staff(Role.INTAKE, at=at)
    row = Upload.objects.create(
        consignment=stay, kind="photo", name="x", total=10, sha256="0" * 64, client_key=uuid.uuid4(), by_id=by.id,
        begun_at=at, touched_at=at,
    )  # fmt: skip
    assert refused(lambda: Upload.objects.filter(pk=row.pk).update(**change))


def clip(stay: Consignment, *, at: datetime, **changes: Any) -> Clip:
    given = {"kind": "other", "content_type": "video/mp4", "sha256": "0" * 64, "bytes": 5, "file": "x.mp4", **changes}
    return Clip(consignment=stay, by="x", at=at, **given)


def test_public_clip_that_holds_its_place_is_refused(at: datetime) -> None:
    stay = build.consignment(State.ON_LOT, at=at)
    assert refused(lambda: Clip.objects.bulk_create([clip(stay, at=at, public=True, located=True)]))


def test_same_clip_or_original_twice_is_refused(at: datetime) -> None:
    stay = build.consignment(State.ON_LOT, at=at)
    assert refused(lambda: Clip.objects.bulk_create([clip(stay, at=at), clip(stay, at=at)]))
    twins = [
        Photo(consignment=stay, file="x.jpg", digest=f"{number}", original_sha256="0" * 64, at=at)
        for number in range(2)
    ]
    assert refused(lambda: Photo.objects.bulk_create(twins))
    older = [Photo(consignment=stay, file="x.jpg", digest="1", at=at) for _ in range(2)]
    assert refused(lambda: Photo.objects.bulk_create(older))


def test_hiding_of_nothing_or_of_two_things_is_refused(at: datetime) -> None:
    stay = build.consignment(State.ON_LOT, at=at)
    photo = Photo.objects.create(consignment=stay, file="x.jpg", digest="1", at=at)
    film = clip(stay, at=at)
    film.save()
    for what in ({}, {"photo": photo, "clip": film}):
        row = HiddenMedia(reason="x", by="x", at=at, **what)
        assert refused(lambda row=row: HiddenMedia.objects.bulk_create([row]))


def test_what_somebody_said_can_be_erased_and_nothing_else(at: datetime) -> None:
    stay = build.consignment(State.LISTED, at=at)
    row = Inquiry.objects.create(consignment=stay, way="phone", who="Cy Dunn", about="the frame", on=at.date(), at=at)
    assert Inquiry.objects.filter(pk=row.pk).erase(who="", about="") == 1
    with pytest.raises(TypeError, match="keeps way"):
        Inquiry.objects.filter(pk=row.pk).erase(way="email")
    with pytest.raises(IntegrityError, match="appended"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("UPDATE inventory_inquiry SET way = 'email'")
    assert Inquiry.objects.get(pk=row.pk).who == ""
