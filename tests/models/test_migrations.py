"""All migrations back to nothing and forward again, once: rows made on the way stay as they were."""

from datetime import datetime
from typing import Any

import pytest
from django.core.management import call_command
from django.db import connection, transaction
from django.db.migrations.executor import MigrationExecutor
from django.db.utils import IntegrityError
from pytest_django import Settings

from inventory.models import Inquiry, ModelFit, Photo
from inventory.queries.ledger import ledger_of

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def with_migrations(settings: Settings) -> None:
    """The tests' tables are made from the models (`--nomigrations`): say that all migrations have been there."""
    settings.MIGRATION_MODULES = {}
    call_command("migrate", fake=True, verbosity=0, interactive=False)


def test_rows_of_every_version_stay_readable_on_the_way_to_this_one(with_migrations: None, at: datetime) -> None:
    """One journey for all: going back and forth is most of what it costs."""
    to("zero")
    assert "inventory_consignment" not in connection.introspection.table_names()
    fit = keep_fit(to("0001_first"), at=at)
    second = to("0002_fit_track_record")
    vehicle = keep_ledger(second, at=at)
    stay, photo = keep_photo(second, vehicle=vehicle, at=at)
    inquiry = to("0012_settlement_sequence").get_model("inventory", "Inquiry").objects.create(
        consignment_id=stay, way="phone", who="Cy Dunn", about="the frame", on=at.date(), by="x", at=at
    ).pk  # fmt: skip
    call_command("migrate", verbosity=0, interactive=False)
    old_fit_has_an_empty_record(fit)
    old_lines_are_read(vehicle)
    old_photo_has_no_original(photo)
    old_inquiry_says_who(inquiry)


def to(name: str) -> Any:
    """Go to one version; its models as they were then."""
    call_command("migrate", "inventory", name, verbosity=0, interactive=False)
    if name == "zero":
        return None
    return MigrationExecutor(connection).loader.project_state([("inventory", name)]).apps


def keep_fit(old: Any, *, at: datetime) -> int:
    kept = old.get_model("inventory", "ModelFit").objects.create(
        learned={"a": 1.5}, summary={"coverage_percent": 80, "notes": []}, sales_used=20, sales_hash="1" * 64,
        newest_outcome_id=7, by="x", at=at,
    )  # fmt: skip
    return int(kept.pk)


def keep_ledger(old: Any, *, at: datetime) -> int:
    vehicle = old.get_model("inventory", "Vehicle").objects.create(
        year=1968, make="Merrow", model="Alder", serial_kind="none", created_at=at
    )
    old.get_model("inventory", "ComponentRecord").objects.create(
        vehicle=vehicle, component="outer_panels", as_built="steel", as_built_basis="documented", standing="original",
        basis="seen", by="x", at=at,
    )  # fmt: skip
    old.get_model("inventory", "Modification").objects.create(
        vehicle=vehicle, kind="paint", what="respray", fitting="bolt_on", basis="told", at=at
    )
    return int(vehicle.pk)


def keep_photo(old: Any, *, vehicle: int, at: datetime) -> tuple[int, int]:
    consignor = old.get_model("inventory", "Consignor").objects.create(name="Ada Fenwick", created_at=at)
    stay = old.get_model("inventory", "Consignment").objects.create(
        stock_number="26-0001", vehicle_id=vehicle, consignor=consignor, state_at=at, state_by="x", booked_on=at.date()
    )
    kept = old.get_model("inventory", "Photo").objects.create(consignment=stay, file="photos/a.jpg", digest="1", at=at)
    return int(stay.pk), int(kept.pk)


def old_fit_has_an_empty_record(pk: int) -> None:
    fit = ModelFit.objects.get(pk=pk)
    assert (fit.record, fit.learned, fit.sales_used, fit.flags) == ({}, {"a": 1.5}, 20, [])
    cannot_be_edited("inventory_modelfit", column="sales_used")


def old_lines_are_read(vehicle: int) -> None:
    ledger = ledger_of(vehicle)
    (line,) = ledger.written
    assert (line.component.title, line.record and line.record.as_built) == ("Outer panels", "steel")
    assert line.record is not None
    assert (line.record.number, line.record.number_basis, line.record.not_fitted) == ("", "not_established", False)
    (seen,) = ledger.modifications
    assert (seen.row.era, seen.row.cost_told, seen.components) == ("not_known", None, ())
    cannot_be_edited("inventory_componentrecord", column="as_built")


def old_photo_has_no_original(pk: int) -> None:
    row = Photo.objects.get(pk=pk)
    assert (row.file.name, row.small.name, row.original.name, row.original_sha256) == (
        "photos/a.jpg", "photos/a.jpg", "", "",
    )  # fmt: skip


def old_inquiry_says_who(pk: int) -> None:
    row = Inquiry.objects.get(pk=pk)
    assert (row.who, row.contact, row.aim, row.follow_up_on) == ("Cy Dunn", None, "question", None)
    cannot_be_edited("inventory_inquiry", column="way")


def cannot_be_edited(table: str, *, column: str) -> None:
    with pytest.raises(IntegrityError, match="appended"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(f"UPDATE {table} SET {column} = NULL")  # noqa: S608  # names from this file
