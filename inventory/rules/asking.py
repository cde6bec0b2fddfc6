"""What an ask is worth to the consignor and to the lot, and which one to suggest: money by the settlement's own rules.

Expected figures are means over what may come of an ask: selling prices with their chances, and no sale by the end of
the agreement. What an unsold vehicle is still worth to its consignor is the lot's own figure, a share of its expected
value.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from inventory.rules.chances import chance_said
from inventory.rules.money import ZERO, percent_of, round_money, show_whole
from inventory.rules.terms import (
    ChargeLine,
    CommissionPlan,
    LienPayoff,
    LineKind,
    Statement,
    price_for_net,
    settlement_lines,
)
from inventory.rules.words import Objective

Shares = Sequence[tuple[Decimal, Decimal]]


@dataclass(frozen=True, kw_only=True)
class Deal:
    """What turns a price into money for both sides, on a day."""

    plan: CommissionPlan
    charges: tuple[ChargeLine, ...] = ()
    lien: LienPayoff | None = None
    on: date
    cost_per_day: Decimal = ZERO
    unsold_worth_percent: Decimal = Decimal(80)

    def statement(self, price: Decimal) -> Statement:
        return settlement_lines(price, plan=self.plan, charges=self.charges, lien=self.lien, on=self.on)

    def net(self, price: Decimal) -> Decimal:
        return self.statement(price).due

    def gross(self, price: Decimal) -> Decimal:
        return self.statement(price).lot_gross

    def unsold_net(self, value: Decimal) -> Decimal:
        """What a consignor has who takes an unsold vehicle home: its worth, less the charges and the lien that stay."""
        nothing = self.statement(ZERO)
        owed = nothing.sum_of(LineKind.CHARGE) + nothing.sum_of(LineKind.LIEN)
        return percent_of(round_money(value), rate=self.unsold_worth_percent) + owed

    def unsold_gross(self) -> Decimal:
        return -sum((charge.amount for charge in self.statement(ZERO).borne_by_lot), ZERO)

    def price_for(self, net: Decimal) -> Decimal:
        """The least offer that leaves the consignor a net today."""
        return price_for_net(net, plan=self.plan, charges=self.charges, lien=self.lien, on=self.on)


@dataclass(frozen=True, kw_only=True)
class Expected:
    """Means over what may come of an ask, to the cent. `price` is of a sale, None where none can be."""

    price: Decimal | None
    net: Decimal
    net_if_sold: Decimal | None
    unsold_net: Decimal
    gross: Decimal
    sold: Decimal


def expected(prices: Shares, *, unsold: Decimal, unsold_value: Decimal, days: Decimal, deal: Deal) -> Expected:
    """The money of an ask. `prices` are pairs of a price and its chance; with `unsold` they add up to 1."""
    sold = sum((share for _, share in prices), Decimal(0))
    kept = deal.unsold_net(unsold_value)
    statements = [(share, deal.statement(price)) for price, share in prices]
    nets = sum((share * statement.due for share, statement in statements), Decimal(0))
    grosses = sum((share * statement.lot_gross for share, statement in statements), Decimal(0))
    return Expected(
        price=mean_price(prices), net=round_money(nets + unsold * kept), unsold_net=round_money(kept), sold=sold,
        net_if_sold=round_money(nets / sold) if sold else None,
        gross=round_money(grosses + unsold * deal.unsold_gross() - deal.cost_per_day * days),
    )  # fmt: skip


def mean_price(prices: Shares) -> Decimal | None:
    sold = sum((share for _, share in prices), Decimal(0))
    return round_money(sum((price * share for price, share in prices), Decimal(0)) / sold) if sold else None


@dataclass(frozen=True, kw_only=True)
class Point:
    """One ask of the curve, as far as a choice between asks goes. Without terms there is no net and no gross."""

    ask: Decimal
    chance: float
    net: Decimal | None
    gross: Decimal | None


@dataclass(frozen=True, kw_only=True)
class Suggestion:
    ask: Decimal
    objective: Objective
    reason: str


def suggest(
    points: Iterable[Point],
    *,
    objective: Objective,
    floor: Decimal | None,
    target: float,
    asked: tuple[Decimal, Decimal],
) -> Suggestion | None:
    """The ask that serves the objective best, at or above the floor, and within what the lot has asked so far.

    None where the objective needs terms and there are none. Of equals the lower ask. `asked` are the ends of the range
    that the lot's own stays tell of; where the floor lies above it, the floor is the ask.
    """
    above = [point for point in sorted(points, key=lambda point: point.ask) if floor is None or point.ask >= floor]
    if not above:
        return None
    open_ = [point for point in above if asked[0] <= point.ask <= asked[1]] or [_nearest(above, asked=asked)]
    if objective == Objective.SELL_BY:
        return _sell_by(open_, floor=floor, target=target)
    figures = [(point, point.net if objective == Objective.CONSIGNOR_NET else point.gross) for point in open_]
    known = [(point, figure) for point, figure in figures if figure is not None]
    if len(known) < len(figures):
        return None
    best, figure = max(known, key=lambda pair: (pair[1], -pair[0].ask))
    return Suggestion(
        ask=best.ask, objective=objective, reason=_why(best, figure, objective=objective, points=open_, floor=floor)
    )


def _nearest(points: Sequence[Point], *, asked: tuple[Decimal, Decimal]) -> Point:
    """Where every ask lies outside of what the lot has asked: the one next to it."""
    return points[0] if points[0].ask > asked[1] else points[-1]


def _why(best: Point, figure: Decimal, *, objective: Objective, points: Sequence[Point], floor: Decimal | None) -> str:
    whose = "the consignor can expect" if objective == Objective.CONSIGNOR_NET else "the lot can expect"
    text = (
        f"Of all asks {whose} most here: {show_whole(figure)}, "
        f"with a chance of {chance_said(best.chance)} to sell before the agreement ends."
    )
    if floor is not None and best.ask == points[0].ask and best.ask <= floor:
        return text + " It is the floor: no lower ask was agreed to."
    if len(points) == 1:
        return text + " No other ask lies within what this lot has asked so far."
    if best.ask == points[-1].ask:
        return text + " It is as high as this lot has asked so far: what happens above it is not known."
    if best.ask == points[0].ask:
        return text + " It is as low as this lot has asked so far: what happens below it is not known."
    return text + " Lower, each sale brings too little; higher, too few come about."


def _sell_by(points: Sequence[Point], *, floor: Decimal | None, target: float) -> Suggestion:
    enough = [point for point in points if point.chance >= target]
    if enough:
        best = max(enough, key=lambda point: point.ask)
        reason = f"The highest ask with a chance of at least {chance_said(target)} to sell before the agreement ends."
        reason += f" Its chance is {chance_said(best.chance)}."
        return Suggestion(ask=best.ask, objective=Objective.SELL_BY, reason=reason)
    best = points[0]
    limit = "the floor" if floor is not None and best.ask <= floor else "the lowest that this lot has asked so far"
    reason = f"No ask has a chance of {chance_said(target)} to sell before the agreement ends; "
    reason += f"{limit} comes nearest, with {chance_said(best.chance)}."
    return Suggestion(ask=best.ask, objective=Objective.SELL_BY, reason=reason)


@dataclass(frozen=True, kw_only=True)
class Counter:
    """A counter offer: what it leaves if taken, and how likely that must be for it to beat taking the offer."""

    price: Decimal
    net: Decimal
    needed: float | None  # None: even taken for certain it leaves no more than the offer


@dataclass(frozen=True, kw_only=True)
class OfferWeighed:
    """An offer today against waiting at an ask. Nothing here decides."""

    amount: Decimal
    net_today: Decimal
    gross_today: Decimal
    net_waiting: Decimal
    gross_waiting: Decimal
    chance_waiting: float
    chance_needed: float | None  # of a later sale, for waiting to be worth as much to the consignor; None: never
    break_even: Decimal
    counters: tuple[Counter, ...]
    below_floor: bool


def weigh_offer(
    amount: Decimal, *, waiting: Expected, chance: float, deal: Deal, counters: Sequence[Decimal], floor: Decimal | None
) -> OfferWeighed:
    """An offer in hand in the same figures as the asks: the consignor's net today against the expected net of
    waiting."""
    net = deal.net(amount)
    return OfferWeighed(
        amount=amount, net_today=net, gross_today=deal.gross(amount), net_waiting=waiting.net,
        gross_waiting=waiting.gross, chance_waiting=chance, chance_needed=_needed(net, better=waiting.net_if_sold,
        worse=waiting.unsold_net), break_even=deal.price_for(waiting.net), below_floor=floor is not None and amount <
        floor, counters=tuple(_counter(price, net=net, waiting=waiting.net, deal=deal) for price in counters),
    )  # fmt: skip


def _counter(price: Decimal, *, net: Decimal, waiting: Decimal, deal: Deal) -> Counter:
    gain = deal.net(price)
    return Counter(price=price, net=gain, needed=_needed(net, better=gain, worse=waiting))


def _needed(net: Decimal, *, better: Decimal | None, worse: Decimal) -> float | None:
    """The chance p with p × better + (1 - p) × worse = net; 0 where even the worse is as much, None where the better
    is not."""
    if net <= worse:
        return 0.0
    if better is None or better < net:
        return None
    return float((net - worse) / (better - worse))
