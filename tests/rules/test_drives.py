"""What stops a test drive, what is signed, and how its time is told."""

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from inventory.errors import Refused
from inventory.rules import drives, following

TODAY = date(2026, 3, 16)
OUT = datetime(2026, 3, 16, 15, 0, tzinfo=UTC)


def refusal(rule: Any, *args: Any, **said: Any) -> Refused:
    with pytest.raises(Refused) as refused:
        rule(*args, **said)
    return refused.value


def test_open_flags_are_named_with_their_sections() -> None:
    drives.check_no_flags([])
    flags = [("Brake hoses", "cracked", "49 CFR 570.5(d)"), ("Tread", "1.5/32 in (49 CFR 570.9)", "49 CFR 570.9")]
    problem = refusal(drives.check_no_flags, flags)
    assert problem.code == "drives_stopped"
    assert "Brake hoses: cracked (49 CFR 570.5(d)); Tread: 1.5/32 in (49 CFR 570.9)" in problem.message
    assert "Only the owner" in problem.mend


def test_licence_is_seen_and_valid_on_its_last_day_not_after() -> None:
    drives.check_licence("Ohio", valid_until=TODAY, today=TODAY)
    yesterday = TODAY - timedelta(days=1)
    assert refusal(drives.check_licence, "Ohio", valid_until=yesterday, today=TODAY).code == "licence_expired"
    assert refusal(drives.check_licence, " ", valid_until=TODAY, today=TODAY).field == "licence_from"
    assert refusal(drives.check_licence, "Ohio", valid_until=None, today=TODAY).field == "licence_valid_until"


def test_text_is_the_lots_own_or_the_houses_and_the_one_that_was_read() -> None:
    assert drives.drive_text("  ") == drives.DEFAULT_TEXT
    own = drives.drive_text(" Ours. ")
    assert own == "Ours."
    drives.check_text_seen(drives.text_mark(own), text=own)
    assert refusal(drives.check_text_seen, drives.text_mark("Before."), text=own).code == "text_changed"


def test_odometer_back_below_out_is_refused_with_both() -> None:
    drives.check_back(61240, out=61240)
    assert "61,240" in refusal(drives.check_back, 61239, out=61240).message


def test_two_hours_are_not_long_a_minute_more_is() -> None:
    assert not drives.is_long(OUT, now=OUT + timedelta(hours=2))
    assert drives.is_long(OUT, now=OUT + timedelta(hours=2, minutes=1))
    assert drives.out_for(OUT, until=OUT + timedelta(minutes=125)) == "2 h 05 min"
    assert drives.out_for(OUT, until=OUT + timedelta(minutes=40, seconds=59)) == "40 min"


def test_follow_up_days_lie_ahead_and_are_told_from_today() -> None:
    following.check_follow_up(TODAY, asked_on=TODAY, today=TODAY)
    following.check_next(TODAY + timedelta(days=1), today=TODAY)
    before = TODAY - timedelta(days=1)
    assert refusal(following.check_follow_up, before, asked_on=TODAY, today=TODAY).field == "follow_up_on"
    assert refusal(following.check_next, TODAY, today=TODAY).field == "next_on"
    told = [following.due_told(TODAY + timedelta(days=days), today=TODAY) for days in (-2, 0, 1)]
    assert told == ["2 days overdue", "today", "in 1 day"]
