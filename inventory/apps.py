"""The app, the triggers that make appended tables refuse edits in the database itself, and the table of the cache."""

from typing import Any

from django.apps import AppConfig
from django.core.management import call_command
from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import Model
from django.db.models.signals import post_migrate


class InventoryConfig(AppConfig):
    name = "inventory"
    verbose_name = "Consignment lot"

    def ready(self) -> None:
        post_migrate.connect(install_triggers, sender=self)
        post_migrate.connect(make_cache_table, sender=self)


def appended_tables(app: AppConfig) -> dict[str, list[str]]:
    """Each appended table, with the columns that are never written again."""
    models = [model for model in app.get_models() if getattr(model, "is_appended", False)]
    return {model._meta.db_table: _fixed_columns(model) for model in models}


def _fixed_columns(model: type[Model]) -> list[str]:
    erasable = getattr(model, "erasable", ())
    return [str(field.column) for field in model._meta.concrete_fields if field.name not in erasable]


def install_triggers(sender: AppConfig, using: str = "default", **_: Any) -> None:
    """Make every appended table refuse UPDATE, and on PostgreSQL DELETE too.

    SQLite drops a table's triggers silently when a migration remakes the table, hence after each migrate;
    a DELETE trigger there would break emptying the tables between tests.
    """
    connection = connections[using]
    existing = set(connection.introspection.table_names())
    with connection.cursor() as cursor:
        for table, fixed in appended_tables(sender).items():
            if table in existing:
                for statement in trigger_statements(connection, table=table, fixed=fixed):
                    cursor.execute(statement)


def make_cache_table(using: str = "default", **_: Any) -> None:
    """The table of the database cache has no model and so no migration: made here where it is missing."""
    call_command("createcachetable", database=using, verbosity=0)


def trigger_statements(connection: BaseDatabaseWrapper, *, table: str, fixed: list[str]) -> list[str]:
    quoted = connection.ops.quote_name(table)
    columns = ", ".join(connection.ops.quote_name(column) for column in fixed)
    if connection.vendor == "sqlite":
        return [
            f"DROP TRIGGER IF EXISTS {table}_appended",
            f"CREATE TRIGGER {table}_appended BEFORE UPDATE OF {columns} ON {quoted} "
            f"BEGIN SELECT RAISE(ABORT, '{table} rows are appended, never edited'); END",
        ]
    return [
        "CREATE OR REPLACE FUNCTION refuse_edit() RETURNS trigger LANGUAGE plpgsql AS "
        "$$ BEGIN RAISE EXCEPTION '% rows are appended, never edited', TG_TABLE_NAME "
        "USING ERRCODE = 'integrity_constraint_violation'; END $$",
        f"CREATE OR REPLACE TRIGGER {table}_appended BEFORE UPDATE OF {columns} OR DELETE ON {quoted} "
        "FOR EACH ROW EXECUTE FUNCTION refuse_edit()",
    ]
