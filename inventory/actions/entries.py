"""One entry of the log, made in the transaction of the deed. Deeds use `logbook`, which also tells the consignor."""

from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import models, transaction

from inventory.models import Consignment, LogEntry
from inventory.rules import money
from inventory.rules.roles import Actor
from inventory.rules.wording import LOG_SENTENCES


def write(
    action: str, subject: models.Model, *, by: Actor, at: datetime, consignment: Consignment | None,
    data: dict[str, Any],
) -> LogEntry:  # fmt: skip
    """Write one entry that no mail follows from: sending a mail may make a private link, which is logged too."""
    refuse_unheard(action)
    row = entry(action, subject, by=by, at=at, consignment=consignment, data=data)
    row.save(force_insert=True)
    return row


def refuse_unheard(action: str) -> None:
    if action not in LOG_SENTENCES:
        raise KeyError(f"{action} has no sentence in rules/wording.py.")
    if not transaction.get_connection().in_atomic_block:
        raise RuntimeError(f"{action} was to be logged outside the transaction of the deed.")


def entry(
    action: str,
    subject: models.Model,
    *,
    by: Actor,
    at: datetime,
    consignment: Consignment | None,
    data: dict[str, Any],
) -> LogEntry:
    if consignment is None and isinstance(subject, Consignment):
        consignment = subject
    return LogEntry(
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
