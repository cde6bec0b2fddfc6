"""Fits made before there were track records have none, and stay as they were."""

from collections.abc import Iterator
from datetime import datetime

import pytest
from django.core.management import call_command
from django.db import connection, transaction
from django.db.migrations.executor import MigrationExecutor
from django.db.utils import IntegrityError

from inventory.models import ModelFit

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
