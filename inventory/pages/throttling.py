"""Counting tries across all workers, in the database's cache. No address is kept, only a keyed digest of it.

Only what opened nothing is written, and nothing beyond the limits: a link that is right costs one read. The cache
reads, then writes; its row is held meanwhile, or half of what comes at the same moment would not be counted.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import astuple

from django.conf import settings
from django.core.cache import cache
from django.db import connection, transaction
from django.http import HttpRequest
from django.utils import timezone
from django.utils.crypto import salted_hmac

from inventory.rules import throttle
from inventory.rules.throttle import Tries

ALL = "links:all"


class TooMany(Exception):
    """Come back after so many seconds."""

    def __init__(self, seconds: int) -> None:
        super().__init__(seconds)
        self.seconds = seconds


def refuse_flood(request: HttpRequest) -> None:
    """Before anything is looked up: an address that floods is not even asked what it wants."""
    now, tries = _now(), _read(_key(request))
    if throttle.is_flood(tries, now=now):
        raise TooMany(throttle.wait_of(tries, now=now))


def count_failure(request: HttpRequest) -> None:
    """After a link opened nothing. It is told to wait where its address, or all together, tried too often."""
    now, key = _now(), _key(request)
    if wait := throttle.wait_of_all(_read(ALL), now=now):
        raise TooMany(max(wait, throttle.wait_of(_read(key), now=now)))
    if wait := _count(key, now=now):
        raise TooMany(wait)


def _count(key: str, *, now: int) -> int:
    """Seconds to wait, after this failure; what waits on its own account is not counted among all."""
    with _held(key):
        own = throttle.failed(_read(key), now=now)
        _write(key, own)
    if wait := throttle.wait_of(own, now=now):
        return wait
    with _held(ALL):
        of_all = _read(ALL)
        wait = throttle.wait_of_all(of_all, now=now)
        if not wait:
            _write(ALL, throttle.counted(of_all, now=now))
    return wait


def count_deed(link_id: int) -> None:
    """An answer, question or choice by one link."""
    now, key = _now(), f"links:deeds:{link_id}"
    with _held(key):
        tries = _read(key)
        if wait := throttle.wait_of_deeds(tries, now=now):
            raise TooMany(wait)
        _write(key, throttle.counted(tries, now=now, seconds=throttle.HOUR))


@contextmanager
def _held(key: str) -> Iterator[None]:
    """Nobody else counts this meanwhile. The first try of all has no row to hold yet."""
    table = connection.ops.quote_name(str(settings.CACHES["default"]["LOCATION"]))
    with transaction.atomic():
        with connection.cursor() as cursor:  # an update that changes nothing holds the row on both databases
            cursor.execute(f"UPDATE {table} SET expires = expires WHERE cache_key = %s", [cache.make_key(key)])  # noqa: S608
        yield


def _key(request: HttpRequest) -> str:
    meta = request.META
    client = throttle.client_of(
        remote=meta.get("REMOTE_ADDR", ""),
        forwarded=meta.get("HTTP_X_FORWARDED_FOR", ""),
        behind_proxy=settings.BEHIND_PROXY,
    )
    return f"links:{salted_hmac('inventory.throttle', client, algorithm='sha256').hexdigest()}"


def _read(key: str) -> Tries:
    return throttle.believed(Tries(*cache.get(key, ())), now=_now())


def _write(key: str, tries: Tries) -> None:
    cache.set(key, astuple(tries), timeout=throttle.KEPT)


def _now() -> int:
    return int(timezone.now().timestamp())
