"""Rows made before a migration stay as they were: fits without track records, photos without originals."""

from collections.abc import Iterator
from datetime import datetime

import pytest
from django.core.management import call_command
from django.db import connection, transaction
from django.db.migrations.executor import MigrationExecutor
from django.db.utils import IntegrityError

from inventory.models import ModelFit, Photo
from inventory.queries.ledger import ledger_of

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def before() -> Iterator[MigrationExecutor]:
    call_command("migrate", "inventory", "0001", verbosity=0, interactive=False)
    yield MigrationExecutor(connection)
    call_command("migrate", verbosity=0, interactive=False)


def test_older_fits_get_an_empty_record_and_cannot_be_edited(before: MigrationExecutor, at: datetime) -> None:
    old = before.loader.project_state([("inventory", "0001_first")]).apps.get_model("inventory", "ModelFit")
    kept = old.objects.create(
        learned={"a": 1.5}, summary={"coverage_percent": 80, "notes": []}, sales_used=20, sales_hash="1" * 64,
        newest_outcome_id=7, by="x", at=at,
    )  # fmt: skip
    call_command("migrate", verbosity=0, interactive=False)
    fit = ModelFit.objects.get(pk=kept.pk)
    assert (fit.record, fit.learned, fit.sales_used, fit.flags) == ({}, {"a": 1.5}, 20, [])
    with pytest.raises(IntegrityError, match="appended"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("UPDATE inventory_modelfit SET sales_used = 1")


def test_older_photos_keep_what_is_shown_and_have_no_original(at: datetime) -> None:
    call_command("migrate", "inventory", "0002", verbosity=0, interactive=False)
    old = MigrationExecutor(connection).loader.project_state([("inventory", "0002_fit_track_record")]).apps
    vehicle = old.get_model("inventory", "Vehicle").objects.create(
        year=1968, make="Merrow", model="Alder", serial_kind="none", created_at=at
    )
    consignor = old.get_model("inventory", "Consignor").objects.create(name="Ada Fenwick", created_at=at)
    stay = old.get_model("inventory", "Consignment").objects.create(
        stock_number="26-0001", vehicle=vehicle, consignor=consignor, state_at=at, state_by="x", booked_on=at.date()
    )
    kept = old.get_model("inventory", "Photo").objects.create(consignment=stay, file="photos/a.jpg", digest="1", at=at)
    call_command("migrate", verbosity=0, interactive=False)
    row = Photo.objects.get(pk=kept.pk)
    assert (row.file.name, row.small.name, row.original.name, row.original_sha256) == (
        "photos/a.jpg", "photos/a.jpg", "", "",
    )  # fmt: skip


@pytest.fixture
def first_ledger() -> Iterator[MigrationExecutor]:
    call_command("migrate", "inventory", "0002", verbosity=0, interactive=False)
    yield MigrationExecutor(connection)
    call_command("migrate", verbosity=0, interactive=False)


def test_lines_of_the_first_ledger_stay_readable(first_ledger: MigrationExecutor, at: datetime) -> None:
    apps = first_ledger.loader.project_state([("inventory", "0002_fit_track_record")]).apps
    vehicle = apps.get_model("inventory", "Vehicle").objects.create(
        year=1968, make="Merrow", model="Alder", created_at=at
    )
    apps.get_model("inventory", "ComponentRecord").objects.create(
        vehicle=vehicle, component="outer_panels", as_built="steel", as_built_basis="documented", standing="original",
        basis="seen", by="x", at=at,
    )  # fmt: skip
    apps.get_model("inventory", "Modification").objects.create(
        vehicle=vehicle, kind="paint", what="respray", fitting="bolt_on", basis="told", at=at
    )
    call_command("migrate", verbosity=0, interactive=False)
    ledger = ledger_of(vehicle.pk)
    (line,) = ledger.written
    assert (line.component.title, line.record and line.record.as_built) == ("Outer panels", "steel")
    assert line.record is not None
    assert (line.record.number, line.record.number_basis, line.record.not_fitted) == ("", "not_established", False)
    (seen,) = ledger.modifications
    assert (seen.row.era, seen.row.cost_told, seen.components) == ("not_known", None, ())
    with pytest.raises(IntegrityError, match="appended"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("UPDATE inventory_componentrecord SET as_built = 'x'")
