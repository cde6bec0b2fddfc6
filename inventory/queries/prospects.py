"""What every screen needs before it can say what may come of an ask: the deal, how a vehicle stands, the days left."""

from collections.abc import Iterable, Mapping
from datetime import date
from decimal import Decimal
from typing import Any, Protocol

from inventory import bridge
from inventory.models import Charge, Consignment, Lot, Terms
from inventory.queries import facts
from inventory.rules.asking import Deal

USUAL_DAYS = 90  # looked ahead where no agreement says when the stay ends


class Band(Protocol):
    """A band as it was given: an opinion's row, or what `queries.stays` keeps of one."""

    @property
    def low(self) -> Decimal: ...
    @property
    def likely(self) -> Decimal: ...
    @property
    def high(self) -> Decimal: ...
    @property
    def coverage_percent(self) -> int: ...


def deal_of(terms: Terms, *, charges: list[Charge], lot: Lot, on: date, cost_per_day: Decimal | None = None) -> Deal:
    """What turns a price into money for both sides; the cost of a day is the lot's unless another is given."""
    return Deal(
        plan=facts.plan_of(terms), charges=tuple(facts.charge_lines(charges)), lien=facts.lien_of(terms), on=on,
        cost_per_day=lot.carrying_cost_per_day if cost_per_day is None else cost_per_day,
        unsold_worth_percent=Decimal(lot.unsold_worth_percent),
    )  # fmt: skip


def standing_of(
    stay: Consignment, *, row: Mapping[str, Any], opinion: Band, exposed_days: int,
    asks: Iterable[tuple[int, Decimal]], best_offer: Decimal | None, followed: bool, on: date,
    interest: int | None = None,
) -> bridge.Standing:  # fmt: skip
    """How a vehicle stands. `row` is what the band was given for (the opinion's inputs); `asks` by exposed day.

    Before it is listed an ask has been shown to nobody, and may still be changed freely: it is no evidence yet.
    """
    listed = stay.listed_on is not None
    return bridge.Standing(
        row=row, low=opinion.low, likely=opinion.likely, high=opinion.high, coverage_percent=opinion.coverage_percent,
        on=on, exposed_days=exposed_days if listed else 0, asks=tuple(asks) if listed else (),
        best_offer=best_offer, followed=followed, interest=interest if listed else None,
    )  # fmt: skip


def days_left(ends_on: date | None, *, on: date) -> int:
    """Days to the end of the agreement, its last day being 1; where there is none, or it has ended, the usual ones."""
    if ends_on is None or ends_on < on:
        return USUAL_DAYS
    return max((ends_on - on).days, 1)


def no_end_said(ends_on: date | None, *, on: date) -> str:
    """Why the usual days are looked ahead; empty where the agreement says when the stay ends."""
    if ends_on is None:
        return f"No terms are agreed: the end is taken as {USUAL_DAYS} days from today."
    if ends_on < on:
        return f"The agreement ended on {ends_on:%Y-%m-%d}: the end is taken as {USUAL_DAYS} days from today."
    return ""
