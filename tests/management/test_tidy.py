"""manage.py tidy does every chore, tells each, and keeps none back for another one that failed."""

from datetime import datetime, timedelta
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.utils import timezone

from inventory.management.commands import tidy
from inventory.models import RepeatKey
from inventory.rules.jobs import KEPT_KEYS

pytestmark = pytest.mark.django_db


def test_tidy_does_every_chore_and_finds_nothing_the_second_time() -> None:
    long_ago = timezone.now() - KEPT_KEYS - timedelta(hours=1)
    RepeatKey.objects.create(key="k", actor="x", fingerprint="f", at=long_ago)
    first, second = StringIO(), StringIO()
    call_command("tidy", stdout=first)
    call_command("tidy", stdout=second)
    assert "old answers to posts sent twice: 1\n" in first.getvalue()
    assert "old answers to posts sent twice: 0\n" in second.getvalue()
    assert len(second.getvalue().splitlines()) == len(tidy.CHORES)


def test_chore_that_fails_is_named_and_the_others_are_done(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(_: datetime) -> str:
        raise OSError(28, "No space left on device")

    monkeypatch.setitem(tidy.CHORES, "uploads cleared", broken)
    out, told = StringIO(), StringIO()
    with pytest.raises(CommandError, match="Not done: uploads cleared"):
        call_command("tidy", stdout=out, stderr=told)
    assert told.getvalue() == "uploads cleared: failed (OSError)\n"
    assert "work whose worker is gone" in out.getvalue()
