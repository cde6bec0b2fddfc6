"""Whether long work still goes on, judged by its last sign of life. The times are the house's choice, no source."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import Enum

from inventory.rules.words import JobStatus

BEAT = timedelta(seconds=15)  # how often a worker says that it is still at it
SILENT = timedelta(minutes=2)  # without a sign for so long it was cut off
UNTAKEN = timedelta(minutes=1)  # a job that waits for longer than this waits for a worker that is not there, or busy
KEPT_KEYS = timedelta(days=7)  # how long the same Idempotency-Key gets the same answer
KEPT_TASKS_DAYS = 30  # what the queue remembers of work that is over

WAITS, RUNS = "READY", "RUNNING"  # as the queue says it of its own rows
OPEN = (JobStatus.QUEUED, JobStatus.RUNNING)
STARTABLE = ("fit", "price_stock", "import")


class Standing(Enum):
    WAITING = "waiting"
    UNTAKEN = "untaken"  # nobody has taken it for a while
    AT_WORK = "at work"
    STOPPED = "stopped"  # its worker is gone without a word
    OVER = "over"


@dataclass(frozen=True, kw_only=True)
class Signs:
    """What is known of one job: its own row, and what the queue says of its task (empty where there is none)."""

    status: str
    asked_at: datetime
    last_sign: datetime | None
    task: str = ""

    def standing(self, *, now: datetime) -> Standing:
        if self.status not in OPEN:
            return Standing.OVER
        if self.status == JobStatus.QUEUED and self.task == WAITS:
            return Standing.UNTAKEN if now - self.asked_at >= UNTAKEN else Standing.WAITING
        if is_silent(self.last_sign or self.asked_at, now=now):
            return Standing.STOPPED
        return Standing.AT_WORK if self.status == JobStatus.RUNNING else Standing.WAITING


def is_silent(last: datetime, *, now: datetime) -> bool:
    """A sign from the future counts as none: the clock was set back since, and what lives gives another within BEAT."""
    return abs(now - last) > SILENT


def minutes(span: timedelta) -> int:
    return max(int(span.total_seconds() // 60), 0)
