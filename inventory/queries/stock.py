"""The stock screen: everything for sale on one page, with what may come of its ask and what waiting loses.

A fixed number of queries and two calls of the bridge, however many vehicles there are.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Any

from inventory import bridge
from inventory.errors import Refused
from inventory.models import Consignment, ModelFit
from inventory.queries.facts import the_lot
from inventory.queries.prospects import days_left, standing_of
from inventory.queries.stays import Listed, OpinionSeen, listed_stock
from inventory.rules import money, waiting
from inventory.rules.chances import chance_said
from inventory.rules.states import State
from inventory.rules.track_record import signed
from inventory.rules.waiting import Keeping, StockOrder

NO_FIT = "The price band has not been fitted to past sales yet."
FROM, UNTIL = Decimal("0.5"), Decimal("1.5")  # of the likely price now: the ends of every drawn bar
DAYS_A_WEEK = 7


@dataclass(frozen=True)
class Wanted:
    text: str = ""
    order: StockOrder = StockOrder.LOST


@dataclass(frozen=True)
class Bar:
    """The band and the ask in percent of the bar's length, as text. What lies beyond is drawn at its edge; the figures
    stand beside it."""

    x: str
    width: str
    likely: str
    ask: str
    spoken: str


@dataclass(frozen=True, kw_only=True)
class Plain:
    """What is known of any vehicle for sale. `ratio` is the ask over the likely price shown, None without a band.

    What is said is text already: a template that writes a thousand lines formats nothing.
    """

    stock_number: str
    vehicle: str
    consignor: str
    ask: Decimal
    exposed_days: int
    lot_days: int | None
    ends_on: date | None
    low: Decimal | None
    likely: Decimal | None
    high: Decimal | None
    reason: str = ""

    @property
    def ratio(self) -> Decimal | None:
        return None if not self.likely else self.ask / self.likely

    @property
    def ask_said(self) -> str:
        return money.show_whole(self.ask)

    @property
    def ratio_said(self) -> str:
        return "" if self.ratio is None else f"{self.ratio:.2f} of likely"

    @property
    def band_said(self) -> str:
        ends = (self.low, self.likely, self.high)
        return " – ".join(money.show_whole(end) for end in ends if end is not None) or "–"

    @property
    def exposed_said(self) -> str:
        return str(self.exposed_days)

    @property
    def lot_said(self) -> str:
        return "" if self.lot_days is None else f"{self.lot_days} on the lot"

    @property
    def ends_said(self) -> str:
        return "–" if self.ends_on is None else f"{self.ends_on:%Y-%m-%d}"


@dataclass(frozen=True, kw_only=True)
class Seen:
    """One listed vehicle with what may come of its ask. `low`, `likely` and `high` are those of now."""

    plain: Plain
    ratio: Decimal
    bar: Bar
    chance: float
    days: Decimal
    moved: str
    why: tuple[str, ...]
    lost: Decimal
    best_said: str

    @property
    def chance_said(self) -> str:
        return chance_said(self.chance)

    @property
    def days_said(self) -> str:
        return f"{self.days:.0f}"

    @property
    def lost_said(self) -> str:
        return money.show_whole(self.lost)


@dataclass(frozen=True, kw_only=True)
class StockPage:
    """`listed` and `held` count all there are, the others what fits the search."""

    listed: int
    held_count: int
    rows: tuple[Seen, ...]
    others: tuple[Plain, ...]
    held: tuple[Plain, ...]
    thin: tuple[str, ...]
    unsold: Decimal
    lost: Decimal

    @property
    def is_empty(self) -> bool:
        return not self.listed and not self.held_count


@dataclass(frozen=True)
class Learned:
    """What the last fit knows of selling, or the sentences that say why it knows nothing."""

    state: Mapping[str, Any]
    asked: tuple[float, float] = (1.0, 1.0)
    thin: tuple[str, ...] = ()


def stock_page(wanted: Wanted, *, on: date) -> StockPage:
    everything, learned = listed_stock(on=on), _learned()
    listed, held = _by_state([one for one in everything if _fits(one.stay, text=wanted.text)])
    reasons = {one.stay.pk: _why_not(one, on=on) for one in listed}
    known = [one for one in listed if not learned.thin and not reasons[one.stay.pk]]
    seen = _outlooks(known, learned=learned, on=on).rows() if known else []
    told = {one.stay.pk for one in known}
    return StockPage(
        listed=len(_by_state(everything)[0]), held_count=len(_by_state(everything)[1]), thin=learned.thin,
        rows=tuple(sorted(seen, key=ORDERS[wanted.order])),
        others=tuple(_plain(one, on=on, reason=reasons[one.stay.pk]) for one in listed if one.stay.pk not in told),
        held=tuple(_plain(one, on=on) for one in held),
        unsold=sum((1 - Decimal(f"{row.chance:.6f}") for row in seen), Decimal(0)),
        lost=money.total(row.lost for row in seen),
    )  # fmt: skip


ORDERS: dict[StockOrder, Callable[[Seen], tuple[Any, ...]]] = {
    StockOrder.LOST: lambda row: (-row.lost, row.plain.stock_number),
    StockOrder.CHANCE: lambda row: (row.chance, row.plain.stock_number),
    StockOrder.EXPOSED: lambda row: (-row.plain.exposed_days, row.plain.stock_number),
    StockOrder.RATIO: lambda row: (-row.ratio, row.plain.stock_number),
}


def _fits(stay: Consignment, *, text: str) -> bool:
    said = f"{stay.stock_number} {stay.vehicle} {stay.consignor.name}".casefold()
    return all(word in said for word in text.casefold().split())


def _by_state(stock: Sequence[Listed]) -> tuple[list[Listed], list[Listed]]:
    """Those that are listed, and those that a deposit holds."""
    listed = [one for one in stock if one.stay.state == State.LISTED]
    return listed, [one for one in stock if one.stay.state != State.LISTED]


def _learned() -> Learned:
    fit = ModelFit.objects.defer("learned", "record").order_by("-pk").first()
    if fit is None:
        return Learned({}, thin=(NO_FIT,))
    try:
        selling = bridge.selling_of(fit.selling)
    except Refused as problem:  # another version wrote it
        return Learned({}, thin=(str(problem),))
    asked = selling.asked_low, selling.asked_high
    return Learned(fit.selling, asked, () if selling.enough else selling.notes)


def _why_not(one: Listed, *, on: date) -> str:
    """Why nothing can be said of its chances; empty where it can."""
    ends_on = one.agreement_ends_on
    if one.opinion is None:
        return "It has no price opinion yet: price it on its pricing desk."
    if one.opinion.low <= 0:
        return "Its band reaches down to nothing: it tells too little of the price."
    if ends_on is None:
        return "No terms are recorded: nobody can say when its time ends."
    if ends_on < on:
        return f"Its agreement ended on {ends_on:%Y-%m-%d}: record new terms, or withdraw it."
    if one.floor.price is None and one.floor.question:
        return f"Its floor cannot be worked out. {one.floor.question}"
    return ""


@dataclass(frozen=True, kw_only=True)
class Outlooks:
    """The vehicles that something can be said of, each with how it stands, under what the last fit learned."""

    stock: Sequence[Listed]
    standings: Sequence[bridge.Standing]
    learned: Learned
    keeping: Keeping
    on: date

    def glances(self, ways: Sequence[Sequence[bridge.Asking]]) -> list[list[bridge.Glance]]:
        """As many ways of asking for each vehicle, in one call."""
        return bridge.glances_of(
            self.standings, ways=ways, last_days=[days_left(one.agreement_ends_on, on=self.on) for one in self.stock],
            floors=[one.floor.price for one in self.stock], state=self.learned.state,
        )  # fmt: skip

    def rows(self) -> list[Seen]:
        """First the best ask of those tried, then what comes of setting it only later."""
        moved = bridge.moved_of(self.standings, state=self.learned.state)
        tried = [self._asks(one, now=now) for one, now in zip(self.stock, moved, strict=True)]
        today = self.glances([[bridge.Asking(ask=ask) for ask in asks] for asks in tried])
        best = [
            waiting.best_of(asks, seen=seen, floor=one.floor.price, keeping=self.keeping)
            for one, asks, seen in zip(self.stock, tried, today, strict=True)
        ]
        later = self.glances([[_later(one, ask=ask)] for one, (ask, _) in zip(self.stock, best, strict=True)])
        return [
            _row(
                one,
                now=now,
                glance=seen[0],
                lost=figure - self.keeping.together(then[0]),
                on=self.on,
                best_said=waiting.best_said(ask, asks=asks, floor=one.floor.price),
            )
            for one, now, asks, seen, (ask, figure), then in zip(
                self.stock, moved, tried, today, best, later, strict=True
            )
        ]

    def _asks(self, one: Listed, *, now: bridge.Moved) -> tuple[Decimal, ...]:
        return waiting.asks_to_try(
            now.likely, present=one.ask.amount, floor=one.floor.price, asked=self.learned.asked
        )  # fmt: skip


def _outlooks(known: Sequence[Listed], *, learned: Learned, on: date) -> Outlooks:
    """Those whose agreements end together stand together: a batch of the bridge runs to its longest agreement."""
    lot = the_lot()
    keeping = Keeping(
        cost_per_day=lot.carrying_cost_per_day, unsold_worth_percent=Decimal(lot.unsold_worth_percent)
    )  # fmt: skip
    stock = sorted(known, key=lambda one: (one.agreement_ends_on or on, one.stay.pk))
    standings = [_standing(one, opinion=one.opinion, on=on) for one in stock if one.opinion is not None]
    return Outlooks(stock=stock, standings=standings, learned=learned, keeping=keeping, on=on)


def _standing(one: Listed, *, opinion: OpinionSeen, on: date) -> bridge.Standing:
    return standing_of(
        one.stay, row=one.row, opinion=opinion, exposed_days=one.exposed_days, asks=one.row["asks"],
        best_offer=one.row["best_offer"], followed=one.row["followed"], on=on,
        interest=one.row.get("interest"),
    )  # fmt: skip


def _later(one: Listed, *, ask: Decimal) -> bridge.Asking:
    return bridge.Asking(ask=one.ask.amount, step_to=ask, step_after_days=waiting.MORE_DAYS)


def _row(
    one: Listed, *, now: bridge.Moved, glance: bridge.Glance, best_said: str, lost: Decimal, on: date
) -> Seen:  # fmt: skip
    plain = replace(_plain(one, on=on), low=now.low, likely=now.likely, high=now.high)
    before = plain.likely if one.opinion is None else one.opinion.likely
    return Seen(
        plain=plain, ratio=one.ask.amount / now.likely, bar=_bar(now, ask=one.ask.amount), chance=glance.chance,
        days=glance.days, lost=lost, best_said=best_said,
        moved=signed(waiting.moved_percent(now.likely, before=before or now.likely)),
        why=waiting.evidence_said(
            now.by, weeks=one.exposed_days // DAYS_A_WEEK, best_offer=one.row["best_offer"],
            interest=one.row.get("interest"),
        ),
    )  # fmt: skip


def _plain(one: Listed, *, on: date, reason: str = "") -> Plain:
    band, arrived_on = one.opinion, one.stay.arrived_on
    return Plain(
        stock_number=one.stay.stock_number, vehicle=str(one.stay.vehicle), consignor=one.stay.consignor.name,
        ask=one.ask.amount, exposed_days=one.exposed_days, lot_days=(on - arrived_on).days if arrived_on else None,
        ends_on=one.agreement_ends_on, reason=reason,
        low=None if band is None else band.low, likely=None if band is None else band.likely,
        high=None if band is None else band.high,
    )  # fmt: skip


def _bar(now: bridge.Moved, *, ask: Decimal) -> Bar:
    low, high = _place(now.low / now.likely), _place(now.high / now.likely)
    where = "above" if ask > now.high else "below" if ask < now.low else "inside"
    return Bar(
        x=str(low), width=str(high - low), likely=str(_place(Decimal(1))), ask=str(_place(ask / now.likely)),
        spoken=f"The ask lies {where} the band.",
    )  # fmt: skip


def _place(share: Decimal) -> int:
    return int(100 * (min(max(share, FROM), UNTIL) - FROM) / (UNTIL - FROM))
