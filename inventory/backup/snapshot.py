"""One moment of the database, read while others go on writing."""

from collections.abc import Iterator
from contextlib import contextmanager

from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.transaction import atomic


@contextmanager
def snapshot(using: str) -> Iterator[None]:
    """Everything that is read within is of one moment; nothing can be written; nobody has to wait for it."""
    connection = connections[using]
    connection.ensure_connection()
    reading = _on_postgres if connection.vendor == "postgresql" else _on_sqlite
    with reading(connection):
        yield


@contextmanager
def _on_postgres(connection: BaseDatabaseWrapper) -> Iterator[None]:
    with atomic(using=connection.alias), connection.cursor() as cursor:
        cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
        cursor.execute("SELECT 1")  # the moment is that of the first reading
        yield


@contextmanager
def _on_sqlite(connection: BaseDatabaseWrapper) -> Iterator[None]:
    """The house begins IMMEDIATE, which holds up writers; in WAL a reader that begins DEFERRED does not."""
    usual = connection.transaction_mode  # type: ignore[attr-defined]
    connection.transaction_mode = "DEFERRED"  # type: ignore[attr-defined]
    try:
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA query_only = ON")
            with atomic(using=connection.alias):
                cursor.execute("SELECT count(*) FROM sqlite_master")  # here too
                yield
    finally:
        connection.transaction_mode = usual  # type: ignore[attr-defined]
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA query_only = OFF")
