"""Restore a backup: its tables as they were, in one transaction, held against the manifest before it ends."""

import json
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from itertools import islice
from typing import Any

from django.apps import apps as live
from django.apps.registry import Apps
from django.core.files.storage import default_storage
from django.core.management.color import no_style
from django.db import DatabaseError, connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import Model
from django.db.transaction import atomic

from inventory.backup import restoring_media, schema
from inventory.backup.archive import Archive
from inventory.backup.counting import count
from inventory.backup.manifest import Manifest, TableTold
from inventory.backup.tables import Table, tables
from inventory.backup.values import value_of
from inventory.errors import Refused

CHUNK = 1000
KEPT = {"contenttypes", "auth"}  # made by migrate, and no backup holds them


class Differs(Refused):
    """What was loaded is not what the backup says."""


@dataclass(frozen=True)
class Target:
    """The database as it is before: rows by table, and whether its tables are those of the backup."""

    rows: dict[str, int]
    same_tables: bool

    @property
    def is_empty(self) -> bool:
        return not self.rows


@dataclass(frozen=True)
class Restored:
    """What the tables hold now, beside what the manifest says, and what became of the files."""

    found: dict[str, TableTold]
    written: list[str]
    put_right: list[str]


def look_at(manifest: Manifest, *, using: str = "default") -> Target:
    """Refuse what cannot be restored here by what it says of itself; else say what is in the way."""
    schema.refuse_unknown(manifest.migrations, using=using)
    known = {table.name: table for table in tables(schema.models_at(manifest.migrations, using=using))}
    _refuse_strange(manifest, known=known)
    here = connections[using].introspection.table_names()
    same = schema.applied(using) == manifest.migrations and bool(here)
    return Target(rows=_rows_here(using), same_tables=same)


def _rows_here(using: str) -> dict[str, int]:
    here = set(connections[using].introspection.table_names())
    current = tables(schema.models_at(schema.applied(using), using=using)) if here else []
    return {
        table.name: held
        for table in current
        if table.model._meta.db_table in here and (held := table.model._base_manager.using(using).count())
    }


def _refuse_strange(manifest: Manifest, *, known: dict[str, Table]) -> None:
    if odd := sorted(set(manifest.tables) ^ set(known))[:3]:
        raise _bad(f"tables that its version does not have, or lacks: {', '.join(odd)}")
    for name, table in manifest.tables.items():
        if odd := sorted(set(table.columns) ^ set(known[name].columns))[:3]:
            raise _bad(f"columns of {name} that its version does not have, or lacks: {', '.join(odd)}")


def restore(archive: Archive, *, target: Target, using: str = "default") -> Restored:
    """Files that are not there, then all rows, checked, then files that were others. What fails leaves the rows as
    they were, and takes away again the files it wrote."""
    try:
        written, others = restoring_media.put_missing(archive, storage=default_storage)
        with ExitStack() as undo:
            undo.callback(restoring_media.take_away, written, storage=default_storage)
            found = _load_all(archive, target=target, using=using)
            undo.pop_all()
        restoring_media.put_right(archive, names=others, storage=default_storage)
    except OSError as problem:  # a full disk, a folder that may not be written
        raise Refused("not_written", f"The media could not be written: {problem.strerror}.", field="media") from problem
    return Restored(found=found, written=written, put_right=others)


def _load_all(archive: Archive, *, target: Target, using: str) -> dict[str, TableTold]:
    connection, manifest = connections[using], archive.manifest
    with _tables_may_change(connection), atomic(using=using, durable=True):
        if target.is_empty and _rows_here(using):
            raise Refused("not_empty", "Somebody began to work in this database.", mend="Stop the server and workers.")
        if not target.same_tables:
            _drop_tables(connection)
            schema.migrate_to(manifest.migrations, using=using)
            connection.check_constraints()  # migrations leave some watched at once: from here on at the end again
        registry = schema.models_at(manifest.migrations, using=using)
        _empty_tables(connection, registry=registry)
        known = tables(registry)
        for table in known:
            _load(archive, table=table, using=using)
        _check_references(connection)
        _count_on(connection, models=[table.model for table in known])
        found = {table.name: count(table, using=using) for table in known}
        _refuse_difference(manifest, found=found)
    return found


@contextmanager
def _tables_may_change(connection: BaseDatabaseWrapper) -> Iterator[None]:
    """SQLite remakes tables only where nobody watches their references; they are all checked before the end."""
    connection.ensure_connection()
    watched = connection.vendor == "sqlite" and connection.disable_constraint_checking()
    try:
        yield
    finally:
        if watched:
            connection.enable_constraint_checking()


def _drop_tables(connection: BaseDatabaseWrapper) -> None:
    """Every table of the house, as today and as where this database stands, and what it knows of its migrations."""
    here = set(connection.introspection.table_names())
    past = schema.models_at(schema.applied(connection.alias), using=connection.alias)
    ours = {
        model._meta.db_table for registry in (live, past) for model in registry.get_models(include_auto_created=True)
    }
    cascade = " CASCADE" if connection.vendor == "postgresql" else ""
    with connection.cursor() as cursor:
        for name in sorted((ours | {"django_migrations"}) & here):
            cursor.execute(f"DROP TABLE {connection.ops.quote_name(name)}{cascade}")


def _empty_tables(connection: BaseDatabaseWrapper, *, registry: Apps) -> None:
    """What a backup holds, and what would speak of other rows afterwards: sessions, what waits for a worker."""
    here = set(connection.introspection.table_names())
    registries = {id(one): one for one in (registry, live)}.values()
    models = [model for one in registries for model in one.get_models(include_auto_created=True)]
    names = {model._meta.db_table for model in models if model._meta.app_label not in KEPT}
    for statement in connection.ops.sql_flush(no_style(), sorted(names & here), reset_sequences=True):
        with connection.cursor() as cursor:
            cursor.execute(statement)


def _load(archive: Archive, *, table: Table, using: str) -> None:
    rows = _rows(archive, table=table)
    try:
        while chunk := list(islice(rows, CHUNK)):
            table.model._base_manager.using(using).bulk_create(chunk)
    except (DatabaseError, TypeError, ValueError) as problem:
        raise _bad(f"rows of {table.name} cannot be stored ({type(problem).__name__})") from problem


def _rows(archive: Archive, *, table: Table) -> Iterator[Model]:
    fields, columns = table.fields, set(table.columns)
    for number, line in enumerate(archive.lines(table.name), start=1):
        where = f"{table.name}, row {number}"
        told = _object(line, where=where)
        if set(told) != columns:
            raise _bad(f"{where}: its columns are not those of the manifest")
        yield table.model(**{field.attname: _value(field, told, where=where) for field in fields})


def _object(line: bytes, *, where: str) -> dict[str, Any]:
    try:
        told = json.loads(line)
    except (ValueError, RecursionError) as problem:
        raise _bad(f"{where} is no JSON") from problem
    if not isinstance(told, dict):
        raise _bad(f"{where} is no object")
    return told


def _value(field: Any, told: dict[str, Any], *, where: str) -> Any:
    try:
        return value_of(field, told=told[field.attname])
    except ValueError as problem:
        raise _bad(f"{where}: {field.attname} holds {problem}") from problem


def _check_references(connection: BaseDatabaseWrapper) -> None:
    try:
        connection.check_constraints()
    except DatabaseError as problem:
        raise _bad("a row speaks of another that is not in it") from problem


def _count_on(connection: BaseDatabaseWrapper, *, models: list[type[Model]]) -> None:
    """The next row gets a number behind those that were restored."""
    with connection.cursor() as cursor:
        for statement in connection.ops.sequence_reset_sql(no_style(), models):
            cursor.execute(statement)


def _refuse_difference(manifest: Manifest, *, found: dict[str, TableTold]) -> None:
    differ = [
        f"{name} ({table.rows:,} rows in the backup, {found[name].rows:,} here)"
        for name, table in sorted(manifest.tables.items())
        if _facts(found[name]) != _facts(table)
    ]
    if differ:
        raise Differs(
            "differs", f"After loading, these tables do not hold what the backup says: {', '.join(differ)}.",
            field="file", mend="Nothing was kept.",
        )  # fmt: skip


def _facts(table: TableTold) -> tuple[Any, ...]:
    return table.rows, table.sha256, table.money


def _bad(what: str) -> Refused:
    return Refused("bad_backup", f"This backup is refused: {what}.", field="file", mend="Nothing was written.")
