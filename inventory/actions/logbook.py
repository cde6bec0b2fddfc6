"""The one log write. What is not logged did not happen; what did not happen is not logged."""

from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import models, transaction

from inventory.models import Consignment, LogEntry
from inventory.rules import money
from inventory.rules.roles import Actor
from inventory.rules.wording import LOG_SENTENCES


def record(
    action: str,
    subject: models.Model,
    *,
    by: Actor,
    at: datetime,
    consignment: Consignment | None = None,
    **data: Any,
) -> LogEntry:
    """Write one entry, in the transaction of the deed itself."""
    if action not in LOG_SENTENCES:
        raise KeyError(f"{action} has no sentence in rules/wording.py.")
    if not transaction.get_connection().in_atomic_block:
        raise RuntimeError(f"{action} was to be logged outside the transaction of the deed.")
    if consignment is None and isinstance(subject, Consignment):
        consignment = subject
    return LogEntry.objects.create(
        at=at,
        action=action,
        consignment=consignment,
        subject_kind=subject._meta.model_name or "",
        subject_id=subject.pk,
        actor_kind=by.kind,
        actor_id=by.id,
        actor_name=by.name,
        data={name: _plain(value) for name, value in data.items()},
    )


def because(reason: str) -> str:
    return f"; reason: {reason.strip()}" if reason.strip() else ""


def _plain(value: Any) -> Any:
    if isinstance(value, Decimal):
        return money.show(value)
    if value is None or isinstance(value, bool | int):
        return value
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    return str(getattr(value, "label", value))
