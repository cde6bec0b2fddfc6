"""The app, the triggers that make appended tables refuse edits in the database itself, and the table of the cache."""

from typing import Any

from django.apps import AppConfig
from django.conf import settings
from django.core.checks import CheckMessage, Tags, register
from django.core.checks import Warning as Caution
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
        register(key_for_all_machines, Tags.security, deploy=True)


def key_for_all_machines(**_: Any) -> list[CheckMessage]:
    """A key of one machine's own signs out whoever comes to another one. SQLite lies on one machine anyway."""
    if settings.KEY_IS_OF_THIS_MACHINE and connections["default"].vendor != "sqlite":
        told = "SECRET_KEY is not set: this machine made one of its own, and what it signs no other machine believes."
        return [Caution(told, hint="Give all machines the same SECRET_KEY.", id="inventory.W001")]
    return []


def appended_models(app: AppConfig) -> list[type[Model]]:
    return [model for model in app.get_models() if getattr(model, "is_appended", False)]


def install_triggers(sender: AppConfig, using: str = "default", **_: Any) -> None:
    """Make every appended table refuse UPDATE (but of erasable columns alone), and on PostgreSQL DELETE too.

    SQLite drops a table's triggers silently when a migration remakes the table, hence after each migrate;
    a DELETE trigger there would break emptying the tables between tests.
    """
    connection = connections[using]
    existing = set(connection.introspection.table_names())
    with connection.cursor() as cursor:
        for model in appended_models(sender):
            if model._meta.db_table in existing:
                for statement in trigger_statements(connection, model=model):
                    cursor.execute(statement)


def make_cache_table(using: str = "default", **_: Any) -> None:
    """The table of the database cache has no model and so no migration: made here where it is missing."""
    call_command("createcachetable", database=using, verbosity=0)


def trigger_statements(connection: BaseDatabaseWrapper, *, model: type[Model]) -> list[str]:
    table, erasable = model._meta.db_table, getattr(model, "erasable", ())
    quoted = connection.ops.quote_name(table)
    if connection.vendor == "sqlite":
        fixed = [
            connection.ops.quote_name(str(f.column)) for f in model._meta.concrete_fields if f.name not in erasable
        ]
        return [
            f"DROP TRIGGER IF EXISTS {table}_appended",
            f"CREATE TRIGGER {table}_appended BEFORE UPDATE {'OF ' + ', '.join(fixed) if erasable else ''} ON {quoted} "
            f"BEGIN SELECT RAISE(ABORT, '{table} rows are appended, never edited'); END",
        ]
    # The columns are arguments, not part of the trigger: a column that a trigger names cannot be dropped.
    arguments = ", ".join(f"'{name}'" for name in erasable)
    return [
        "CREATE OR REPLACE FUNCTION refuse_edit() RETURNS trigger LANGUAGE plpgsql AS "
        "$$ BEGIN IF TG_OP = 'UPDATE' AND TG_NARGS > 0 AND to_jsonb(OLD) - TG_ARGV = to_jsonb(NEW) - TG_ARGV "
        "THEN RETURN NEW; END IF; "
        "RAISE EXCEPTION '% rows are appended, never edited', TG_TABLE_NAME "
        "USING ERRCODE = 'integrity_constraint_violation'; END $$",
        f"CREATE OR REPLACE TRIGGER {table}_appended BEFORE UPDATE OR DELETE ON {quoted} "
        f"FOR EACH ROW EXECUTE FUNCTION refuse_edit({arguments})",
    ]
