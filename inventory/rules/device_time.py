"""When something was said on a device, by the house's clock.

How wrong a device's clock is shows when it sends, and no better than the way takes: of two taps in quick succession the
first may come to seem the later one. On one clock, what was made later was said later.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

SAME_CLOCK = timedelta(seconds=30)  # a device gives up sending after 20: what differs by more is a clock set anew
MOMENT = timedelta(microseconds=1)


@dataclass(frozen=True)
class Said:
    """By the device's own clock, and by the house's."""

    made_at: datetime
    told_at: datetime

    @property
    def lead(self) -> timedelta:
        return self.told_at - self.made_at


def said(made_at: datetime, *, sent_at: datetime, at: datetime) -> Said:
    """What came at `at` and was sent when the device's clock showed `sent_at`. Nothing was said in the future."""
    return Said(made_at, min(at, made_at + (at - sent_at)))


def in_order(one: Said, *, others: Iterable[Said]) -> datetime:
    """When it was said by the house's clock, among what the same device said of the same."""
    same_clock = [other for other in others if abs(other.lead - one.lead) <= SAME_CLOCK]
    not_before = [other.told_at for other in same_clock if other.made_at <= one.made_at]
    before = [other.told_at - MOMENT for other in same_clock if other.made_at > one.made_at]
    return min([max([one.told_at, *not_before]), *before])
