"""What is told of stays by the calendar: agreements that end, and the week of each vehicle that is here."""

from collections import Counter, defaultdict
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from django.db.models import QuerySet
from django.utils import timezone

from inventory.models import (
    ConsentRequest,
    Consignment,
    ConsignorQuestion,
    Inquiry,
    Offer,
    OutMessage,
    Showing,
    Terms,
)
from inventory.queries import facts
from inventory.queries.exposure import closed_spans
from inventory.queries.settlements import net_at
from inventory.rules import money
from inventory.rules.exposure import exposure_of
from inventory.rules.messages import ENDING_DAYS, counted, day, mark_due, offers_said, open_said
from inventory.rules.states import BEFORE_SOLD, State

TOLD_WEEKLY = (State.ON_LOT, State.INSPECTED, State.LISTED, State.DEPOSIT)
STATE_TOLD: dict[str, str] = {
    State.ON_LOT: "at the lot, not inspected yet",
    State.INSPECTED: "inspected, not offered for sale yet",
    State.LISTED: "for sale",
    State.DEPOSIT: "held for a buyer",
}


@dataclass(frozen=True)
class Ending:
    """An agreement whose end is near, and the mark it has passed."""

    stay: Consignment
    terms: Terms
    mark: int
    left: int

    @property
    def key(self) -> str:
        return f"ending:{self.terms.pk}:{self.mark}"


def endings(*, today: date) -> list[Ending]:
    """Agreements in effect that end within a mark, and are not reminded of yet. Few, so each is looked at by itself."""
    soon = Terms.objects.filter(ends_on__gte=today, ends_on__lte=today + timedelta(days=max(ENDING_DAYS)))
    near = _told().filter(state__in=BEFORE_SOLD, pk__in=soon.values("consignment"))
    found = [ending for stay in near if (ending := _ending(stay, today=today)) is not None]
    keys = [one.key for one in found]
    told = set(OutMessage.objects.filter(event_key__in=keys).values_list("event_key", flat=True))
    return [one for one in found if one.key not in told]


def _ending(stay: Consignment, *, today: date) -> Ending | None:
    terms = facts.terms_of(stay)
    if terms is None:
        return None
    mark = mark_due(terms.ends_on, today=today, agreed_on=timezone.localdate(terms.at))
    return None if mark is None else Ending(stay, terms, mark, (terms.ends_on - today).days)


def _told() -> QuerySet[Consignment]:
    """Stays of consignors who are told anything: the lot tells itself nothing."""
    rows = Consignment.objects.still_here().filter(consignor__is_lot=False)
    return rows.select_related("vehicle", "consignor").order_by("pk")


@dataclass(frozen=True)
class Week:
    """The seven days before `today` of one stay."""

    stay: Consignment
    values: dict[str, str]


def weeks(*, today: date, without: set[int]) -> list[Week]:
    """The week of each vehicle that is here, but for those told already. What is counted is counted for all at once."""
    told = {"until": day(today - timedelta(days=1))}
    stays = _told().filter(state__in=TOLD_WEEKLY).exclude(pk__in=without)
    if not stays:  # asked every half minute of a Monday
        return []
    seen = _Seen(stays, first=today - timedelta(days=7), today=today)
    return [Week(stay, {**seen.values(stay), **told}) for stay in stays]


class _Seen:
    """What came in for many stays within some days, in a constant number of queries."""

    def __init__(self, stays: QuerySet[Consignment], *, first: date, today: date) -> None:
        self.today = today
        within = {"consignment__in": stays, "on__gte": first, "on__lt": today}
        self.inquiries = Counter(Inquiry.objects.filter(**within).values_list("consignment_id", flat=True))
        self.showings = Counter(Showing.objects.filter(**within).values_list("consignment_id", flat=True))
        self.offers: dict[int, list[Decimal]] = defaultdict(list)
        rows = Offer.objects.filter(held_back=False, **within).order_by("pk")
        for stay_id, amount in rows.values_list("consignment_id", "amount"):
            self.offers[stay_id].append(amount)
        waiting = {"consignment__in": stays, "answer__isnull": True}
        self.to_answer = Counter(ConsentRequest.objects.filter(**waiting).values_list("consignment_id", flat=True))
        self.asked = Counter(ConsignorQuestion.objects.filter(**waiting).values_list("consignment_id", flat=True))
        self.closed = closed_spans(stays)

    def values(self, stay: Consignment) -> dict[str, str]:
        ask = facts.current_ask(stay)
        return {
            "state": STATE_TOLD[stay.state],
            "ask": "not set yet" if ask is None else money.show(ask.amount),
            "days": str(self._days(stay)),
            "inquiries": counted(self.inquiries[stay.pk], one="inquiry", many="inquiries"),
            "showings": counted(self.showings[stay.pk], one="showing"),
            "offers": offers_said(self.offers[stay.pk]),
            "net": self._net(stay, ask=None if ask is None else ask.amount),
            "questions": open_said(to_answer=self.to_answer[stay.pk], asked=self.asked[stay.pk]),
        }

    def _days(self, stay: Consignment) -> int:
        if stay.listed_on is None:
            return 0
        return exposure_of(stay.listed_on, closed=self.closed.get(stay.pk, ())).days_before(self.today)

    def _net(self, stay: Consignment, *, ask: Decimal | None) -> str:
        """By the one function that says which terms count: a few queries for each stay, once a week."""
        terms = facts.terms_of(stay)
        if ask is None or terms is None:
            return "an amount that depends on an ask and terms still to be agreed"
        net = net_at(ask, label="", terms=terms, charges=facts.live_charges(stay), on=self.today)
        return "an amount that cannot be worked out today; please ask us" if net.due is None else money.show(net.due)
