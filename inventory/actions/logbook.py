"""The one log write. What is not logged did not happen; what did not happen is not logged."""

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from django.db import models

from inventory.actions import entries, outbox
from inventory.models import Consignment, LogEntry
from inventory.rules.roles import Actor


def record(
    action: str,
    subject: models.Model,
    *,
    by: Actor,
    at: datetime,
    consignment: Consignment | None = None,
    **data: Any,
) -> LogEntry:
    """Write one entry, in the transaction of the deed itself, and the mail to the consignor that follows from it."""
    entry = entries.write(action, subject, by=by, at=at, consignment=consignment, data=data)
    outbox.queue_for(entry)
    return entry


def record_all(
    action: str, subjects: Iterable[tuple[models.Model, Consignment | None, dict[str, Any]]], *, by: Actor, at: datetime
) -> None:
    """Write one entry for each of many subjects (with its consignment and its data) at once. No mail follows."""
    entries.refuse_unheard(action)
    LogEntry.objects.bulk_create(
        entries.entry(action, subject, by=by, at=at, consignment=consignment, data=data)
        for subject, consignment, data in subjects
    )


def because(reason: str) -> str:
    return f"; reason: {reason.strip()}" if reason.strip() else ""
