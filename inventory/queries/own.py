"""The lot's own vehicles: what each has cost, what it is asked at, and what those sold have made."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import OuterRef, QuerySet, Subquery

from inventory.errors import NotFound
from inventory.models import AskChange, Consignment, DealExtra, OwnCost, PriceOpinion, SaleOutcome
from inventory.queries import facts
from inventory.rules import money
from inventory.rules.states import State
from inventory.rules.words import DealEnd, Result


@dataclass(frozen=True, kw_only=True)
class OwnVehicle:
    """One vehicle of the lot's own. `effective` and `sold_on` are of the sale that stands."""

    stay: Consignment
    days: int | None
    cost: Decimal
    ask: Decimal | None = None
    low: Decimal | None = None
    high: Decimal | None = None
    effective: Decimal | None = None
    sold_on: date | None = None
    extras: Decimal = money.ZERO  # taxes and fees the buyer pays beside the price: in no profit

    @property
    def is_sold(self) -> bool:
        return self.effective is not None

    @property
    def margin(self) -> Decimal | None:
        """What the ask would leave over its cost."""
        return None if self.ask is None else self.ask - self.cost

    @property
    def profit(self) -> Decimal | None:
        """The effective price less what it cost: what the sale really made, before the lot's own running costs."""
        return None if self.effective is None else self.effective - self.cost


@dataclass(frozen=True)
class OwnPage:
    here: tuple[OwnVehicle, ...]
    sold: tuple[OwnVehicle, ...]
    gone: tuple[OwnVehicle, ...]  # withdrawn from sale

    @property
    def tied_up(self) -> Decimal:
        return money.total(one.cost for one in self.here)

    @property
    def profit(self) -> Decimal:
        return money.total(one.profit for one in self.sold if one.profit is not None)


def own_page(*, today: date) -> OwnPage:
    """Every vehicle that is or was the lot's own, in a constant number of queries."""
    rows = _seen(_stays(), today=today)
    ended = {State.WITHDRAWN, State.RELEASED}
    return OwnPage(
        tuple(one for one in rows if not one.is_sold and one.stay.state not in ended),
        tuple(sorted((one for one in rows if one.is_sold), key=_sold_last, reverse=True)),
        tuple(one for one in rows if not one.is_sold and one.stay.state in ended),
    )


def _sold_last(one: OwnVehicle) -> tuple[date, int]:
    return one.sold_on or date.min, one.stay.pk


def _stays() -> QuerySet[Consignment]:
    asks = AskChange.objects.filter(consignment=OuterRef("pk")).order_by("-pk")
    bands = PriceOpinion.objects.filter(consignment=OuterRef("pk")).order_by("-pk")
    sales = SaleOutcome.objects.filter(consignment=OuterRef("pk"), followed_by__isnull=True, result=Result.SOLD)
    return (
        Consignment.objects.filter(consignor__is_lot=True)
        .select_related("vehicle", "consignor")
        .annotate(
            ask=Subquery(asks.values("amount")[:1]), low=Subquery(bands.values("low")[:1]),
            high=Subquery(bands.values("high")[:1]), effective=Subquery(sales.values("effective_price")[:1]),
            sold_on=Subquery(sales.values("ended_on")[:1]),
        )
        .order_by("pk")
    )  # fmt: skip


def _seen(stays: QuerySet[Consignment], *, today: date) -> list[OwnVehicle]:
    costs, extras = _costs(stays), _extras(stays)
    return [
        OwnVehicle(
            stay=stay, cost=costs[stay.pk], extras=extras[stay.pk], days=_days(stay, today=today),
            **{name: stay.__dict__[name] for name in ("ask", "low", "high", "effective", "sold_on")},
        )
        for stay in stays
    ]  # fmt: skip


def _days(stay: Consignment, *, today: date) -> int | None:
    """On the lot: to the sale, the day it left, or today."""
    if stay.arrived_on is None:
        return None
    return ((stay.__dict__["sold_on"] or stay.released_on or today) - stay.arrived_on).days


def _costs(stays: QuerySet[Consignment]) -> defaultdict[int, Decimal]:
    found: defaultdict[int, Decimal] = defaultdict(lambda: money.ZERO)
    rows = live_costs().filter(consignment__in=stays.values("pk"))
    for stay, amount in rows.values_list("consignment_id", "amount"):
        found[stay] += amount
    return found


def _extras(stays: QuerySet[Consignment]) -> defaultdict[int, Decimal]:
    found: defaultdict[int, Decimal] = defaultdict(lambda: money.ZERO)
    rows = DealExtra.objects.filter(
        deal__consignment__in=stays.values("pk"),
        deal__end=DealEnd.SOLD,
        sets_aside__isnull=True,
        set_aside_by__isnull=True,
    )
    for stay, amount in rows.values_list("deal__consignment_id", "amount"):
        found[stay] += amount
    return found


def live_costs() -> QuerySet[OwnCost]:
    """Costs that stand: neither set aside nor setting one aside."""
    return OwnCost.objects.filter(sets_aside__isnull=True, set_aside_by__isnull=True)


@dataclass(frozen=True)
class CostLine:
    row: OwnCost
    because: str  # why it was set aside; empty where it stands


@dataclass(frozen=True)
class OwnDesk:
    """One own vehicle with each of its costs."""

    vehicle: OwnVehicle
    costs: Sequence[CostLine]
    buyer: facts.BuyerMoney
    may_close: bool

    @property
    def standing(self) -> list[OwnCost]:
        return [line.row for line in self.costs if not line.because]


def own_desk(stock_number: str, *, today: date) -> OwnDesk:
    found = _seen(_stays().filter(stock_number=stock_number), today=today)
    if not found:
        raise NotFound("not_found", f"No vehicle of the lot's own has the number {stock_number}.", got=stock_number)
    stay = found[0].stay
    rows = OwnCost.objects.filter(consignment=stay).order_by("pk")
    aside = {row.sets_aside_id: row.what for row in rows if row.sets_aside_id is not None}
    lines = [CostLine(row, aside.get(row.pk, "")) for row in rows if row.sets_aside_id is None]
    buyer = facts.buyer_money(facts.live_deal(stay))
    return OwnDesk(found[0], lines, buyer, may_close=stay.state == State.SOLD and buyer.in_full)
