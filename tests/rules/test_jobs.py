"""When work goes on, and when nobody works on it any more."""

from datetime import UTC, datetime, timedelta

import pytest

from inventory.rules.jobs import BEAT, SILENT, UNTAKEN, Signs, Standing, is_silent, minutes

NOW = datetime(2026, 3, 16, 15, 0, tzinfo=UTC)
AGO = NOW - SILENT - timedelta(seconds=1)


@pytest.mark.parametrize(
    ("status", "task", "asked_at", "last_sign", "standing"),
    [
        ("done", "SUCCESSFUL", AGO, AGO, Standing.OVER),
        ("failed", "", AGO, None, Standing.OVER),
        ("queued", "READY", NOW, None, Standing.WAITING),
        ("queued", "READY", NOW - UNTAKEN, None, Standing.UNTAKEN),
        ("queued", "READY", NOW - timedelta(days=3), None, Standing.UNTAKEN),  # no worker, but nothing is lost
        ("queued", "RUNNING", AGO, NOW, Standing.WAITING),  # taken, not begun
        ("queued", "RUNNING", AGO, AGO, Standing.STOPPED),  # its worker died between the two
        ("queued", "FAILED", AGO, None, Standing.STOPPED),
        ("running", "RUNNING", AGO, NOW - BEAT, Standing.AT_WORK),
        ("running", "RUNNING", AGO, AGO, Standing.STOPPED),
        ("running", "", AGO, None, Standing.STOPPED),
    ],
)
def test_standing_follows_from_the_last_sign_of_life(
    status: str, task: str, asked_at: datetime, last_sign: datetime | None, standing: Standing
) -> None:
    signs = Signs(status=status, task=task, asked_at=asked_at, last_sign=last_sign)
    assert signs.standing(now=NOW) == standing


def test_sign_from_the_future_counts_as_none_once_the_clock_was_set_back() -> None:
    assert is_silent(NOW + timedelta(hours=1), now=NOW)
    assert not is_silent(NOW + BEAT, now=NOW)


def test_minutes_are_whole_and_never_negative() -> None:
    assert (minutes(timedelta(seconds=119)), minutes(timedelta(hours=-1))) == (1, 0)
