"""What the parts of the large lot share: a tally of what was written, what stands on the lot, one stay to be."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, time
from itertools import islice
from time import perf_counter
from typing import Any

from django.utils import timezone

from inventory.models import SaleOutcome
from inventory.rules.states import State

BATCH = 2_000
BY = "bench"
# What stands on the lot, whatever the scale: a lot has so many places.
HERE = {
    State.LISTED: 34, State.DEPOSIT: 4, State.SOLD: 5, State.SETTLED: 3, State.INSPECTED: 6, State.ON_LOT: 6,
    State.BOOKED: 2,
}  # fmt: skip
ENDED = (State.SOLD, State.SETTLED)


@dataclass
class Tally:
    """How many rows of each kind were written, and how long that took."""

    rows: dict[str, int] = field(default_factory=dict)
    seconds: dict[str, float] = field(default_factory=dict)

    def write(self, model: Any, rows: Iterable[Any]) -> list[Any]:
        began, kept, rest = perf_counter(), [], iter(rows)
        while batch := list(islice(rest, BATCH)):
            kept += model.objects.bulk_create(batch)
        name = model.__name__
        self.rows[name] = self.rows.get(name, 0) + len(kept)
        self.seconds[name] = self.seconds.get(name, 0.0) + perf_counter() - began
        return kept

    def tell(self) -> str:
        lines = [
            f"{name:<18}{count:>9,}{self.seconds[name]:>8.1f} s{count / max(self.seconds[name], 1e-9):>9,.0f} rows/s"
            for name, count in self.rows.items()
        ]
        rows, seconds = sum(self.rows.values()), sum(self.seconds.values())
        return "\n".join([*lines, f"{'all':<18}{rows:>9,}{seconds:>8.1f} s{rows / max(seconds, 1e-9):>9,.0f} rows/s"])


@dataclass(frozen=True)
class Plan:
    """One stay to be: its state, the facts of its vehicle, and its outcome where it has ended."""

    number: int
    state: State
    facts: dict[str, Any]
    outcome: SaleOutcome | None

    @property
    def gone(self) -> bool:
        return self.state == State.RELEASED


def moment(day: date, *, hour: int = 12) -> datetime:
    return datetime.combine(day, time(hour), tzinfo=timezone.get_default_timezone())
