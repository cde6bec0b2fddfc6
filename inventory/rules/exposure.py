"""Days a stay was really for sale at an ask: not held by a deposit, not sold, not away or in the shop."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

DAY = timedelta(days=1)


@dataclass(frozen=True)
class Closed:
    """Days on which nobody could buy: from `first` up to the day before `until`; None: it has not ended yet."""

    first: date
    until: date | None = None


@dataclass(frozen=True)
class Exposure:
    """The exposed days of one stay. `closed` is in order and without overlaps: `exposure_of` makes it so."""

    listed_on: date
    closed: tuple[Closed, ...] = ()

    def days_before(self, day: date) -> int:
        """Exposed days from the day it was listed up to the day before `day`.

        That is the number of `day` too, if it is exposed: the day it was listed is 0. Each day of a closed span has the
        number of the next exposed day, so that an ask changed in between counts from there.
        """
        shut = sum(self._shut_before(day, span=span) for span in self.closed)
        return max((day - self.listed_on).days, 0) - shut

    def days_until_sold(self, day: date) -> int:
        """Exposed days up to the day on which a buyer was found: that day was one, whatever else is recorded of it."""
        return self.days_before(day) + 1

    def days_until_left(self, day: date) -> int:
        """Exposed days of a stay that ended without a buyer. One that ended on the day it was listed had one."""
        return max(self.days_before(day), 1)

    def among_first(self, days: int, *, on: Iterable[date]) -> int:
        """How many of these dates lie on one of the first `days` exposed days."""
        return sum(self._is_open(day) and self.days_before(day) < days for day in on)

    def _is_open(self, day: date) -> bool:
        shut = any(span.first <= day and (span.until is None or day < span.until) for span in self.closed)
        return self.listed_on <= day and not shut

    def _shut_before(self, day: date, *, span: Closed) -> int:
        first = max(span.first, self.listed_on)
        until = day if span.until is None else min(span.until, day)
        return max((until - first).days, 0)


def exposure_of(listed_on: date, *, closed: Iterable[Closed] = ()) -> Exposure:
    """Spans may come in any order and overlap; one without days changes nothing."""
    merged: list[Closed] = []
    for span in sorted(closed, key=lambda span: span.first):
        if span.until is not None and span.until <= span.first:
            continue
        last = merged[-1] if merged else None
        if last is None or (last.until is not None and last.until < span.first):
            merged.append(span)
        elif last.until is not None and (span.until is None or span.until > last.until):
            merged[-1] = Closed(last.first, span.until)
    return Exposure(listed_on, tuple(merged))


def held(*, began_on: date, ended_on: date | None) -> Closed:
    """A deal that fell through, or is still open: the day it began is exposed, and so is the day it ended."""
    return Closed(began_on + DAY, ended_on)


def sold_for_a_while(*, sold_on: date, unwound_on: date) -> Closed:
    """The days between a sale and its unwinding; both days themselves are exposed."""
    return Closed(sold_on + DAY, unwound_on)


def away(moves: Iterable[tuple[date, bool]]) -> list[Closed]:
    """Movements in the order they were made, each with its day and whether it is not for sale there."""
    spans: list[Closed] = []
    since: date | None = None
    for day, not_for_sale in moves:
        if not_for_sale and since is None:
            since = day
        elif not not_for_sale and since is not None:
            spans.append(Closed(since, day))
            since = None
    return spans if since is None else [*spans, Closed(since)]


def asks_by_day(
    asks: Iterable[tuple[date, Decimal]], *, exposure: Exposure, days: int | None = None
) -> list[tuple[int, Decimal]]:
    """The asks in the order they were set, each from its exposed day on; the first from day 0, the days rising.

    Of several that take effect on one day the last counts. With `days` those left out that held on none of them.
    """
    found: dict[int, Decimal] = {}
    for on, amount in asks:
        found[exposure.days_before(on) if found else 0] = amount
    return [(day, amount) for day, amount in found.items() if days is None or day == 0 or day < days]


def day_numbers(exposure: Exposure, *, until: date) -> dict[date, int]:
    """Each calendar day from the listing up to the day before `until` with its exposed-day number."""
    days = (exposure.listed_on + DAY * step for step in range((until - exposure.listed_on).days))
    return {day: exposure.days_before(day) for day in days}
