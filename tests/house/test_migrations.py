"""The database says what the models say, and the way back works too."""

import pytest
from django.core.management import call_command
from django.db import connection


@pytest.mark.django_db
def test_no_migration_is_missing() -> None:
    call_command("makemigrations", check=True, dry_run=True, verbosity=0)


@pytest.mark.django_db(transaction=True)
def test_migrations_go_back_and_forth() -> None:
    call_command("migrate", "inventory", "zero", verbosity=0, interactive=False)
    assert "inventory_consignment" not in connection.introspection.table_names()
    call_command("migrate", verbosity=0, interactive=False)
    assert "inventory_consignment" in connection.introspection.table_names()
