"""What may come of an ask for one vehicle: the curve, the suggestion and its reason, and what was known for them."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Any

from django.utils import timezone

from inventory import bridge
from inventory.errors import Refused
from inventory.models import AskChange, Charge, Consignment, Lot, ModelFit, Offer, PriceOpinion, Terms
from inventory.queries import check_next, facts, prospects
from inventory.queries.history import subject
from inventory.queries.settlements import Floor, floor_on
from inventory.queries.stays import OpinionSeen, Told, followed_first, told_of
from inventory.rules import states
from inventory.rules.ask_curve import asks_to_show, lowered, why_moved
from inventory.rules.asking import Deal, Expected, Point, Suggestion, expected, mean_price, suggest
from inventory.rules.exposure import asks_by_day
from inventory.rules.money import ZERO
from inventory.rules.suggested import Suggested
from inventory.rules.words import Objective

DAYS = (30, 60, 90)  # by which a chance is told, before that by the end
DAYS_A_WEEK = 7


@dataclass(frozen=True, kw_only=True)
class Step:
    """A planned lowering of the ask: to so many percent of it, after so many days."""

    percent: int
    after_days: int


@dataclass(frozen=True, kw_only=True)
class View:
    """What the curve is looked at for. Nothing of it is stored."""

    objective: Objective
    cost_per_day: Decimal
    target_percent: int
    step: Step | None = None
    offer: Decimal | None = None


@dataclass(frozen=True, kw_only=True)
class Known:
    """What must be known before anything can be reckoned: the band without what the vehicle has shown, and the fit."""

    band: OpinionSeen
    at_listing: OpinionSeen | None
    standing: bridge.Standing
    selling: bridge.Selling


@dataclass(frozen=True, kw_only=True)
class Situation:
    """One vehicle as it stands, before anything is reckoned; in place of what is known there may be why it is not."""

    stay: Consignment
    today: date
    lot: Lot
    terms: Terms | None
    charges: list[Charge]
    floor: Floor
    asks: tuple[AskChange, ...]
    open_offers: tuple[Offer, ...]
    state: dict[str, Any]
    known: Known | Refused

    @property
    def refused(self) -> Refused | None:
        return self.known if isinstance(self.known, Refused) else None

    @property
    def needed(self) -> Known:
        if isinstance(self.known, Refused):
            raise self.known
        return self.known

    @property
    def ask(self) -> Decimal | None:
        return self.asks[-1].amount if self.asks else None

    @property
    def ends_on(self) -> date | None:
        return None if self.terms is None else self.terms.ends_on

    @property
    def days_left(self) -> int:
        return prospects.days_left(self.ends_on, on=self.today)

    @property
    def no_end(self) -> str:
        return prospects.no_end_said(self.ends_on, on=self.today)

    @property
    def usual(self) -> View:
        """The view of the lot's own settings."""
        return View(
            objective=Objective(self.lot.ask_objective), cost_per_day=self.lot.carrying_cost_per_day,
            target_percent=self.lot.sell_by_percent,
        )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Row:
    """One ask and what may come of it. Without terms there is no net and no gross."""

    ask: Decimal
    ratio: Decimal
    chances: tuple[bridge.Chance, ...]  # by each of DAYS, then by the end
    price: Decimal | None
    money: Expected | None
    days: Decimal
    step_to: Decimal | None
    marks: tuple[str, ...] = ()

    @property
    def end(self) -> bridge.Chance:
        return self.chances[-1]

    @property
    def net(self) -> Decimal | None:
        return None if self.money is None else self.money.net

    @property
    def gross(self) -> Decimal | None:
        return None if self.money is None else self.money.gross

    @property
    def point(self) -> Point:
        return Point(ask=self.ask, chance=self.end.likely, net=self.net, gross=self.gross)


@dataclass(frozen=True, kw_only=True)
class Curve:
    """All asks that are shown, the suggestion among them, and what the vehicle has shown so far."""

    here: Situation
    view: View
    moved: bridge.Moved
    why_moved: tuple[str, ...]
    rows: tuple[Row, ...]
    deal: Deal | None
    deal_question: str  # why there is no net and no gross; empty where there are
    suggestion: Suggestion | None
    no_suggestion: str
    without_step: Row | None = None  # the suggested ask, were it never lowered

    def at(self, ask: Decimal | None) -> Row | None:
        return next((row for row in self.rows if row.ask == ask), None)

    @property
    def suggested(self) -> Row | None:
        return None if self.suggestion is None else self.at(self.suggestion.ask)

    @property
    def waiting(self) -> Row | None:
        """The ask that waiting is reckoned at: the one that stands, or the suggested one before there is one."""
        return self.at(self.here.ask) or self.suggested


# What is known.


def situation_of(stay: Consignment, *, fit: ModelFit | None, today: date, live: bool = False) -> Situation:
    """In a constant number of queries. `live`: where no opinion was given yet, the band of today, which is not kept."""
    told = told_of(Consignment.objects.filter(pk=stay.pk))
    terms, charges = facts.terms_of(stay), facts.live_charges(stay)
    here = Situation(
        stay=stay, today=today, lot=facts.the_lot(), terms=terms, charges=charges,
        floor=floor_on(today, terms=terms, charges=charges), asks=tuple(told.asks.get(stay.pk, ())),
        open_offers=tuple(Offer.objects.filter(consignment=stay, answers__isnull=True).order_by("-pk")),
        state=fit.selling if fit else {}, known=Refused("not_looked_at", "Nothing was looked at yet."),
    )  # fmt: skip
    opinions = list(PriceOpinion.objects.filter(consignment=stay).defer("parts", "evidence", "notes").order_by("pk"))
    try:
        return replace(here, known=_known(here, fit=fit, told=told, opinions=opinions, live=live))
    except Refused as problem:
        return replace(here, known=problem)


def _known(here: Situation, *, fit: ModelFit | None, told: Told, opinions: list[PriceOpinion], live: bool) -> Known:
    _refuse_unknown(here, fit=fit)
    if opinions:
        band, row = _seen(opinions[-1]), opinions[-1].inputs
    else:
        band, row = _band_today(here, fit=fit, live=live)
    return Known(
        band=band, at_listing=_at_listing(here, opinions=opinions),
        standing=_standing(here, told=told, band=band, row=row), selling=_selling(here),
    )  # fmt: skip


def _refuse_unknown(here: Situation, *, fit: ModelFit | None) -> None:
    if here.stay.state not in states.BEFORE_SOLD:
        raise Refused(
            "not_for_sale", f"{here.stay.stock_number} is {here.stay.get_state_display()}: no ask is looked at now.",
            field="state", got=here.stay.state, mend="Asks are looked at before a vehicle is sold.",
        )  # fmt: skip
    if fit is None:
        raise Refused(
            "no_fit", "Nothing has been fitted to past sales yet.", field="fit",
            mend="Fit it: the button on the page of past sales, or manage.py fit.",
        )  # fmt: skip


def _seen(opinion: PriceOpinion) -> OpinionSeen:
    return OpinionSeen(opinion.low, opinion.likely, opinion.high, opinion.coverage_percent, opinion.at)


def _band_today(here: Situation, *, fit: ModelFit | None, live: bool) -> tuple[OpinionSeen, dict[str, Any]]:
    if fit is None or not live:
        raise Refused(
            "no_opinion", f"No band has been given for {here.stay.stock_number} yet.", field="opinion",
            mend="Price it first.",
        )  # fmt: skip
    row = subject(here.stay, on=here.today)
    band = bridge.band_of(row, state=fit.learned)
    if isinstance(band, bridge.Thin):
        raise Refused(
            "too_little_evidence", band.reason, field="sales", got=fit.sales_used,
            mend="More past sales of the same kind would help: import them or wait for the next sale.",
        )  # fmt: skip
    return OpinionSeen(band.low, band.likely, band.high, fit.summary["coverage_percent"], fit.at), row


def _selling(here: Situation) -> bridge.Selling:
    selling = bridge.selling_of(here.state)
    if not selling.enough:
        raise Refused(
            "too_little_evidence", f"Too little is known of time to sale: {'; '.join(selling.notes)}.", field="stays",
            got=selling.stays,
            mend="Stays that ended help most: import past sales with the day they were listed and their first ask, "
            "then fit again.",
        )  # fmt: skip
    return selling


def _at_listing(here: Situation, *, opinions: list[PriceOpinion]) -> OpinionSeen | None:
    listed_on = here.stay.listed_on
    if listed_on is None:
        return None
    given = [opinion for opinion in opinions if timezone.localdate(opinion.at) <= listed_on]
    return _seen(given[-1]) if given else None


def _standing(here: Situation, *, told: Told, band: OpinionSeen, row: dict[str, Any]) -> bridge.Standing:
    """Offers in hand are not refused yet: they are weighed, and are no evidence against themselves."""
    stay, days, asks, interest = here.stay, 0, list[tuple[int, Decimal]](), None
    if stay.listed_on is not None:
        exposure = told.exposure(stay.pk, listed_on=stay.listed_on)
        days = exposure.days_before(here.today)
        asks = asks_by_day(told.asks_of(stay.pk), exposure=exposure, days=days)
        interest = told.interest_of(stay.pk, exposure=exposure, days=days)
    in_hand = {offer.pk for offer in here.open_offers}
    refused = [amount for pk, amount in told.offers.get(stay.pk, ()) if pk not in in_hand]
    return prospects.standing_of(
        stay, row=row, opinion=band, exposed_days=days, asks=asks, best_offer=max(refused, default=None),
        followed=followed_first(here.asks), interest=interest, on=here.today,
    )  # fmt: skip


# What may come of it.


def curve_of(here: Situation, *, view: View) -> Curve:
    """The curve of one vehicle. Refused where too little is known."""
    known = here.needed
    (moved,) = bridge.moved_of([known.standing], state=here.state)
    deal, question = _deal(here, view=view)
    low, high = (moved.likely * Decimal(str(end)) for end in (known.selling.asked_low, known.selling.asked_high))
    asks = asks_to_show(low=moved.low, high=moved.high, asked=(low, high), floor=here.floor.price, ask=here.ask)
    curve = Curve(
        here=here, view=view, moved=moved, why_moved=_why_moved(known.standing, moved=moved),
        rows=rows_of(here, asks=asks, view=view, deal=deal, likely=moved.likely), deal=deal, deal_question=question,
        suggestion=None, no_suggestion="",
    )  # fmt: skip
    return _marked(_with_suggestion(curve, asked=(low, high)))


def _why_moved(standing: bridge.Standing, *, moved: bridge.Moved) -> tuple[str, ...]:
    return why_moved(
        moved.by, weeks=standing.exposed_days // DAYS_A_WEEK if standing.asks else 0, best_offer=standing.best_offer,
        asked=bool(standing.asks) and not standing.followed, interest=standing.interest,
    )  # fmt: skip


def _deal(here: Situation, *, view: View) -> tuple[Deal | None, str]:
    """What turns a price into money, or why nothing does: no terms, or a lien quote that has run out."""
    if here.terms is None:
        return None, "No terms are agreed, so nobody can say what a sale would leave to whom."
    try:
        deal = prospects.deal_of(
            here.terms, charges=here.charges, lot=here.lot, on=here.today, cost_per_day=view.cost_per_day
        )
        deal.statement(ZERO)
    except Refused as problem:
        return None, str(problem)
    return deal, ""


def rows_of(
    here: Situation, *, asks: Sequence[Decimal], view: View, deal: Deal | None, likely: Decimal
) -> tuple[Row, ...]:
    """What may come of each ask, lowered later where the view plans it."""
    days, ways = here.days_left, [_way(ask, here=here, step=view.step) for ask in asks]
    found = bridge.prospects_of(
        here.needed.standing, ways=ways, days=(*DAYS, days), last_day=days, floor=here.floor.price, state=here.state
    )
    return tuple(_row(prospect, deal=deal, likely=likely) for prospect in found)


def _way(ask: Decimal, *, here: Situation, step: Step | None) -> bridge.Asking:
    to = lowered(ask, percent=step.percent, floor=here.floor.price) if step else None
    if step is None or to is None:
        return bridge.Asking(ask=ask)
    return bridge.Asking(ask=ask, step_to=to, step_after_days=step.after_days)


def _row(prospect: bridge.Prospect, *, deal: Deal | None, likely: Decimal) -> Row:
    money = None
    if deal is not None:
        money = expected(
            prospect.prices, unsold=prospect.unsold, unsold_value=prospect.unsold_value, days=prospect.days, deal=deal
        )
    way = prospect.asking
    return Row(
        ask=way.ask, ratio=Decimal(f"{way.ask / likely:.4f}"), chances=prospect.chances,
        price=mean_price(prospect.prices), money=money, days=prospect.days, step_to=way.step_to,
    )  # fmt: skip


def _with_suggestion(curve: Curve, *, asked: tuple[Decimal, Decimal]) -> Curve:
    here, view = curve.here, curve.view
    if here.floor.question:
        return replace(curve, no_suggestion=f"No ask is suggested, since the floor is not known. {here.floor.question}")
    found = suggest(
        (row.point for row in curve.rows), objective=view.objective, floor=here.floor.price,
        target=view.target_percent / 100, asked=asked,
    )  # fmt: skip
    if found is None:
        return replace(curve, no_suggestion=f"No ask is suggested. {curve.deal_question}".strip())
    without = None
    if view.step is not None:
        plain = replace(view, step=None)
        (without,) = rows_of(here, asks=[found.ask], view=plain, deal=curve.deal, likely=curve.moved.likely)
    return replace(curve, suggestion=found, without_step=without)


def _marked(curve: Curve) -> Curve:
    """Each row with what it is, in words."""
    named = {
        "floor": curve.here.floor.price, "ask now": curve.here.ask,
        "suggested": curve.suggestion.ask if curve.suggestion else None,
    }  # fmt: skip
    rows = (
        replace(row, marks=tuple(name for name, amount in named.items() if amount == row.ask)) for row in curve.rows
    )
    return replace(curve, rows=tuple(rows))


def suggested_for(here: Situation, *, view: View, amount: Decimal | None) -> Suggested | None:
    """The suggestion to keep beside an ask, with what is expected of the ask that is set; None where there is none."""
    if here.refused is not None or amount is None or amount <= 0:
        return None
    curve = curve_of(here, view=view)
    if curve.suggestion is None:
        return None
    (row,) = rows_of(here, asks=[amount], view=view, deal=curve.deal, likely=curve.moved.likely)
    return Suggested(
        amount=curve.suggestion.ask, objective=curve.suggestion.objective, because=curve.suggestion.reason,
        expected=_kept(row, curve=curve),
    )  # fmt: skip


def _kept(row: Row, *, curve: Curve) -> dict[str, Any]:
    step = curve.view.step
    return {
        "chance": chances_by_day(row),
        "chance_end_low": round(row.end.low, 4), "chance_end_high": round(row.end.high, 4),
        "price": row.price, "net": row.net, "gross": row.gross, "days": row.days, "likely": curve.moved.likely,
        "days_to_end": curve.here.days_left, "cost_per_day": curve.view.cost_per_day,
        "lowered_to": row.step_to, "lowered_after_days": step.after_days if step and row.step_to is not None else None,
    }  # fmt: skip


def chances_by_day(row: Row) -> dict[str, float]:
    names = (*(str(day) for day in DAYS), "end")
    return {name: round(chance.likely, 4) for name, chance in zip(names, row.chances, strict=True)}


# The same for programs.


def body_of(stay: Consignment, *, fit: ModelFit, today: date, objective: Objective | None = None) -> dict[str, Any]:
    """The curve as a program reads it. Refused where too little is known."""
    here = situation_of(stay, fit=fit, today=today, live=True)
    view = here.usual if objective is None else replace(here.usual, objective=objective)
    curve = curve_of(here, view=view)
    found = curve.suggestion
    return {
        "asks": [_told(row) for row in curve.rows],
        "suggested": {
            "ask": found.ask if found else None, "objective": view.objective.value,
            "reason": found.reason if found else curve.no_suggestion,
        },
        "check_next": [
            {"question": row.question.title, "worth": row.worth}
            for row in check_next.of(stay, fit_state=fit.learned, today=today).rows
        ],
        "band": {"low": curve.moved.low, "likely": curve.moved.likely, "high": curve.moved.high},
        "ask": here.ask, "floor": here.floor.price, "days_to_end": here.days_left,
        "notes": [*_notes(curve), *curve.why_moved],
    }  # fmt: skip


def _told(row: Row) -> dict[str, Any]:
    return {
        "ask": row.ask, "ask_ratio": row.ratio, "chance": chances_by_day(row), "expected_price": row.price,
        "consignor_net": row.net, "lot_gross": row.gross,
    }  # fmt: skip


def _notes(curve: Curve) -> Iterable[str]:
    here = curve.here
    told = [here.no_end, curve.deal_question, here.floor.question, *here.needed.selling.notes]
    return [said for said in dict.fromkeys(told) if said]
