"""A post sent twice with one key is done once: the second gets the answer of the first."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import transaction

from inventory.errors import Refused
from inventory.models import RepeatKey
from inventory.rules.roles import Actor

LONGEST_KEY = 80


class KeyReused(Refused):
    """The key stands for another request already."""


@dataclass(frozen=True)
class Answered:
    status: int
    answer: Any
    replayed: bool


@transaction.atomic
def once(key: str, *, actor: Actor, fingerprint: str, at: datetime, do: Callable[[], tuple[int, Any]]) -> Answered:
    """Do the work and keep its status and answer, or return those kept when this key came before.

    Key, work and answer are one transaction: a refusal takes the key back with it, so the request can be mended
    and sent again under the same key. A repeat that comes while the first is at work waits for it, since both
    insert the same key.
    """
    _check_key(key)
    row, is_first = RepeatKey.objects.get_or_create(
        actor=f"{actor.kind}:{actor.id}", key=key, defaults={"fingerprint": fingerprint, "at": at}
    )
    if not is_first:
        return _kept(row, fingerprint=fingerprint)
    row.status, row.answer = do()
    row.save(update_fields=["status", "answer"])
    return Answered(row.status, row.answer, replayed=False)


def _check_key(key: str) -> None:
    if not 1 <= len(key) <= LONGEST_KEY or not key.isascii() or not key.isprintable():
        raise Refused(
            "key_unusable", f"An Idempotency-Key has 1 to {LONGEST_KEY} plain characters.", field="Idempotency-Key",
            got=len(key), mend="Make a new random one for each request, such as a UUID.",
        )  # fmt: skip


def _kept(row: RepeatKey, *, fingerprint: str) -> Answered:
    if row.fingerprint != fingerprint or row.status is None:
        raise KeyReused(
            "key_reused", "This Idempotency-Key was sent before with another request.", field="Idempotency-Key",
            got=row.key, mend="Send a new key with a new request, and the same key only with the very same one.",
        )  # fmt: skip
    return Answered(row.status, row.answer, replayed=True)
