"""What the pricing desk shows: the band, its parts, the ask beside it, and what still blocks a listing."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.db.models import QuerySet

from inventory.errors import NotFound, Refused
from inventory.models import AskChange, Consignment, ModelFit, PriceOpinion, SaleOutcome
from inventory.queries import check_next, facts
from inventory.queries.comparison import Grid, grid_of
from inventory.queries.history import newest_outcome_id
from inventory.queries.settlements import floor_on
from inventory.rules import money, states, track_record
from inventory.rules.roles import Actor
from inventory.rules.states import State
from inventory.rules.wording import part_name

WIDTH = Decimal(1000)  # of the drawing, in its own units
MARGIN = Decimal(80)


@dataclass(frozen=True)
class Mark:
    """One labelled place on the drawing."""

    x: int
    label: str
    amount: str
    kind: str
    anchor: str  # which end of the label stands at x, so that none is cut off at an edge


@dataclass(frozen=True)
class Drawing:
    """The band as a picture: where it begins and ends, and the marks on it."""

    band_x: int
    band_width: int
    above: tuple[Mark, ...]
    below: tuple[Mark, ...]
    spoken: str


@dataclass(frozen=True)
class PartRow:
    name: str
    amount: str
    share: int  # of the largest part, percent, for its bar
    lowers: bool


@dataclass(frozen=True)
class Desk:
    stay: Consignment
    opinion: PriceOpinion | None
    drawing: Drawing | None
    parts: tuple[PartRow, ...]
    unknown: tuple[str, ...]
    weak: str
    fit: ModelFit | None
    standing: "Standing | None"
    asks: tuple[AskChange, ...]
    floor: Decimal | None
    floor_question: str
    opinions: tuple[PriceOpinion, ...]
    can_ask: bool
    can_list: bool
    blockers: tuple[str, ...]
    comparison: Grid | None
    in_stock: bool
    check_next: check_next.CheckNext | None  # None: no fit, or no longer for sale


@dataclass(frozen=True)
class Standing:
    """How old the fit behind a band is, and what is wrong with it by its own checks."""

    sales_since: int
    stale: bool
    flags: tuple[str, ...]
    superseded: bool  # a newer fit is there: the band could be given again
    record: str  # how it did on the last sales, as a sentence; empty where it was not held against any

    @property
    def since(self) -> str:
        if self.sales_since:
            return f"{self.sales_since} sale{'' if self.sales_since == 1 else 's'} since"
        return "outcomes changed since" if self.stale else "no sale since"


def latest_fit() -> ModelFit | None:
    """The last fit; what it learned of prices and its record, which are large, are read once they are asked for."""
    return ModelFit.objects.defer("learned", "record").order_by("-pk").first()


def fit_of_the_desk() -> ModelFit | None:
    """The last fit with all that it learned, read once; its record is large and shown elsewhere."""
    return ModelFit.objects.defer("record").order_by("-pk").first()


def fits_in_short() -> QuerySet[ModelFit]:
    """Fits, newest first, without what they learned and without their records, which are large."""
    return ModelFit.objects.defer("learned", "record", "selling").order_by("-pk")


def standing_of(fit: ModelFit, *, newest: ModelFit | None = None) -> Standing:
    since = SaleOutcome.objects.for_fit().filter(pk__gt=fit.newest_outcome_id).count()
    superseded = newest is not None and newest.pk != fit.pk
    held = fit.summary if "banded" in fit.summary else {}
    record = track_record.in_plain_words({"count": held["banded"], **held}) if held.get("banded") else ""
    return Standing(since, is_stale(fit), tuple(fit.flags), superseded, record)


def is_stale(fit: ModelFit) -> bool:
    """Whether outcomes came in since the fit was made."""
    return newest_outcome_id() > fit.newest_outcome_id


def stay_by_number(stock_number: str) -> Consignment:
    stay = Consignment.objects.select_related("vehicle", "consignor").filter(stock_number=stock_number).first()
    if stay is None:
        raise NotFound("not_found", f"There is no stock number {stock_number}.", field="stock_number")
    return stay


def desk(stay: Consignment, *, by: Actor, today: date) -> Desk:
    opinions = PriceOpinion.objects.select_related("fit").defer("fit__learned", "fit__record", "fit__selling")
    opinion = opinions.filter(consignment=stay).order_by("-pk").first()
    given = PriceOpinion.objects.filter(consignment=stay).only("at", "low", "likely", "high", "by").order_by("-pk")
    asks = tuple(AskChange.objects.filter(consignment=stay).order_by("-pk"))
    terms, charges = facts.terms_of(stay), facts.live_charges(stay)
    floor = floor_on(today, terms=terms, charges=charges)
    ask = asks[0].amount if asks else None
    fit, in_stock = fit_of_the_desk(), stay.state in states.BEFORE_SOLD
    return Desk(
        stay=stay,
        opinion=opinion,
        drawing=draw(opinion, ask=ask, floor=floor.price) if opinion else None,
        parts=part_rows(opinion.parts) if opinion else (),
        unknown=unknown_inputs(opinion.inputs) if opinion else (),
        weak=weakness(opinion.evidence) if opinion else "",
        fit=fit,
        standing=standing_of(opinion.fit, newest=fit) if opinion else None,
        asks=asks,
        floor=floor.price,
        floor_question=floor.question,
        opinions=tuple(given),
        can_ask=in_stock and stay.state != State.DEPOSIT,
        can_list=stay.state == State.INSPECTED,
        blockers=blockers(stay, by=by, today=today),
        comparison=grid_of(opinion, state=fit.learned if fit and fit.pk == opinion.fit_id else None)
        if opinion
        else None,
        in_stock=in_stock,
        check_next=check_next.of(stay, fit_state=fit.learned, today=today) if fit and in_stock else None,
    )


def blockers(stay: Consignment, *, by: Actor, today: date) -> tuple[str, ...]:
    """All that still keeps an inspected vehicle from being listed."""
    move = states.move_of(State(stay.state), State.LISTED)
    if move is None or stay.state != State.INSPECTED:
        return ()
    try:
        known = facts.facts_of(stay, today=today, by=by, to=State.LISTED)
    except Refused as problem:  # a floor that cannot be worked out is itself what blocks
        return (str(problem),)
    return tuple(str(refusal) for need in move.needs if isinstance(refusal := need(known), Refused))


def part_rows(parts: list[dict[str, str]]) -> tuple[PartRow, ...]:
    """The parts of a band in the order of the model; those of nothing at all are left out of the table."""
    amounts = [(part["name"], Decimal(part["amount"])) for part in parts]
    largest = max((abs(amount) for name, amount in amounts if name != "base"), default=Decimal(0)) or Decimal(1)
    return tuple(
        PartRow(
            part_name(name), money.show(amount), 0 if name == "base" else int(abs(amount) / largest * 100), amount < 0
        )
        for name, amount in amounts
        if amount != 0
    )


ASKED_FOR = {
    "mileage": "mileage", "condition_low": "condition", "originality_low": "originality", "build_class": "build class",
    "body": "body", "transmission": "transmission", "title_brand": "title brand",
}  # fmt: skip


def unknown_inputs(inputs: dict[str, Any]) -> tuple[str, ...]:
    """What the band had to do without; each costs it width."""
    return tuple(label for name, label in ASKED_FOR.items() if inputs.get(name) in (None, ""))


def weakness(evidence: dict[str, Any]) -> str:
    """Why a band is to be taken with more care than its stated share says; empty where it is not."""
    if not evidence.get("sales_of_make"):
        if count := evidence.get("elsewhere_of_make"):
            return f"No past sale of this make here: the band leans on {count} elsewhere."
        return "No past sale of this make: the band leans on other makes and may well miss."
    if not evidence.get("sales_of_model"):
        if count := evidence.get("elsewhere_of_model"):
            return f"No past sale of this model here: the band leans on {count} elsewhere."
        return "No past sale of this model: the band leans on its make."
    return ""


def draw(
    opinion: PriceOpinion, *, ask: Decimal | None = None, floor: Decimal | None = None, hoped_for: Decimal | None = None
) -> Drawing:
    marks = (("floor", floor), ("ask", ask), ("hoped for", hoped_for))
    places = [amount for amount in (opinion.low, opinion.high, ask, floor, hoped_for) if amount is not None]
    least, most = min(places), max(places)
    span = (most - least) or Decimal(1)

    def x(amount: Decimal) -> int:
        return int(MARGIN + (amount - least) / span * (WIDTH - 2 * MARGIN))

    above = [("low", opinion.low), ("likely", opinion.likely), ("high", opinion.high)]
    below = [(label, amount) for label, amount in marks if amount is not None]
    return Drawing(
        band_x=x(opinion.low),
        band_width=max(x(opinion.high) - x(opinion.low), 2),
        above=tuple(_mark(label, amount, x=x(amount)) for label, amount in above),
        below=tuple(_mark(label, amount, x=x(amount)) for label, amount in below),
        spoken="; ".join(f"{label} {money.show_whole(amount)}" for label, amount in [*above, *below]),
    )


def _mark(label: str, amount: Decimal, *, x: int) -> Mark:
    anchor = "start" if x < 250 else "end" if x > 750 else "middle"
    return Mark(x, label, money.show_whole(amount), label, anchor)
