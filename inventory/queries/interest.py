"""Inquiries and showings: of one stay for its desk, of many stays by day, and since when they are counted at all."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date

from django.db.models import Min, QuerySet
from django.utils import timezone

from inventory.models import Consignment, Inquiry, Showing

LAST = 5


@dataclass(frozen=True)
class Interest:
    """All since it was listed, the latest first."""

    inquiries: tuple[Inquiry, ...]
    showings: tuple[Showing, ...]

    @property
    def last_inquiries(self) -> tuple[Inquiry, ...]:
        return self.inquiries[:LAST]

    @property
    def last_showings(self) -> tuple[Showing, ...]:
        return self.showings[:LAST]


def interest_in(stay: Consignment) -> Interest:
    return Interest(
        inquiries=tuple(Inquiry.objects.filter(consignment=stay).select_related("contact").order_by("-on", "-pk")),
        showings=tuple(Showing.objects.filter(consignment=stay).select_related("inquiry").order_by("-on", "-pk")),
    )


def days_of_interest(stays: QuerySet[Consignment]) -> dict[int, list[date]]:
    """The day of each inquiry and each showing, by stay."""
    found: dict[int, list[date]] = defaultdict(list)
    for kind in (Inquiry, Showing):
        for stay_id, on in kind.objects.filter(consignment__in=stays).values_list("consignment_id", "on"):
            found[stay_id].append(on)
    return found


def counted_since() -> date | None:
    """The day on which the lot first recorded an inquiry or a showing: before it nothing was counted."""
    first = [kind.objects.aggregate(first=Min("at"))["first"] for kind in (Inquiry, Showing)]
    return min((timezone.localdate(at) for at in first if at is not None), default=None)
