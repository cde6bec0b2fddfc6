"""Which tables are in a backup, and which are not, with the reason."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.apps import apps as live
from django.apps.registry import Apps
from django.db.models import Field, FileField, Model, Q

from inventory.models.fields import MoneyField

BACKED_UP = ("inventory", "otp_static", "otp_totp")
LEFT_OUT = {
    "auth": "no permissions of Django's own are used",
    "contenttypes": "made by migrate",
    "sessions": "whoever holds one is signed in: everybody signs in again",
    "django_tasks_database": "what waits for the worker is no record; it is asked for again",
    "axes": "wrong tries to sign in count for some minutes",
}
# Of these tables only some rows: the pieces of a file that has not come whole are no media yet.
ONLY = {
    "inventory.upload": Q(finished_at__isnull=False),
    "inventory.uploadpiece": Q(upload__finished_at__isnull=False),
}


@dataclass(frozen=True)
class Table:
    """One table, by the model of today or by that of an earlier migration."""

    model: type[Model]

    @property
    def name(self) -> str:
        return self.model._meta.label_lower

    @property
    def fields(self) -> tuple["Field[Any, Any]", ...]:
        """What is stored. What the database works out itself is not: it will work it out again."""
        return tuple(field for field in self.model._meta.concrete_fields if not field.generated)

    @property
    def columns(self) -> tuple[str, ...]:
        return tuple(field.attname for field in self.fields)

    @property
    def money(self) -> tuple[int, ...]:
        return tuple(place for place, field in enumerate(self.fields) if isinstance(field, MoneyField))

    @property
    def files(self) -> tuple[int, ...]:
        return tuple(place for place, field in enumerate(self.fields) if isinstance(field, FileField))

    def rows(self, using: str, *, chunk: int = 2000) -> Iterator[tuple[Any, ...]]:
        """By primary key, a chunk at a time."""
        kept = self.model._base_manager.using(using).filter(ONLY.get(self.name, Q()))
        yield from kept.order_by("pk").values_list(*self.columns).iterator(chunk_size=chunk)


def tables(registry: Apps = live) -> list[Table]:
    found = [Table(model) for model in registry.get_models(include_auto_created=True) if _is_kept(model)]
    return sorted(found, key=lambda table: table.name)


def _is_kept(model: type[Model]) -> bool:
    meta = model._meta
    return meta.app_label in BACKED_UP and meta.managed and not meta.proxy
